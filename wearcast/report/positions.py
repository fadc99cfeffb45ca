"""The positions of an engine along its shaft, each with its charts, rates and readings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from wearcast.companions.web_deflection import mains_beside
from wearcast.quantities import QUANTITIES
from wearcast.report import words
from wearcast.report.axes import hours_axis
from wearcast.report.figures import figure, key
from wearcast.report.findings import finding
from wearcast.report.forecast_lines import anchor_of
from wearcast.report.gather import EngineRecords, Reading
from wearcast.report.numbers import NOT_KNOWN, NOT_SAID, hours_ahead, plain, rate, significant, whole
from wearcast.report.strands import Strand, uncertainty_um
from wearcast.report.taken_out import taken_out_past, taken_out_words
from wearcast.report.trends import Trend, trends_of
from wearcast.report.view import (
    CellChange,
    ChartView,
    PositionSection,
    RateLine,
    ReadingGroup,
    ReadingLine,
)

THROW = "throw"
"""Where web deflections are filed: they are read between the webs of a throw, not in its big end."""

ALONG = ("main", "thrust", THROW, "big_end", "small_end")
"""Bearings met at one number along the shaft, in order; the others come after the shaft."""


@dataclass(frozen=True)
class Spot:
    """One position of one kind of bearing."""

    bearing: str
    position: str

    @property
    def order(self) -> tuple[Any, ...]:
        """Along the shaft by number, then by kind, then by label (banks of a vee engine)."""
        number, rest = split_label(self.position)
        if self.bearing not in ALONG:
            return (1, self.bearing, number, rest)
        return (0, number, ALONG.index(self.bearing), rest)


def split_label(position: str) -> tuple[int, str]:
    """The number that a position begins with, and the rest of its label.

    >>> split_label("3"), split_label("3A"), split_label("fore")
    ((3, ''), (3, 'A'), (1000000, 'fore'))
    """
    match = re.match(r"[0-9]{1,6}", position)
    return (int(match[0]), position[match.end() :]) if match else (1_000_000, position)


def shaft(facts: Mapping[str, object], found: Iterable[Spot]) -> tuple[Spot, ...]:
    """Every position that the engine has or that records name, No. 1 first.

    Parameters
    ----------
    facts : mapping
        The engine's row of the engines table.
    found : iterable of Spot
        Positions with a reading or an event.
    """
    spots = set(found)
    numbered = {(spot.bearing, split_label(spot.position)[0]) for spot in spots}
    first = _whole(facts.get("first_main"), 1)
    for bearing, start, number in (
        ("main", first, _whole(facts.get("mains"), 0)),
        ("big_end", 1, _whole(facts.get("throws"), 0)),
    ):
        for k in range(start, start + min(number, 99)):
            if (bearing, k) not in numbered:
                spots.add(Spot(bearing, str(k)))
    return tuple(sorted(spots, key=lambda spot: spot.order))


def _whole(value: object, otherwise: int) -> int:
    if isinstance(value, int | float) and isfinite(value):
        return int(value)
    return int(value) if isinstance(value, str) and value.isdigit() else otherwise


def sections(records: EngineRecords) -> tuple[PositionSection, ...]:
    """One section a position, in shaft order."""
    history = records.forecast.history
    lives: dict[Spot, list[int]] = {}
    for index in records.lives:
        place = history.lives[index].place
        throw = history.lives[index].quantity == "web_deflection" and place.bearing == "big_end"
        lives.setdefault(Spot(THROW if throw else place.bearing, place.position), []).append(index)
    told = {Spot(event.place.bearing, event.place.position) for event in records.events}
    axis = hours_axis(records)
    spots = shaft(records.engine.facts, {*lives, *(spot for spot in told if spot.bearing)})
    anchors: dict[str, int] = {}
    return tuple(_section(records, spot, lives.get(spot, []), axis, spot in told, anchors) for spot in spots)


def _section(
    records: EngineRecords,
    spot: Spot,
    lives: list[int],
    axis: tuple[float, float],
    told: bool,
    anchors: dict[str, int],
) -> PositionSection:
    anchor = anchor_of(spot.bearing, spot.position)
    anchors[anchor] = anchors.get(anchor, 0) + 1
    if anchors[anchor] > 1:
        anchor = f"{anchor}--{anchors[anchor]}"
    trends = trends_of(records, lives, axis)
    readings = _groups(records, trends)
    has_readings = any(group.lines for group in readings)
    none = "" if has_readings else "Never read: these records hold no reading of this position."
    if none and told:
        none += " Its events are listed under Events."
    charts = tuple(
        ChartView(f"{anchor}-{k}", _title(trend, trends), key(trend), finding(records, trend), figure(trend))
        for k, trend in enumerate(trends, start=1)
        if has_readings
    )
    return PositionSection(
        anchor=anchor,
        title=words.capital(words.bearing_words(spot.bearing, spot.position)),
        note=_note(records, spot),
        none=none,
        charts=charts,
        rates=_rates(records, trends),
        readings=readings if has_readings else (),
        rows_from=_common_file(records, lives),
    )


def _note(records: EngineRecords, spot: Spot) -> str:
    """Where a throw lies."""
    if spot.bearing != THROW:
        return ""
    before, after = mains_beside(records.engine, spot.position)
    between = f" between main {before:.0f} and main {after:.0f}" if isfinite(before) else ""
    return f"Web deflection is read at the crank throw{between}; it tells how the shaft lies, not how a shell wears."


def _title(trend: Trend, trends: tuple[Trend, ...]) -> str:
    title = words.capital(words.quantity_words(trend.half, trend.quantity))
    same = [t for t in trends if (t.half, t.quantity) == (trend.half, trend.quantity)]
    return f"{title}, size {trend.shell_size}" if len(same) > 1 else title


def _rates(records: EngineRecords, trends: tuple[Trend, ...]) -> tuple[RateLine, ...]:
    own = records.forecast.own
    found = []
    for trend in trends:
        for strand in trend.strands:
            k = strand.series
            in_line = int(own.lines.readings[k])
            if not QUANTITIES[trend.quantity].forecast or not (
                in_line or strand.life.in_service or taken_out_past(strand)
            ):
                continue
            row = records.rows.get(strand.life_index)
            serving = strand.life.in_service and strand.governs
            low, high = float(own.lines.rate_lo90[k]), float(own.lines.rate_hi90[k])
            hours = (float(own.hours_p05[k]), float(own.hours_p50[k]), float(own.hours_p95[k]))
            forecast_rate = float(row.values["wear_rate_um_per_kh"]) if row and serving else float("nan")
            quantity = words.quantity_words(trend.half, trend.quantity)
            found.append(
                RateLine(
                    what=", ".join(filter(None, (quantity, words.point_words(strand.point)))),
                    shell=words.life_words(strand.life),
                    readings=str(in_line),
                    own=_rate(own.lines.rate_um_per_kh[k]),
                    interval=f"{rate(low)} to {rate(high)}" if isfinite(low) and isfinite(high) else "none",
                    huber=_rate(own.huber[k]),
                    theil_sen=_rate(own.theil_sen[k]),
                    forecast=_rate(forecast_rate) if serving else "",
                    hours=hours_ahead(hours) if strand.life.in_service else (),
                    reason=_no_hours(strand, hours, own.reason(k)),
                )
            )
    return tuple(found)


def _no_hours(strand: Strand, hours: tuple[float, ...], reason: str) -> str:
    """What stands instead of the hours where there are none to give."""
    if not strand.life.in_service:
        return words.tied(f"Ended {words.day(strand.life.ended_on)}{taken_out_words(strand)}.")
    return "" if any(map(isfinite, hours)) else words.sentence(reason or NOT_SAID)


def _rate(value: float) -> str:
    return rate(float(value)) if isfinite(value) else "none"


def _groups(records: EngineRecords, trends: tuple[Trend, ...]) -> tuple[ReadingGroup, ...]:
    groups: dict[tuple[str, str], list[int]] = {}
    for trend in trends:
        groups.setdefault((trend.half, trend.quantity), []).extend(trend.lives)
    common = _common_file(records, [life for lives in groups.values() for life in lives])
    return tuple(
        ReadingGroup(
            words.capital(words.quantity_words(half, quantity)),
            tuple(
                _reading(records, life, reading, common)
                for life in sorted(lives, key=lambda k: records.forecast.history.lives[k].shell_no)
                for reading in records.readings[life]
            ),
        )
        for (half, quantity), lives in groups.items()
    )


def _common_file(records: EngineRecords, lives: Iterable[int]) -> str:
    """The file (and sheet) that most rows are of."""
    count: dict[str, int] = {}
    for life in lives:
        for reading in records.readings[life]:
            if reading.row.table == "readings":
                count[_file(reading)] = count.get(_file(reading), 0) + 1
    return max(count, key=lambda name: count[name]) if count else ""


def _file(reading: Reading) -> str:
    sheet = reading.text("sheet")
    return f"{reading.text('file')}, sheet {sheet}" if sheet else reading.text("file")


def _reading(records: EngineRecords, life: int, reading: Reading, common: str) -> ReadingLine:
    row = reading.row
    one = records.forecast.history.series[row.series]
    u_um, assumed = uncertainty_um(reading, one.limit)
    where = _file(reading) or row.table
    ages = bool(QUANTITIES[row.quantity].restarts_at)
    in_file = row.table == "readings" and where == common
    return ReadingLine(
        date=words.day(None if row.date != row.date else row.date.date()),
        total_h=whole(row.total_h),
        shell_h=whole(row.shell_h) if ages else "",
        shell=str(records.forecast.history.lives[life].shell_no) if ages else "",
        point=words.point_words(row.point),
        value=row.value_text,
        unit=words.unit_words(row.unit),
        old_values=tuple(change.old for change in reading.changes if change.column.casefold() == "value"),
        changes=tuple(
            CellChange(c.column, c.old or "empty", c.new or "empty", c.why) for c in reading.changes
        ),
        u=f"{plain(u_um) if not assumed else significant(u_um)} {'assumed' if assumed else 'stated'}"
        if isfinite(u_um)
        else NOT_KNOWN,
        instrument=reading.text("instrument"),
        state=words.STATE_WORDS.get(row.state, row.state),
        use=_use(records, reading, one.limit is not None),
        queries=tuple(dict.fromkeys(words.kind_words(query.kind) for query in reading.queries))
        + (("measured again and confirmed",) if reading.confirmed else ()),
        remark="; ".join(filter(None, (reading.text("conditions"), reading.text("remark")))),
        row=str(int(row.row)) if in_file else f"{where} {int(row.row)}",
    )


def _use(records: EngineRecords, reading: Reading, limited: bool) -> str:
    row = reading.row
    if not reading.counted:
        return "not counted"
    if reading.in_line and limited:
        return "in the line"
    if row.new_wall:
        return "new"
    running_in_h = records.forecast.settings.thresholds.running_in_h
    if limited and QUANTITIES[row.quantity].runs_in and row.shell_h < running_in_h:
        return "running-in"
    return "shown only"
