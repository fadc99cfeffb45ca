"""What one chart shows, as numbers: readings, own lines, limit, overlay and the hours ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life, same_size
from wearcast.quantities import QUANTITIES
from wearcast.report.axes import AHEAD_AT_LEAST, value_axis
from wearcast.report.gather import EngineRecords
from wearcast.report.marks import Mark, marks_of, window_marks
from wearcast.report.strands import Dot, Strand, strand_of
from wearcast.report.trend_path import Corners, path_of
from wearcast.report.twin_axes import Tick, ticks_of


@dataclass(frozen=True)
class Fan:
    """The forecast of the life in service.

    Attributes
    ----------
    hours : tuple of float
        Total running hours [h] at the limit for the chances of `QUANTILES`; NaN where open.
    now_mm, now_u_um : float
        Estimate at the as-of moment [mm] and its standard uncertainty [µm].
    """

    hours: tuple[float, ...]
    limit_mm: float
    now_mm: float
    now_u_um: float


@dataclass(frozen=True, eq=False)
class Trend:
    """One chart: one quantity of one half and one shell size at one place.

    Attributes
    ----------
    limits : tuple of Limit
        Every limit that holds here: of the side that wear goes to first, then the other side's.
    overlay_mm : float
        Where the overlay of a shell of middling new wall is worn through [mm]; NaN where not given.
    hours_axis, value_axis : tuple of float
        Ends of the axes [h], [mm]; of the values the same along a row of places.
    present_axis : tuple of float
        The part of the hours that the lives in service at the place have run and may run [h].
    strokes : tuple of Tick
        Those of the present hours, carried on over all, fine ones between.
    path : tuple
        The trend of the life in service as estimated, bent where its rate changed [h, mm].
    """

    half: str
    quantity: str
    shell_size: str
    strands: tuple[Strand, ...]
    lives: tuple[int, ...]
    limits: tuple[Limit, ...]
    overlay_mm: float
    marks: tuple[Mark, ...]
    fan: Fan | None
    as_of_h: float
    ticks: tuple[Tick, ...]
    hours_axis: tuple[float, float]
    value_axis: tuple[float, float]
    present_axis: tuple[float, float] = (0.0, 0.0)
    strokes: tuple[Tick, ...] = ()
    path: Corners = ()

    @property
    def foremost(self) -> tuple[Strand, ...]:
        """The strands of the life in service; of the last life where none is."""
        serving = tuple(strand for strand in self.strands if strand.life.in_service)
        last_no = max((strand.life.shell_no for strand in self.strands), default=0)
        return serving or tuple(strand for strand in self.strands if strand.life.shell_no == last_no)

    @property
    def earlier(self) -> tuple[Strand, ...]:
        """The strands of the lives before."""
        foremost = self.foremost
        return tuple(strand for strand in self.strands if strand not in foremost)


def trends_of(records: EngineRecords, lives: Sequence[int], axis: tuple[float, float]) -> tuple[Trend, ...]:
    """The charts of one position, in the order of the forecast table."""
    history = records.forecast.history
    groups: dict[tuple[str, str, str], list[int]] = {}
    for index in lives:
        life = history.lives[index]
        groups.setdefault((life.quantity, life.place.half, life.shell_size.casefold()), []).append(index)
    halves, quantities = ("upper", "lower", ""), list(QUANTITIES)
    order = sorted(groups, key=lambda key: (halves.index(key[1]), quantities.index(key[0])))
    view = _present(records, lives, axis)
    return tuple(_trend(records, groups[key], axis, view) for key in order)


LEFT_OF_IT = 0.03
"""Share of the hours in view that lies before the life in service was fitted (layout)."""


def _present(records: EngineRecords, lives: Sequence[int], axis: tuple[float, float]) -> tuple[float, float]:
    """The hours of the life whose limit comes first at a place, and those ahead: one view for all its charts."""
    rows = [records.rows[k] for k in lives if k in records.rows and np.isfinite(records.began_h[k])]
    if not rows:
        return axis
    first = min(rows, key=lambda row: (not row.damaged, np.nan_to_num(row.hours_at(10), nan=np.inf)))
    now_h, start = records.engine.as_of_h, records.began_h[first.life]
    ends = [now_h + AHEAD_AT_LEAST * (now_h - start), now_h + 1.15 * first.hours_at(90)]
    ends += [mark.hours for mark in window_marks(records)[:2]]
    end = min(max(h for h in ends if np.isfinite(h)), axis[1])
    if not end > start:  # put in today, and nothing is known of what lies ahead
        return axis
    return max(axis[0], start - LEFT_OF_IT * (end - start)), end


def on_one_scale(several: Sequence[Trend]) -> dict[Trend, Trend]:
    """The same trends with one scale of values for those of one quantity, half and size: a row of places."""
    ends: dict[tuple[str, ...], tuple[float, float]] = {}
    for one in several:
        low, high = ends.get(row := _row_of(one), one.value_axis)
        ends[row] = min(low, one.value_axis[0]), max(high, one.value_axis[1])
    return {one: replace(one, value_axis=ends[_row_of(one)]) for one in several}


def _row_of(one: Trend) -> tuple[str, ...]:
    bearing = one.strands[0].life.place.bearing if one.strands else ""
    return bearing, one.half, one.quantity, one.shell_size.casefold()


def _trend(
    records: EngineRecords, lives: list[int], axis: tuple[float, float], view: tuple[float, float]
) -> Trend:
    history = records.forecast.history
    first = history.lives[lives[0]]
    strands = tuple(
        strand_of(records, life, series, axis) for life in lives for series in records.series[life]
    )
    limits = _limits(records, lives, first)
    overlay = next((limit for limit in limits if np.isfinite(limit.overlay_um)), None)
    fan = _fan(records, lives)
    return Trend(
        half=first.place.half,
        quantity=first.quantity,
        shell_size=first.shell_size,
        strands=strands,
        lives=tuple(lives),
        limits=limits,
        overlay_mm=overlay.value_mm(overlay.overlay_um) if overlay else np.nan,
        marks=marks_of(records, first),
        fan=fan,
        as_of_h=records.engine.as_of_h,
        ticks=ticks_of(records, history.lives[_foremost(records, lives)], axis),
        hours_axis=axis,
        value_axis=value_axis(strands, limits, fan.now_mm if fan else np.nan),
        present_axis=view,
        strokes=ticks_of(records, history.lives[_foremost(records, lives)], axis, view),
        path=_path(records, lives),
    )


def _path(records: EngineRecords, lives: Sequence[int]) -> Corners:
    row = next((records.rows[life] for life in lives if life in records.rows), None)
    limit = None if row is None or row.governing < 0 else records.forecast.history.series[row.governing].limit
    return () if row is None or limit is None else path_of(records, row, limit)


def _foremost(records: EngineRecords, lives: Sequence[int]) -> int:
    """The life in service, or else the last."""
    found = records.forecast.history.lives
    return max(lives, key=lambda k: (found[k].in_service, found[k].shell_no))


def _limits(records: EngineRecords, lives: Sequence[int], first: Life) -> tuple[Limit, ...]:
    """Limits that end a life here, one a value, then those of the other side or of a quantity with no side."""
    history, place = records.forecast.history, first.place
    kind = records.engine.engine_type
    if QUANTITIES[first.quantity].side is None:
        rows = history.limits.of_class(kind, place.bearing, place.half, first.quantity)
        return tuple(limit for limit in rows if same_size(limit.shell_size, first.shell_size))
    found = {
        one.limit.limit_mm: one.limit
        for life in lives
        for one in (history.series[k] for k in records.series[life])
        if one.limit is not None and one.governs
    }
    other = history.limits.other_side(kind, place.bearing, place.half, first.quantity, first.shell_size)
    return (*found.values(), *([other] if other else ()))


def _fan(records: EngineRecords, lives: Sequence[int]) -> Fan | None:
    """Hours to the limit of the life in service, where there are any."""
    row = next((records.rows[life] for life in lives if life in records.rows), None)
    if row is None or row.governing < 0:
        return None
    ahead_h = row.hours
    if not np.isfinite(ahead_h).any():
        return None
    return Fan(
        hours=tuple(records.engine.as_of_h + h for h in ahead_h),
        limit_mm=float(row.limit_mm),
        now_mm=float(row.estimate_mm),
        now_u_um=float(row.estimate_u_um),
    )


def off_axis(trend: Trend, dot: Dot) -> int:
    """-1 or 1 where a reading lies below or above the axis; 0 where it is on it."""
    low, high = trend.value_axis
    return (dot.value_mm > high) - (dot.value_mm < low)


def held_mm(trend: Trend, dot: Dot) -> float:
    """Where a reading is drawn: at its value, or just inside the axis that it lies beyond [mm]."""
    low, high = trend.value_axis
    inset = 0.03 * (high - low)
    return min(max(dot.value_mm, low + inset), high - inset) if off_axis(trend, dot) else dot.value_mm
