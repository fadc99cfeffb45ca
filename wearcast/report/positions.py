"""The positions of an engine along its shaft, each with its charts, rates and readings."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from wearcast import words
from wearcast.companions.web_deflection import mains_beside
from wearcast.lives.shells import Place as LifePlace
from wearcast.report.axes import hours_axis
from wearcast.report.background import entry_of
from wearcast.report.background_tables import event_row
from wearcast.report.findings import finding
from wearcast.report.forecast_lines import forecast_lines
from wearcast.report.gather import EngineRecords
from wearcast.report.rate_lines import rate_lines
from wearcast.report.reading_lines import common_file, reading_groups
from wearcast.report.shaft_order import THROW, Spot, shaft
from wearcast.report.trend_drawing import key, trend_drawing
from wearcast.report.trends import Trend, on_one_scale, trends_of
from wearcast.report.view import ChartView, ForecastLine, ForecastTable, PositionSection
from wearcast.report.words import anchor_of


@dataclass(frozen=True, eq=False)
class Place:
    """One position with all that is drawn of it.

    Attributes
    ----------
    anchor : str
        Where its section stands on the page.
    told : bool
        An event names it.
    """

    spot: Spot
    anchor: str
    lives: tuple[int, ...]
    trends: tuple[Trend, ...]
    told: bool

    @property
    def read(self) -> bool:
        """Whether there is a reading of it."""
        return any(strand.dots for trend in self.trends for strand in trend.strands)


def places_of(records: EngineRecords) -> tuple[Place, ...]:
    """Every position of an engine in shaft order."""
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
    trends = {spot: trends_of(records, lives.get(spot, []), axis) for spot in spots}
    scaled = on_one_scale([trend for here in trends.values() for trend in here])
    return tuple(
        Place(
            spot,
            _own_anchor(spot, anchors),
            tuple(lives.get(spot, ())),
            tuple(scaled[trend] for trend in trends[spot]),
            spot in told,
        )
        for spot in spots
    )


def _own_anchor(spot: Spot, taken: dict[str, int]) -> str:
    anchor = anchor_of(spot.bearing, spot.position)
    taken[anchor] = taken.get(anchor, 0) + 1
    return anchor if taken[anchor] == 1 else f"{anchor}--{taken[anchor]}"


def sections(records: EngineRecords, places: tuple[Place, ...] = ()) -> tuple[PositionSection, ...]:
    """One section a position, in shaft order."""
    lines = forecast_lines(records)
    return tuple(
        _section(records, place, tuple(line for line in lines if line.anchor == place.anchor))
        for place in places or places_of(records)
    )


def _section(records: EngineRecords, place: Place, lines: tuple[ForecastLine, ...]) -> PositionSection:
    spot, trends = place.spot, place.trends
    first = _first(records, trends)
    readings = reading_groups(records, trends, first)
    has_readings = any(group.lines for group in readings)
    none = "" if has_readings else "Never read: these records hold no reading of this position."
    if none and place.told:
        none += " Its events are listed under Events."
    charts = tuple(
        _chart(records, f"{place.anchor}-{k}", _title(trend, trends), trend, trend is first)
        for k, trend in enumerate(trends, start=1)
        if has_readings
    )
    title = words.capital(words.bearing_words(spot.bearing, spot.position))
    return PositionSection(
        anchor=place.anchor,
        title=title,
        note=_note(records, spot),
        none=none,
        said=_said(lines),
        forecast=ForecastTable(
            f"{title}: hours and dates to the replacement limit, counted from {records.engine.as_of}",
            lines,
            "",
        ),
        events=tuple(event_row(one) for one in records.events if _is_at(one.place, spot)),
        queries=tuple(
            entry_of(one)
            for one in records.queries
            if (one.bearing, one.position) == (spot.bearing, spot.position)
        ),
        charts=charts,
        rates=rate_lines(records, trends),
        readings=readings if has_readings else (),
        rows_from=common_file(records, place.lives),
    )


def _first(records: EngineRecords, trends: tuple[Trend, ...]) -> Trend | None:
    """The chart of what comes first at a place."""

    def soonest(trend: Trend) -> float:
        rows = [records.rows[life] for life in trend.lives if life in records.rows]
        hours = [-1.0 if row.damaged else float(row.hours_at(10)) for row in rows]
        return min((h for h in hours if isfinite(h)), default=float("inf"))

    return min(trends, key=soonest, default=None)


def _chart(records: EngineRecords, anchor: str, title: str, trend: Trend, first: bool) -> ChartView:
    drawing = trend_drawing(trend, f"chart-{anchor}-title", f"chart-{anchor}-finding")
    return ChartView(anchor, title, key(trend), finding(records, trend), drawing, first)


def _said(lines: tuple[ForecastLine, ...]) -> str:
    """The statement that comes first at a place, with its early date."""
    first = min(lines, key=lambda line: line.by[0], default=None)
    if first is None:
        return ""
    early = first.dates[0] if first.dates and not first.no_hours else ""
    return "; ".join(filter(None, (f"{first.what}: {first.statement}", early and f"10 % {early}")))


def _is_at(place: LifePlace, spot: Spot) -> bool:
    return (place.bearing, place.position) == (spot.bearing, spot.position)


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
