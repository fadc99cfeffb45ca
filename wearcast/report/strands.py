"""One point of one life as drawn: its readings with their uncertainty, and its own line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.forecasting.classes import UNKNOWN_ERROR_SHARE
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life
from wearcast.quantities import QUANTITIES
from wearcast.report.gather import EngineRecords, Reading
from wearcast.units import H_PER_KH
from wearcast.wear.own_line import band_um

_STEPS = 24


@dataclass(frozen=True)
class Dot:
    """One reading as drawn.

    Attributes
    ----------
    hours, value_mm : float
        Total running hours [h] and value [mm].
    u_um : float
        Standard uncertainty, stated or assumed [µm].
    """

    hours: float
    value_mm: float
    u_um: float
    u_assumed: bool
    hollow: bool
    source: Reading


@dataclass(frozen=True)
class OwnLine:
    """One own line as drawn; `lower_mm` and `upper_mm` are empty where no band is drawn.

    Attributes
    ----------
    hours : tuple of float
        Total running hours [h]; the last `ahead` of them lie past the as-of moment.
    says_way : bool
        The 90 % interval of its rate does not span zero.
    """

    hours: tuple[float, ...]
    line_mm: tuple[float, ...]
    lower_mm: tuple[float, ...]
    upper_mm: tuple[float, ...]
    ahead: int
    says_way: bool


@dataclass(frozen=True)
class Strand:
    """One point of one life: its readings and its own line."""

    life: Life
    life_index: int
    series: int
    point: str
    limit: Limit | None
    dots: tuple[Dot, ...]
    line: OwnLine | None
    governs: bool


def strand_of(records: EngineRecords, life: int, series: int, axis: tuple[float, float]) -> Strand:
    """Readings and own line of one series; a shell in service is carried on to the end of the axis."""
    history = records.forecast.history
    one = history.series[series]
    dots = tuple(
        _dot(reading, one.limit)
        for reading in records.readings[life]
        if reading.row.series == series and np.isfinite(reading.row.total_h)
    )
    row = records.rows.get(life)
    governs = row is not None and row.governing == series
    return Strand(
        history.lives[life],
        life,
        series,
        one.point,
        one.limit,
        dots,
        _own_line(records, life, series, axis, governs),
        governs,
    )


def _dot(reading: Reading, limit: Limit | None) -> Dot:
    row = reading.row
    u_um, assumed = uncertainty_um(reading, limit)
    return Dot(float(row.total_h), float(row.value_mm), u_um, assumed, reading.doubted, reading)


def _own_line(
    records: EngineRecords, life: int, series: int, axis: tuple[float, float], governs: bool
) -> OwnLine | None:
    """The own line from its first reading on; a shell in service is carried on to the end of the axis."""
    history, own = records.forecast.history, records.forecast.own
    limit, began_h = history.series[series].limit, records.began_h[life]
    if limit is None or not np.isfinite(own.lines.rate_um_per_kh[series]) or not np.isfinite(began_h):
        return None
    read_h = [r.row.total_h for r in records.readings[life] if r.in_line and r.row.series == series]
    first_h, last_h = min(read_h), max(read_h)
    now_h = records.engine.as_of_h
    until_h = max(last_h, now_h) if history.lives[life].in_service else last_h
    hours = np.linspace(first_h, until_h, _STEPS)
    ahead = 0
    if history.lives[life].in_service:
        later = np.linspace(now_h, axis[1], _STEPS)[1:]
        hours, ahead = np.concatenate([hours, later]), len(later)
    lower, line, upper = band_um(own.lines, series, (hours - began_h) / H_PER_KH)
    value = limit.value_mm
    banded = governs and bool(np.isfinite(lower).all())
    return OwnLine(
        tuple(hours.tolist()),
        tuple(value(line).tolist()),
        tuple(value(lower).tolist()) if banded else (),
        tuple(value(upper).tolist()) if banded else (),
        ahead,
        bool(own.lines.rate_lo90[series] * own.lines.rate_hi90[series] > 0),
    )


def uncertainty_um(reading: Reading, limit: Limit | None) -> tuple[float, bool]:
    """Standard uncertainty of a reading [µm], and whether it is the default of its quantity."""
    stated = float(reading.row.u_um)
    if np.isfinite(stated):
        return stated, False
    default = QUANTITIES[reading.row.quantity].default_u_um
    if default is None:
        default = UNKNOWN_ERROR_SHARE * limit.allowance_um if limit else np.nan
    return default, True
