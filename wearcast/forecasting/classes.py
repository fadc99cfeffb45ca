"""A history cut into classes (engine type × bearing × half × quantity), as arrays for the pooled model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.forecasting.calendar import class_calendar
from wearcast.forecasting.own import tau_now_h
from wearcast.lives.history import EngineKey, History, Series
from wearcast.lives.limits import Limit
from wearcast.lives.shells import STANDARD, Life, natural_order, same_size
from wearcast.quantities import CROWN_POINTS, QUANTITIES
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

UNKNOWN_ERROR_SHARE = 0.05
"""Reading error taken for a growth of unknown scale, as a share of its allowance (judgement)."""


class ClassKey(NamedTuple):
    """What sisters must share for their wear to be pooled."""

    engine_type: str
    bearing: str
    half: str
    quantity: str

    def __str__(self) -> str:
        """The class in words."""
        quantity = QUANTITIES[self.quantity].title
        words = (self.engine_type, self.bearing.replace("_", " "), self.half, quantity)
        return " ".join(word for word in words if word)


@dataclass(frozen=True, eq=False)
class WearClass:
    """One class as arrays, with the way back to the history.

    Attributes
    ----------
    readings : ClassReadings
        What the pooled model takes in.
    one_row : bool
        Positions are plain numbers along one row of bearings; False for banks.
    lives, series, rows : ndarray of int
        Index into `History.lives`, `History.series` and rows of `History.readings`, of each shell, series
        and reading of the class.
    """

    key: ClassKey
    readings: ClassReadings
    lives: NDArray[np.intp]
    series: NDArray[np.intp]
    rows: NDArray[np.intp]
    one_row: bool


def class_of(history: History, life: Life) -> ClassKey:
    """The class a life belongs to."""
    engine = history.engine_of(life)
    return ClassKey(engine.engine_type, life.place.bearing, life.place.half, life.quantity)


def wear_classes(
    history: History, counted: NDArray[np.bool_], priors: Priors, follow_gauges: bool = False
) -> tuple[WearClass, ...]:
    """Cut a history into its classes.

    Parameters
    ----------
    counted : ndarray of bool, shape (n readings,)
        Readings that go into the model.
    follow_gauges : bool
        Tell gauges apart by their names.
    """
    now_h = tau_now_h(history)
    return tuple(
        one_class(history, key, series, counted, now_h, priors, follow_gauges)
        for key, series in series_by_class(history).items()
    )


def series_by_class(history: History) -> dict[ClassKey, NDArray[np.intp]]:
    """Index into `History.series` of the trends of every class, in order of first appearance."""
    by_class: dict[ClassKey, list[int]] = {}
    for k, one in enumerate(history.series):
        life = history.lives[one.life]
        if one.limit is not None and QUANTITIES[life.quantity].forecast:
            by_class.setdefault(class_of(history, life), []).append(k)
    return {key: np.array(series, dtype=np.intp) for key, series in by_class.items()}


_USED = ["date", "total_h", "tau_h", "u_um", "hours_sd_h", "step_um", "opening", "new_wall", "instrument"]


def one_class(
    history: History,
    key: ClassKey,
    series: NDArray[np.intp],
    counted: NDArray[np.bool_],
    now_h: NDArray[np.float64],
    priors: Priors,
    follow_gauges: bool,
    change_grid: NDArray[np.float64] | None = None,
) -> WearClass:
    """One class as arrays.

    Parameters
    ----------
    series : ndarray of int
        Its trends, from `series_by_class`.
    counted : ndarray of bool, shape (n readings,)
        Readings that go into the model.
    now_h : ndarray, shape (lives,)
        From `tau_now_h`.
    change_grid : ndarray, optional
        Dates of unrecorded changes that are looked for; from the readings by default [years].
    """
    table = history.readings
    series = series[np.isfinite(now_h[[history.series[k].life for k in series]])]
    of_series = [history.series[k] for k in series]
    lives = np.array(sorted({one.life for one in of_series}), dtype=np.intp)
    place_of_life = {int(life): k for k, life in enumerate(lives)}
    place_of_series = np.full(len(history.series), -1)
    place_of_series[series] = np.arange(len(series))
    at = place_of_series[table["series"].to_numpy(dtype=np.intp)]
    wear_um = table["wear_um"].to_numpy(dtype=np.float64)
    rows = np.flatnonzero((at >= 0) & counted & np.isfinite(wear_um))
    mine = table[_USED].iloc[rows]
    limits = _limits(of_series)
    allowance_um = _class_limit(limits).allowance_um
    default_u_um = QUANTITIES[key.quantity].default_u_um or UNKNOWN_ERROR_SHARE * allowance_um
    shells = [history.lives[k] for k in lives]
    life_limit = {one.life: limit for one, limit in zip(of_series, limits, strict=True)}
    points = [one.point for one in of_series]
    keys = [(life.place.vessel, life.place.engine) for life in shells]
    places = [life.place.position for life in shells]
    along = _along_the_shaft(places)
    start_kh = _starts_kh(mine, at[rows], of_series, lives, shells)
    usual_um_per_kh = priors.rate_mean * allowance_um / priors.design_life_kh
    readings = ClassReadings(
        z_um=wear_um[rows],
        tau_kh=mine["tau_h"].to_numpy(dtype=np.float64) / H_PER_KH,
        u_um=_with_hours_error(mine, default_u_um, usual_um_per_kh),
        step_um=mine["step_um"].to_numpy(dtype=np.float64),
        series=at[rows].astype(np.intp),
        opening=_numbers(mine["opening"].tolist()),
        gauge=_gauges(mine["instrument"].tolist() if follow_gauges else [""] * len(mine)),
        is_new_wall=mine["new_wall"].to_numpy(dtype=bool),
        series_shell=np.array([place_of_life[one.life] for one in of_series], dtype=np.intp),
        series_group=np.array([_point_group(point) for point in points], dtype=np.intp),
        series_limit_um=np.array(
            [
                limit.allowance_um if one.governs else np.nan
                for one, limit in zip(of_series, limits, strict=True)
            ]
        ),
        shell_engine=_numbers(keys),
        shell_position=along,
        shell_fitting_known=np.array([life.fitting != "unknown" for life in shells], dtype=bool),
        shell_tau_now_kh=now_h[lives] / H_PER_KH,
        shell_delta_sd_um=np.array(
            [
                _new_sd_um(life_limit[int(k)], history.lives[k].fitted_sd_h / H_PER_KH * usual_um_per_kh)
                for k in lives
            ]
        ),
        allowance_um=allowance_um,
        default_u_um=default_u_um,
        log_sd=priors.log_sd_wall if key.quantity == "wall" else priors.log_sd_other,
        series_point=_numbers(points),
        series_overlay_um=np.array([limit.overlay_um for limit in limits]),
        shell_in_service=np.array([life.in_service for life in shells], dtype=bool),
        shell_tau_now_sd_kh=np.array([history.engine_of(life).as_of_sd_h / H_PER_KH for life in shells]),
        shell_start_kh=start_kh,
        calendar=class_calendar(
            history,
            key.bearing,
            mine,
            engines_of(keys),
            dict(zip(places, along.tolist(), strict=True)),
            change_grid,
        ),
    )
    one_row = numbered([life.place.position for life in shells])
    return WearClass(key, readings, lives, series, rows, one_row)


def _with_hours_error(mine: pd.DataFrame, default_u_um: float, rate_um_per_kh: float) -> NDArray[np.float64]:
    """Stated uncertainties [um]; where hours are those of a date their error times a usual rate goes in.

    To first order an error of the hours is one of the wear, at the rate of the class before any reading (the
    prior's): for a rate three times that it is taken three times too small.
    """
    u_um = mine["u_um"].to_numpy(dtype=np.float64)
    hours_um = mine["hours_sd_h"].fillna(0.0).to_numpy(dtype=np.float64) / H_PER_KH * rate_um_per_kh
    stated = np.where(np.isnan(u_um), default_u_um, u_um)
    return np.where(hours_um > 0.0, np.hypot(stated, hours_um), u_um)


def _starts_kh(
    rows: pd.DataFrame,
    series: NDArray[np.intp],
    of_series: Sequence[Series],
    lives: NDArray[np.intp],
    shells: Sequence[Life],
) -> NDArray[np.float64]:
    """Total hours of the engine at τ = 0 of every shell [kh]: at its fitting, else at its first reading."""
    start_h = np.array([life.fitted_h for life in shells], dtype=np.float64)
    life = np.searchsorted(lives, [of_series[k].life for k in series.tolist()])
    first = np.full(len(lives), np.nan)
    first[life] = rows["total_h"].to_numpy(dtype=np.float64) - rows["tau_h"].to_numpy(dtype=np.float64)
    return np.nan_to_num(np.where(np.isfinite(first), first, start_h)) / H_PER_KH


def _limits(of_series: Sequence[Series]) -> list[Limit]:
    return [one.limit for one in of_series if one.limit is not None]


def _class_limit(limits: Sequence[Limit]) -> Limit:
    """The limit whose allowance scales the class: the standard size's where there is one."""
    return next((limit for limit in limits if same_size(limit.shell_size, STANDARD)), limits[0])


def _new_sd_um(limit: Limit, age_error_um: float) -> float:
    """Standard deviation of a new wall spread evenly over its band [µm].

    Where the hours at fitting are those of a date, all ages of the shell share their error: at a usual rate it is one
    of the wall it began with.
    """
    band_um = (limit.new_max_mm - limit.new_min_mm) * UM_PER_MM
    return float(np.hypot(band_um / np.sqrt(12.0), age_error_um))


def _point_group(point: str) -> int:
    """0 at the crown and where there are no points; 1 for all points off it, which differ by design."""
    return 0 if not point or point in CROWN_POINTS or point.startswith("v") else 1


def _along_the_shaft(positions: Sequence[str]) -> NDArray[np.intp]:
    """Positions as whole numbers that keep their distance along the shaft; labels by their natural order."""
    if numbered(positions):
        numbers = [int(position) for position in positions]
        return np.array([number - min(numbers) for number in numbers], dtype=np.intp)
    order = {label: k for k, label in enumerate(sorted(set(positions), key=natural_order))}
    return np.array([order[label] for label in positions], dtype=np.intp)


def numbered(positions: Sequence[str]) -> bool:
    """Whether positions are plain numbers, so that an opening can be counted from the other end."""
    return all(position.isdigit() for position in positions)


def engines_of(keys: Sequence[EngineKey]) -> list[EngineKey]:
    """The engines of a class in the order of their labels."""
    return sorted(set(keys), key=repr)


def _gauges(labels: Sequence[str]) -> NDArray[np.intp]:
    """Names of gauges as whole numbers, -1 for none."""
    order = {label: k for k, label in enumerate(sorted({label for label in labels if label}))}
    return np.array([order.get(label, -1) for label in labels], dtype=np.intp)


def _numbers(labels: Sequence[object]) -> NDArray[np.intp]:
    """Labels as whole numbers from 0, in sorted order."""
    order = {label: k for k, label in enumerate(sorted(set(labels), key=repr))}
    return np.array([order[label] for label in labels], dtype=np.intp)
