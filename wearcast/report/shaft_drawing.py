"""One drawing of an engine: its shaft line, a small trend at every place, web deflections below the throws."""

from __future__ import annotations

from datetime import date
from textwrap import wrap
from typing import TYPE_CHECKING

from wearcast import words
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.statements import DAMAGE
from wearcast.quantities import QUANTITIES
from wearcast.report import crank_drawing, deflection_drawing
from wearcast.report.deflection_drawing import Deflections
from wearcast.report.forecast_lines import date_words
from wearcast.report.gather import EngineRecords
from wearcast.report.lanes import Lane, lanes_of
from wearcast.report.positions import Place
from wearcast.report.shaft_geometry import DATE_ROOM, LANE_HEIGHT, NAME_ROOM, PLOT_HEIGHT, Grid
from wearcast.report.shaft_order import THROW, line_of, split_label
from wearcast.report.small_trend import small_trend
from wearcast.report.svg import joined, number, tag, text
from wearcast.report.trends import Trend
from wearcast.words import exact_mm, hours

if TYPE_CHECKING:
    from markupsafe import Markup


def shaft_drawing(
    records: EngineRecords, places: tuple[Place, ...], deflections: Deflections | None
) -> Markup | None:
    """The drawing as SVG; None where the engine has no main that could be numbered.

    Above the shaft the walls of the loaded halves, big ends over mains; below it web deflections and clearances.
    """
    grid = Grid(line_of(records.engine.facts, (place.spot for place in places)))
    if not grid.line.mains:
        return None
    above, below = lanes_of(grid, places)
    parts: list[Markup] = []
    y = 2.0
    for lane in above:
        parts.append(_moved(_lane(records, grid, lane), y))
        y += LANE_HEIGHT
    parts.append(_moved(crank_drawing.crank(grid, read_of(places), _thrust_read(places)), y))
    shaft_y = y + crank_drawing.AXIS
    y += crank_drawing.HEIGHT
    if deflections is not None:
        parts.append(_moved(deflection_drawing.deflection_lane(grid, deflections), y))
        y += deflection_drawing.HEIGHT
    for lane in below:
        parts.append(_moved(_lane(records, grid, lane), y))
        y += LANE_HEIGHT
    others = _others(places, (*above, *below), deflections is not None)
    per_row = max(int((grid.last_x - grid.first_x) / grid.pitch), 1)
    for k in range(0, len(others), per_row):
        parts.append(_moved(_other_lane(records, grid, others[k : k + per_row]), y))
        y += LANE_HEIGHT
    leaders = tag("path", class_="leader", d=_leaders(grid, above, shaft_y))
    return tag(
        "svg",
        joined([leaders, *parts]),
        class_="shaft",
        viewBox=f"0 0 {number(grid.width)} {number(y)}",
        style=f"--natural:{number(grid.width)}px",
        role="group",
        aria_labelledby="shaft-line",
        aria_describedby="shaft-finding",
    )


LETTERS = 14
"""Letters of a line beside a row of small trends (layout)."""


def read_of(places: tuple[Place, ...]) -> frozenset[tuple[str, int]]:
    """Kind and number of every bearing that was read."""
    return frozenset(
        (place.spot.bearing, split_label(place.spot.position)[0]) for place in places if place.read
    )


def _thrust_read(places: tuple[Place, ...]) -> bool:
    return any(place.read for place in places if place.spot.bearing == "thrust")


def _others(places: tuple[Place, ...], lanes: tuple[Lane, ...], throws: bool) -> list[tuple[Place, Trend]]:
    """Places that were read but stand in no row: without a number, or read only elsewhere than where the load is."""
    drawn = {place.anchor for lane in lanes for place, _ in lane.trends.values()}
    found = []
    for place in places:
        read = [trend for trend in place.trends if any(strand.dots for strand in trend.strands)]
        if read and place.anchor not in drawn and not (throws and place.spot.bearing == THROW):
            found.append((place, read[0]))
    return found


def _other_lane(records: EngineRecords, grid: Grid, found: list[tuple[Place, Trend]]) -> Markup:
    """A row of such places, each with what was read there."""
    parts = [text("Other places", 0.0, NAME_ROOM + 11, "lane"), text("as read", 0.0, NAME_ROOM + 25, "quiet")]
    for k, (place, trend) in enumerate(found):
        x = grid.first_x + k * grid.pitch + (grid.pitch - grid.plot_width) / 2
        parts.append(tag("g", _read(records, grid, place, trend), transform=f"translate({number(x)} 0)"))
    return joined(parts)


def _moved(part: Markup, y: float) -> Markup:
    return tag("g", part, transform=f"translate(0 {number(y)})")


def _lane(records: EngineRecords, grid: Grid, lane: Lane) -> Markup:
    parts = _lane_names(lane)
    for at in lane.numbers:
        x = (
            grid.main_x(at) if lane.bearing in ("main", "thrust") else grid.throw_x(at)
        ) - grid.plot_width / 2
        found = lane.trends.get(at)
        inner = _read(records, grid, *found) if found else _unread(grid, lane, at)
        parts.append(tag("g", inner, transform=f"translate({number(x)} 0)"))
    return joined(parts)


def _lane_names(lane: Lane) -> list[Markup]:
    name, quantity = lane.name
    lines = wrap(quantity, LETTERS)
    parts = [text(name, 0.0, NAME_ROOM + 11, "lane")]
    parts += [text(line, 0.0, NAME_ROOM + 25 + 14 * k, "quiet") for k, line in enumerate(lines)]
    limits = dict.fromkeys(trend.limits[0].limit_mm for _, trend in lane.trends.values() if trend.limits)
    said = " or ".join(exact_mm(limit_mm) for limit_mm in list(limits)[:2])
    if said:
        parts.append(text(f"limit {said}", 0.0, NAME_ROOM + 25 + 14 * len(lines), "quiet"))
    return parts


def _unread(grid: Grid, lane: Lane, at: int) -> Markup:
    """A place where this was never read, drawn empty."""
    middle = grid.plot_width / 2
    return joined(
        [
            text(_title(lane.bearing, f"{at}{lane.bank}"), middle, NAME_ROOM - 4, "quiet", "middle"),
            tag("rect", class_="empty", y=NAME_ROOM, width=grid.plot_width, height=PLOT_HEIGHT),
            text("never read", middle, NAME_ROOM + PLOT_HEIGHT / 2 + 4, "quiet", "middle"),
        ]
    )


def _title(bearing: str, position: str) -> str:
    return words.capital(words.bearing_words(bearing, position))


def _read(records: EngineRecords, grid: Grid, place: Place, trend: Trend) -> Markup:
    row = row_of(records, trend)
    title = _title(place.spot.bearing, place.spot.position)
    middle = grid.plot_width / 2
    parts = [
        text(title, middle, NAME_ROOM - 4, "name", "middle"),
        tag(
            "g",
            joined(
                [
                    tag("rect", class_="frame", width=grid.plot_width, height=PLOT_HEIGHT),
                    small_trend(trend, grid.plot_width, PLOT_HEIGHT),
                ]
            ),
            transform=f"translate(0 {number(NAME_ROOM)})",
        ),
        _early(records, row, middle),
    ]
    inner = tag("a", joined(parts), href=f"#{place.anchor}", aria_label=said_of(records, title, trend))
    return tag("g", inner, data_row=records.row_numbers[row.life]) if row else inner


def _early(records: EngineRecords, row: ShellForecast | None, x: float) -> Markup:
    """The early date under a small trend, or the early hours where there is no date."""
    y = NAME_ROOM + PLOT_HEIGHT + 13
    if row is None:
        return text("no forecast", x, y, "quiet", "middle")
    on = row.date_at(10)
    if isinstance(on, date) and not row.damaged:
        told = date_words(records, on)
        gone = told != on.isoformat()
        inner = joined([
            "" if gone else tag("tspan", "10 %: ", class_="screen-only"),
            tag("tspan", told, data_fact="date_p10", class_="screen-only" if gone else ""),
            tag("tspan", "already", class_="paper-only") if gone else "",
        ])  # fmt: skip
        return tag("text", inner, class_="figure", x=x, y=y, text_anchor="middle")
    return text(early_words(records, row), x, y, "quiet", "middle")


def early_words(records: EngineRecords, row: ShellForecast) -> str:
    """The early date, or the early hours where there is no date, or that neither can be said; damage before all."""
    on, ahead_h = row.date_at(10), float(row.hours_at(10))
    if row.damaged:
        return DAMAGE
    if isinstance(on, date):
        return date_words(records, on)
    return f"{hours(ahead_h)} h" if ahead_h == ahead_h else "no early date"  # noqa: PLR0124  (NaN)


def row_of(records: EngineRecords, trend: Trend) -> ShellForecast | None:
    """The row of the forecast table that a trend leads to."""
    return next((records.rows[life] for life in trend.lives if life in records.rows), None)


def said_of(records: EngineRecords, title: str, trend: Trend) -> str:
    """What a small trend shows, in words."""
    what = words.quantity_words(trend.half, trend.quantity)
    read = sum(len(strand.dots) for strand in trend.foremost)
    said = f"{title}, {what}: {words.counted(read, 'reading')} of the {words.part_words(trend.quantity)} in service"
    row = row_of(records, trend)
    if row is None or not QUANTITIES[trend.quantity].forecast:
        return f"{said}; no forecast."
    by = "" if row.damaged else f" limit reached with a chance of 10 % by {early_words(records, row)}:"
    return f"{said};{by} {row.statement}."


def _leaders(grid: Grid, above: tuple[Lane, ...], shaft_y: float) -> str:
    """Thin lines that join each small trend with its place on the shaft."""
    found = []
    for k, lane in enumerate(above):
        top = 2.0 + k * LANE_HEIGHT + NAME_ROOM + PLOT_HEIGHT + DATE_ROOM + 2
        for at in lane.numbers:
            at_main = lane.bearing in ("main", "thrust")
            x = grid.main_x(at) if at_main else grid.throw_x(at)
            until = shaft_y - (18 if at_main else 56)
            found.append(f"M{number(x)} {number(top)}V{number(until)}")
    return "".join(found)
