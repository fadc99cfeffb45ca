"""What widened or moved a forecast; `wearcast.words.reasons` has the sentences."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.calendar import date_of
from wearcast.forecasting.solved import ClassForecast
from wearcast.lives.history import History
from wearcast.lives.shells import STANDARD, Life, same_size
from wearcast.settings import Settings
from wearcast.units import H_PER_KH
from wearcast.wear.crossing import QUANTILES
from wearcast.words import Reason


@dataclass(frozen=True, eq=False)
class _Shell:
    """One shell in service, with its readings as rows of the class."""

    history: History
    fit: ClassForecast
    settings: Settings
    k: int
    life: Life
    rows: NDArray[np.intp]

    @property
    def used(self) -> NDArray[np.intp]:
        """Rows that are in the fit."""
        return self.rows[~self.fit.screened.left_out[self.rows]]

    @property
    def governed(self) -> bool:
        """Whether a point with a limit of its own was read."""
        return bool(self.fit.hours.governing_series[self.k] >= 0)

    def opened(self, opening: int) -> date | None:
        """The day of an opening in which this shell was read; None where it was not."""
        rows = self.rows[self.fit.one.readings.opening[self.rows] == opening]
        if not len(rows):
            return None
        on: date = self.history.readings["date"].iloc[int(self.fit.one.rows[rows[0]])].date()
        return on


def _few_readings(shell: _Shell) -> Reason | None:
    if shell.fit.unread:
        return Reason.of("unread_class")
    openings = len(set(shell.fit.one.readings.opening[shell.used].tolist()))
    return {0: Reason.of("no_reading"), 1: Reason.of("one_opening")}.get(openings)


def _no_limit(shell: _Shell) -> Reason | None:
    return None if shell.governed else Reason.of("no_limit")


def _points_without_limit(shell: _Shell) -> Reason | None:
    """Points read that have no limit of their own, where another point governs."""
    one = shell.fit.one
    mine = one.readings.series_shell == shell.fit.shells[shell.k]
    points = [
        shell.history.series[int(one.series[at])].point
        for at in np.flatnonzero(mine & ~np.isfinite(one.readings.series_limit_um)).tolist()
    ]
    if not points or not shell.governed:
        return None
    return Reason.of("points_without_limit", points=", ".join(points))


def _unknown_fitting(shell: _Shell) -> Reason | None:
    return Reason.of("unknown_fitting") if shell.life.fitting == "unknown" else None


def _assumed_new(shell: _Shell) -> Reason | None:
    return Reason.of("assumed_new") if shell.life.fitting == "assumed" else None


def _undersize(shell: _Shell) -> Reason | None:
    size = shell.life.shell_size
    return None if same_size(size, STANDARD) else Reason.of("undersize", size=size)


def _doubted(shell: _Shell) -> Reason | None:
    screened = shell.fit.screened
    held = int(screened.towards[shell.rows].sum())
    left_out = int(screened.left_out[shell.rows].sum()) - held
    quickened = bool(screened.quickened[shell.rows].any())
    if held or left_out:
        return Reason.of("doubted", held=held, left_out=left_out, quickened=quickened)
    return Reason.of("quickened") if quickened else None


def _gauge_error(shell: _Shell) -> Reason | None:
    """Openings of this shell left out because all positions had moved together."""
    found = [
        (gauge.error_um, on) for gauge in shell.fit.screened.gauges if (on := shell.opened(gauge.opening))
    ]
    return Reason.of("gauge_error", errors=tuple(found)) if found else None


def _end_swap(shell: _Shell) -> Reason | None:
    """Openings of this shell left out because they fit better counted from the other end."""
    for end in shell.fit.screened.ends:
        if end.left_out and (on := shell.opened(end.opening)):
            return Reason.of("end_swap", on=on)
    return None


def _beyond_hours_seen(shell: _Shell) -> Reason | None:
    readings = shell.fit.one.readings
    seen_kh = float(readings.tau_kh.max(initial=0.0))
    factor = shell.settings.thresholds.beyond_hours_seen
    now_kh = float(readings.shell_tau_now_kh[shell.fit.shells[shell.k]])
    middle_kh = shell.fit.hours.hours_kh[shell.k, QUANTILES.index(0.50)]
    at_kh = now_kh + (middle_kh if np.isfinite(middle_kh) else np.inf)
    if not shell.governed or at_kh <= factor * seen_kh:
        return None
    return Reason.of("beyond_hours_seen", factor=factor, seen_h=seen_kh * H_PER_KH)


def _beyond_overlay(shell: _Shell) -> Reason | None:
    limit = shell.history.series[int(shell.fit.shown[shell.k])].limit
    overlay_um = np.nan if limit is None else limit.overlay_um
    if not np.isfinite(overlay_um) or shell.fit.metal_worn_um[shell.k] < overlay_um:
        return None
    return Reason.of("beyond_overlay", overlay_um=overlay_um)


def _one_engine(shell: _Shell) -> Reason | None:
    return None if shell.fit.one.readings.n_engines > 1 else Reason.of("one_engine")


def _changed_rate(shell: _Shell) -> Reason | None:
    """Where the forecast rests on a changed rate."""
    if not shell.fit.changed_at[shell.k]:
        return None
    change = shell.fit.changed[0]
    since = None if np.isnan(change.year) else date_of(change.year)
    return Reason.of("changed_rate", way=change.kind.value, factor=change.factor, since=since)


def _unlike_prior(shell: _Shell) -> Reason | None:
    """Where the readings and what is usual part."""
    scale = shell.fit.screened.estimate.rate_scale
    return None if scale == 1.0 else Reason.of("unlike_prior", scale=scale)


def _strained(shell: _Shell) -> Reason | None:
    return Reason.of("strained") if shell.fit.readings_strained else None


def _carried(shell: _Shell) -> Reason | None:
    engine = shell.history.engine_of(shell.life)
    return Reason.of("carried") if engine.as_of_sd_h > 0 else None


REASONS: tuple[Callable[[_Shell], Reason | None], ...] = (
    _no_limit,
    _points_without_limit,
    _few_readings,
    _doubted,
    _gauge_error,
    _end_swap,
    _unknown_fitting,
    _assumed_new,
    _undersize,
    _beyond_overlay,
    _beyond_hours_seen,
    _changed_rate,
    _one_engine,
    _unlike_prior,
    _strained,
    _carried,
)
"""A new reason is one function and one line here, and its row of `wearcast.words.reasons.KINDS`."""


def class_reasons(history: History, fit: ClassForecast, settings: Settings) -> tuple[tuple[Reason, ...], ...]:
    """The reasons of every shell of a class, in the order of `REASONS`."""
    shell_of_row = fit.one.readings.reading_shell
    order = np.argsort(shell_of_row, kind="stable")
    first, last = (np.searchsorted(shell_of_row[order], fit.shells, side) for side in ("left", "right"))
    found = []
    for k, index in enumerate(fit.shells.tolist()):
        life = history.lives[int(fit.one.lives[index])]
        shell = _Shell(history, fit, settings, k, life, order[first[k] : last[k]])
        found.append(tuple(one for reason in REASONS if (one := reason(shell)) is not None))
    return tuple(found)
