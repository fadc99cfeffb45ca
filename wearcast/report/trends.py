"""What one chart shows, as numbers: readings, own lines, limit, overlay and the hours ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from wearcast.forecasting.classes import UNKNOWN_ERROR_SHARE
from wearcast.forecasting.outlook import QUANTILES
from wearcast.lives.limits import Limit
from wearcast.lives.shells import STANDARD, Event, Life, same_size
from wearcast.quantities import QUANTITIES
from wearcast.report.gather import EngineRecords, Reading
from wearcast.report.words import EVENT_WORDS, month
from wearcast.units import DAYS_PER_YEAR, H_PER_KH, UM_PER_MM
from wearcast.wear.own_line import band_um

AHEAD_AT_LEAST = 0.25
"""Share of the hours so far that every chart shows ahead (layout)."""

AHEAD_AT_MOST_H = 40_000.0
"""Hours ahead beyond which a chart does not reach (layout)."""

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
    """

    hours: tuple[float, ...]
    line_mm: tuple[float, ...]
    lower_mm: tuple[float, ...]
    upper_mm: tuple[float, ...]
    ahead: int


@dataclass(frozen=True)
class Strand:
    """One point of one life: its readings and its own line."""

    life: Life
    life_index: int
    series: int
    point: str
    dots: tuple[Dot, ...]
    line: OwnLine | None
    governs: bool


@dataclass(frozen=True)
class Mark:
    """A vertical: something that happened, or may, at given hours."""

    hours: float
    text: str
    kind: str


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


@dataclass(frozen=True)
class Trend:
    """One chart: one quantity of one half and one shell size at one place.

    Attributes
    ----------
    limits : tuple of Limit
        Every limit that holds here: of the side that wear goes to first, then the other side's.
    overlay_mm : float
        Where the overlay of a shell of middling new wall is worn through [mm]; NaN where not given.
    hours_axis, value_axis : tuple of float
        Ends of the axes [h], [mm].
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
    hours_axis: tuple[float, float]
    value_axis: tuple[float, float]


def hours_axis(records: EngineRecords) -> tuple[float, float]:
    """Ends of the hours axis of all charts of an engine, so that places can be compared by eye [h]."""
    now_h = records.engine.as_of_h
    starts = [h for h in records.began_h.values() if np.isfinite(h)]
    first_h = min([*starts, now_h])
    so_far_h = max(now_h - first_h, H_PER_KH)
    ahead = [row.values["hours_to_limit_p50"] for row in records.table_rows]
    ahead += [mark.hours - now_h for mark in window_marks(records)[:2]]
    furthest_h = max([h for h in ahead if np.isfinite(h)], default=0.0)
    most_h = max(min(so_far_h, AHEAD_AT_MOST_H), 0.5 * AHEAD_AT_MOST_H)
    ahead_h = min(max(AHEAD_AT_LEAST * so_far_h, 1.15 * furthest_h), most_h)
    return first_h - 0.02 * so_far_h, now_h + ahead_h


def window_marks(records: EngineRecords) -> tuple[Mark, ...]:
    """Windows ahead at the running hours that the engine's yearly use puts them at."""
    engine = records.engine
    if not engine.use.known:
        return ()
    year = timedelta(days=DAYS_PER_YEAR)
    return tuple(
        Mark(
            engine.as_of_h + (window.on - engine.as_of) / year * engine.use.hours_per_year,
            f"{month(window.on)} window",
            "window",
        )
        for window in records.forecast.windows[engine.key]
    )


def trends_of(records: EngineRecords, lives: Sequence[int], axis: tuple[float, float]) -> tuple[Trend, ...]:
    """The charts of one position, in the order of the forecast table."""
    history = records.forecast.history
    groups: dict[tuple[str, str, str], list[int]] = {}
    for index in lives:
        life = history.lives[index]
        groups.setdefault((life.quantity, life.place.half, life.shell_size.casefold()), []).append(index)
    halves, quantities = ("upper", "lower", ""), list(QUANTITIES)
    order = sorted(groups, key=lambda key: (halves.index(key[1]), quantities.index(key[0])))
    return tuple(_trend(records, groups[key], axis) for key in order)


def _trend(records: EngineRecords, lives: list[int], axis: tuple[float, float]) -> Trend:
    history = records.forecast.history
    first = history.lives[lives[0]]
    strands = tuple(_strand(records, life, series, axis) for life in lives for series in records.series[life])
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
        marks=(*_events(records, lives), _as_of(records), *window_marks(records)),
        fan=fan,
        as_of_h=records.engine.as_of_h,
        hours_axis=axis,
        value_axis=_value_axis(strands, limits, fan),
    )


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


def _strand(records: EngineRecords, life: int, series: int, axis: tuple[float, float]) -> Strand:
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
        dots,
        _own_line(records, life, series, axis, governs),
        governs,
    )


def _dot(reading: Reading, limit: Limit | None) -> Dot:
    row = reading.row
    u_um, assumed = uncertainty_um(reading, limit)
    return Dot(float(row.total_h), float(row.value_mm), u_um, assumed, reading.doubted, reading)


def uncertainty_um(reading: Reading, limit: Limit | None) -> tuple[float, bool]:
    """Standard uncertainty of a reading [µm], and whether it is the default of its quantity."""
    stated = float(reading.row.u_um)
    if np.isfinite(stated):
        return stated, False
    default = QUANTITIES[reading.row.quantity].default_u_um
    if default is None:
        default = UNKNOWN_ERROR_SHARE * limit.allowance_um if limit else np.nan
    return default, True


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
    )


def _as_of(records: EngineRecords) -> Mark:
    return Mark(records.engine.as_of_h, f"{month(records.engine.as_of)} as of", "as_of")


def _events(records: EngineRecords, lives: Sequence[int]) -> tuple[Mark, ...]:
    """What happened at the place of these lives, one mark an hour, named by its weightiest event."""
    first = records.forecast.history.lives[lives[0]]
    weights = ("regrind", "fitted", "renewal", "finding", "refit")
    if first.quantity in ("wall", "wear"):
        weights = ("fitted", "renewal", "regrind", "finding", "refit")
    told: dict[float, Event] = {}
    for event in events_at(records, first):
        before = told.get(event.total_h)
        if before is None or weights.index(event.kind) < weights.index(before.kind):
            told[event.total_h] = event
    return tuple(Mark(hours, _told(event), event.kind) for hours, event in sorted(told.items()))


def events_at(records: EngineRecords, life: Life) -> tuple[Event, ...]:
    """Events at the place of a life that mark its trend: all but openings without readings."""
    at = life.place
    return tuple(
        event
        for event in records.events
        if (event.place.bearing, event.place.position) == (at.bearing, at.position)
        and (not event.place.half or not at.half or event.place.half == at.half)
        and event.kind not in ("counter_change", "opened")
        and np.isfinite(event.total_h)
    )


def _told(event: Event) -> str:
    """Month and what happened: `2019-05 renewed U50`."""
    sized = event.kind in ("fitted", "renewal", "regrind")
    size = "" if not sized or same_size(event.shell_size or STANDARD, STANDARD) else event.shell_size
    on = month(event.on) if event.on else ""
    return " ".join(filter(None, (on, EVENT_WORDS[event.kind], size)))


def _fan(records: EngineRecords, lives: Sequence[int]) -> Fan | None:
    """Hours to the limit of the life in service, where there are any."""
    row = next((records.rows[life] for life in lives if life in records.rows), None)
    if row is None or row.governing < 0:
        return None
    ahead_h = [float(row.values[f"hours_to_limit_p{100 * q:02.0f}"]) for q in QUANTILES]
    if not np.isfinite(ahead_h).any():
        return None
    return Fan(
        hours=tuple(records.engine.as_of_h + h for h in ahead_h),
        limit_mm=float(row.values["limit_mm"]),
        now_mm=float(row.values["estimate_mm"]),
        now_u_um=float(row.values["estimate_u_um"]),
    )


def _value_axis(strands: Sequence[Strand], limits: Sequence[Limit], fan: Fan | None) -> tuple[float, float]:
    """Ends of the value axis [mm]: new, limit and all that counts; what is left out is shown if near."""
    dots = [dot for strand in strands for dot in strand.dots]
    core = [value for limit in limits for value in (limit.new_min_mm, limit.new_max_mm, limit.limit_mm)]
    for dot in dots:
        if dot.source.counted:
            reach_mm = dot.u_um / UM_PER_MM if np.isfinite(dot.u_um) else 0.0
            core += [dot.value_mm - reach_mm, dot.value_mm + reach_mm]
    if fan is not None and np.isfinite(fan.now_mm):
        core.append(fan.now_mm)
    if not core:
        core = [dot.value_mm for dot in dots] or [0.0, 1.0]
    low, high = min(core), max(core)
    span = (high - low) or max(abs(high), 1.0) * 0.01
    near = [dot.value_mm for dot in dots if low - span <= dot.value_mm <= high + span]
    low, high = min([low, *near]), max([high, *near])
    pad = 0.10 * (high - low or span)
    return low - pad, high + pad
