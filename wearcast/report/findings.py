"""What a chart shows, in sentences: for whoever cannot see it, and for whoever has no time to."""

from __future__ import annotations

from math import isfinite

from wearcast.forecasting.rows import ShellForecast
from wearcast.quantities import QUANTITIES
from wearcast.report.forecast_lines import DAMAGED
from wearcast.report.gather import EngineRecords
from wearcast.report.marks import events_at
from wearcast.report.strands import Strand
from wearcast.report.trends import Trend, off_axis
from wearcast.report.words import life_words
from wearcast.words import (
    NO_UPPER_BOUND,
    capital,
    counted,
    exact_mm,
    hours_ahead,
    listed,
    mm,
    part_words,
    point_words,
    quantity_words,
    rate,
    tied,
    unit_words,
    whole,
)

_EARLIER = {
    part: (f"earlier {part}", f"earlier {many}")
    for part, many in (
        ("shell", "shells"),
        ("journal", "journals"),
        ("housing", "housings"),
        ("assembly", "assemblies"),
    )
}


def finding(records: EngineRecords, trend: Trend) -> str:
    """The finding of one chart."""
    said = [_readings(trend), _removed(trend), _limit(trend)]
    said += [_own_line(records, strand) for strand in trend.strands if strand.governs]
    said += [_ahead(records, trend), _found(records, trend), _doubted(trend)]
    return tied(" ".join(sentence for sentence in said if sentence))


def _readings(trend: Trend) -> str:
    what = quantity_words(trend.half, trend.quantity)
    what = what[:1].upper() + what[1:]
    serving = [strand for strand in trend.strands if strand.life.in_service]
    if not serving:
        return f"{what}: no {part_words(trend.quantity)} of this size is in service here now."
    parts = [_one_strand(strand, trend) for strand in serving]
    life = serving[0].life
    if not QUANTITIES[trend.quantity].forecast:
        return f"{what}: {'; '.join(parts)}."
    since = ""
    if life.fitting == "known" and life.fitted_on:
        since = f", in service since {life.fitted_on} ({whole(life.fitted_h)} h)"
    elif life.fitting == "assumed":
        since = ", taken as new at 0 h"
    elif life.fitting == "unknown":
        since = ", fitted at an unknown time"
    return f"{what} of {life_words(life)}{since}: {'; '.join(parts)}."


def _one_strand(strand: Strand, trend: Trend) -> str:
    where = f"{point_words(strand.point)}, " if strand.point else ""
    dots = [dot for dot in strand.dots if dot.source.counted]
    if not dots:
        return f"{where}no reading that counts"
    limit = trend.limits[0].limit_mm if trend.limits else None
    first, last = dots[0], dots[-1]
    text = f"{where}{counted(len(dots), 'reading')}, {mm(first.value_mm, limit)} mm at {whole(first.hours)} h"
    if len(dots) > 1:
        text += f" to {mm(last.value_mm, limit)} mm at {whole(last.hours)} h"
    return text


def _removed(trend: Trend) -> str:
    gone = list(dict.fromkeys(strand.life for strand in trend.strands if not strand.life.in_service))
    if not gone:
        return ""
    ended = [life.ended_on for life in gone if life.ended_on]
    until = f", until {max(ended)}" if ended else ""
    which = "Before it" if len(gone) < len(trend.lives) else "Shown"
    return f"{which}: {counted(len(gone), *_EARLIER[part_words(trend.quantity)])}{until}."


def _limit(trend: Trend) -> str:
    if not trend.limits:
        return "No limit is given for it." if QUANTITIES[trend.quantity].forecast else ""
    sides = {limit.side: limit.limit_mm for limit in trend.limits}
    if len(trend.limits) == len(sides) == 2 and sides["max"] == -sides["min"]:
        return f"Limit ± {exact_mm(sides['max'])} mm."
    parts = [
        f"{exact_mm(limit.limit_mm)} mm ({'at least' if limit.side == 'min' else 'at most'})"
        for limit in trend.limits
    ]
    return f"Limit {listed(parts)}."


def _own_line(records: EngineRecords, strand: Strand) -> str:
    lines = records.forecast.own.lines
    slope = float(lines.rate_um_per_kh[strand.series])
    if not isfinite(slope):
        return "There is no own line: it needs readings at two different hours after running-in."
    low, high = float(lines.rate_lo90[strand.series]), float(lines.rate_hi90[strand.series])
    if not low * high > 0:
        return "Its own line alone says no direction: its 90 % range spans zero, so it is not drawn."
    interval = f" (90 % interval {rate(low)} to {rate(high)})" if isfinite(low) and isfinite(high) else ""
    wears = "wears" if slope > 0 else "shows no wear:"
    row = records.rows.get(strand.life_index)
    held = float(row.wear_rate_um_per_kh) if row else slope
    other = (
        ""
        if low <= held <= high or not isfinite(held)
        else f", which contradicts the forecast's {rate(held)}"
    )
    return f"By its own line it {wears} {rate(slope)} µm per 1000 h{interval}{other}."


def _ahead(records: EngineRecords, trend: Trend) -> str:
    row = next((records.rows[life] for life in trend.lives if life in records.rows), None)
    if row is None or not trend.limits:
        return ""
    if row.damaged:
        return capital(f"{DAMAGED}.")
    hours = [float(row.hours_at(q)) for q in (10, 50, 90)]
    if not any(isfinite(h) for h in hours):
        return f"Readings cannot say when the limit is reached. {_statement(row)}"
    said = [
        f"{'already' if h == 0 else f'within {text} h'} with a chance of {q} %"
        for q, h, text in zip((10, 50, 90), hours, hours_ahead(tuple(hours)), strict=True)
        if isfinite(h)
    ]
    open_end = "" if isfinite(hours[2]) else f"; {NO_UPPER_BOUND}"
    return f"Readings suggest the limit is reached {listed(said)}{open_end}. {_statement(row)}"


def _statement(row: ShellForecast) -> str:
    return f"Statement: {row.statement} ({row.rests_on})."


def _found(records: EngineRecords, trend: Trend) -> str:
    """Findings of damage and the like at this place."""
    life = records.forecast.history.lives[trend.lives[-1]]
    parts = [
        f"{event.finding or 'not described'} ({event.on})"
        for event in events_at(records, life)
        if event.kind == "finding"
    ]
    return f"Found here: {listed(parts)}." if parts else ""


def _doubted(trend: Trend) -> str:
    dots = [dot for strand in trend.strands for dot in strand.dots if dot.hollow]
    if not dots:
        return ""
    parts = []
    for dot in dots:
        row = dot.source.row
        beyond = ", beyond the axis" if off_axis(trend, dot) else ""
        left_out = "" if dot.source.counted else ", not counted"
        parts.append(f"{row.value_text} {unit_words(row.unit)} ({row.table} row {row.row}{beyond}{left_out})")
    return f"Queried and drawn hollow: {listed(parts)}."
