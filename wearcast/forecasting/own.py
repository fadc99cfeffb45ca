"""The own line of every series of a history: which readings are in it, and what it says at as-of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearcast.lives.history import History
from wearcast.quantities import QUANTITIES
from wearcast.units import H_PER_KH
from wearcast.wear.crossing import LONGEST_KH
from wearcast.wear.inverse import REASONS, InverseSet, Reach, hours_at_limit
from wearcast.wear.own_line import OwnLines, fit_lines
from wearcast.wear.robust import huber_rates, theil_sen_rates
from wearcast.words import Reason

Floats = NDArray[np.float64]

PARTLY_STATED = "some readings state no uncertainty, so the own line weighs all alike"


@dataclass(frozen=True, eq=False)
class OwnForecasts:
    """Own lines of all series, arrays in the order of `History.series`.

    Attributes
    ----------
    in_line : ndarray of bool, shape (n readings,)
        Readings the lines go through.
    hours_p05, hours_p50, hours_p95 : ndarray
        Hours from as-of to the limit [h], never below 0; NaN where open, beyond 200 000 h, or not to be said.
    partly_stated : ndarray of bool
        Some readings of the line state an uncertainty and others do not.
    points : tuple of ndarray
        Shell hours [kh], wear [µm] and series of the readings in the lines.
    """

    lines: OwnLines
    at_limit: InverseSet
    in_line: NDArray[np.bool_]
    hours_p05: Floats
    hours_p50: Floats
    hours_p95: Floats
    partly_stated: NDArray[np.bool_]
    points: tuple[Floats, Floats, NDArray[np.intp]]

    @cached_property
    def huber(self) -> Floats:
        """Rates by Huber's lines, which one odd reading does not pull [µm/kh]."""
        return huber_rates(*self.points, len(self.lines.readings))

    @cached_property
    def theil_sen(self) -> Floats:
        """Rates by the middle slope of all pairs of readings, which one odd reading does not pull [µm/kh]."""
        return theil_sen_rates(*self.points, len(self.lines.readings))

    def said(self, series: int) -> tuple[str, ...]:
        """Why this line says what it says, in sentences."""
        partly = PARTLY_STATED if self.partly_stated[series] else ""
        return tuple(filter(None, (REASONS[self._reach(series)], partly)))

    def reasons(self, series: int) -> tuple[Reason, ...]:
        """The same for the row of a forecast."""
        no_line = self._reach(series) is Reach.NO_LINE
        kinds = ("no_own_line" if no_line else "own_line", "own_line_too")
        return tuple(Reason.of(kind, text=text) for kind, text in zip(kinds, self.said(series), strict=False))

    def _reach(self, series: int) -> Reach:
        return Reach(int(self.at_limit.reach[series]))


def tau_now_h(history: History) -> Floats:
    """Age of every life at its engine's as-of moment, counted as `tau_h` of its readings [h]; shape (lives,)."""
    readings = history.readings
    life = readings["life"].to_numpy()
    began_h = np.array([one.fitted_h for one in history.lives])
    first_h = np.full(len(history.lives), np.inf)
    np.fmin.at(first_h, life, readings["total_h"].to_numpy(dtype=np.float64))
    began_h = np.where(np.isfinite(began_h), began_h, first_h)
    now_h = np.array([history.engine_of(one).as_of_h for one in history.lives])
    return np.where(np.isfinite(began_h), np.maximum(now_h - began_h, 0.0), np.nan)


def own_forecasts(
    history: History, counted: NDArray[np.bool_], running_in_h: float, coverage: float = 0.90
) -> OwnForecasts:
    """Fit and extrapolate the straight line through each series alone.

    Walls and clearances leave out readings of the running-in and measured new walls; `wear` keeps all.
    """
    readings, n_series = history.readings, len(history.series)
    runs_in = (
        readings["quantity"].map({name: q.runs_in for name, q in QUANTITIES.items()}).to_numpy(dtype=bool)
    )
    shell_h = readings["shell_h"].to_numpy(dtype=np.float64)
    early = runs_in & ((shell_h < running_in_h) | readings["new_wall"].to_numpy(dtype=bool))
    wear_um = readings["wear_um"].to_numpy(dtype=np.float64)
    in_line = counted & ~early & np.isfinite(wear_um)
    tau_kh = readings["tau_h"].to_numpy(dtype=np.float64)[in_line] / H_PER_KH
    series = readings["series"].to_numpy(dtype=np.intp)[in_line]
    z_um, stated_um = wear_um[in_line], readings["u_um"].to_numpy(dtype=np.float64)[in_line]
    hours_sd_kh = readings["hours_sd_h"].fillna(0.0).to_numpy(dtype=np.float64)[in_line] / H_PER_KH
    lines = fit_lines(tau_kh, z_um, stated_um, series, n_series)
    u_um = with_hours_error(lines, stated_um, hours_sd_kh, series)
    if (hours_sd_kh > 0.0).any():
        lines = fit_lines(tau_kh, z_um, u_um, series, n_series)
    allowance_um = np.array([one.limit.allowance_um if one.limit else 0.0 for one in history.series])
    limited = np.array([one.limit is not None for one in history.series], dtype=bool)
    at_limit = hours_at_limit(lines, allowance_um, coverage)
    now_h = tau_now_h(history)[[one.life for one in history.series]]

    def ahead(at_kh: Floats) -> Floats:
        hours = np.maximum(at_kh * H_PER_KH - now_h, 0.0)
        return np.where(limited & (hours <= LONGEST_KH * H_PER_KH), hours, np.nan)

    return OwnForecasts(
        lines=lines,
        at_limit=at_limit,
        in_line=in_line,
        hours_p05=ahead(at_limit.lower_kh),
        hours_p50=ahead(at_limit.line_kh),
        hours_p95=ahead(at_limit.upper_kh),
        partly_stated=_partly_stated(u_um, series, n_series),
        points=(tau_kh, z_um, series),
    )


def with_hours_error(lines: OwnLines, u_um: Floats, hours_sd_kh: Floats, series: NDArray[np.intp]) -> Floats:
    """Stated uncertainties [µm] with those of hours taken from dates, at the rate of a first line.

    The effective variance u² + (rate · u_hours)² of each reading (Orear, J. (1982), Am. J. Phys. 50, 912, from memory).
    Where none is stated the scatter about the line holds it already.
    """
    rate = np.nan_to_num(lines.rate_um_per_kh)[series]
    return np.where(hours_sd_kh > 0.0, np.hypot(u_um, rate * hours_sd_kh), u_um)


def _partly_stated(u_um: Floats, series: NDArray[np.intp], n_series: int) -> NDArray[np.bool_]:
    stated = np.bincount(series, weights=np.isfinite(u_um), minlength=n_series)
    return np.asarray((stated > 0) & (stated < np.bincount(series, minlength=n_series)))
