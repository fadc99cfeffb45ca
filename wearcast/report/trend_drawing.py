"""The chart of a trend as it stands in a page: lines stretched to their room, points and words over them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite
from typing import TYPE_CHECKING

from wearcast import words
from wearcast.lives.limits import Limit
from wearcast.report import inks
from wearcast.report.fan_shape import fan_areas, middle_way
from wearcast.report.figures import hover_words
from wearcast.report.strands import Strand
from wearcast.report.svg import joined, number, polygon, tag, way
from wearcast.report.trend_frame import HEIGHT, WIDTH, Frame, roomy, spread
from wearcast.report.trends import Trend, held_mm, off_axis
from wearcast.report.twin_axes import Tick
from wearcast.report.view import KeyItem
from wearcast.units import UM_PER_MM
from wearcast.words import exact_mm, mm, part_words, significant, whole

if TYPE_CHECKING:
    from markupsafe import Markup

VALUE_LINES = 6
"""Most lines of value across a chart (layout)."""


def trend_drawing(trend: Trend, named: str, described: str) -> Markup:
    """The chart as HTML.

    Parameters
    ----------
    named, described : str
        Ids of what names it and what says what it shows.
    """
    frame = Frame(trend.hours_axis, trend.present_axis, trend.value_axis)
    view = frame.view[0], frame.view[1] - frame.view[0]
    x0, width = frame.x(view[0]), 100.0 / frame.zoom
    return tag(
        "div",
        joined(
            [
                tag("div", joined(_above(trend, frame)), class_="above"),
                tag("div", joined(_values(frame)), class_="left"),
                tag(
                    "div",
                    joined(
                        [
                            tag(
                                "svg",
                                joined(_lines(trend, frame)),
                                class_="layer",
                                viewBox=f"{number(10 * x0)} 0 {number(10 * width)} {number(HEIGHT)}",
                                preserveAspectRatio="none",
                                aria_hidden="true",
                            ),
                            *_dots(trend, frame),
                        ]
                    ),
                    class_="plot",
                ),
                tag("div", joined(_beside(trend, frame)), class_="right"),
                tag("div", joined(_names(trend)), class_="names"),
                tag("div", joined(_below(trend, frame)), class_="below"),
            ]
        ),
        class_="trend",
        role="img",
        aria_labelledby=named,
        aria_describedby=described,
        data_hours=f"{number(trend.hours_axis[0])} {number(trend.hours_axis[1])}",
        data_view=f"{x0:.3f} {width:.3f}",
        data_earlier="1" if trend.hours_axis != trend.present_axis else "",
        style=f"--x0:{x0:.3f};--zx:{frame.zoom:.4f}",
    )


def key(trend: Trend) -> tuple[KeyItem, ...]:
    """What each sign is: markers of points where there are several, and the lines there are."""
    points = _points(trend)
    found = [
        KeyItem(
            words.capital(words.point_words(point) or "reading"),
            inks.SERIES[k % len(inks.SERIES)].name,
            inks.MARKERS[_symbol(k)],
        )
        for k, point in enumerate(points)
    ]
    dots = [dot for strand in trend.strands for dot in strand.dots]
    lines = (
        ("doubted, hollow", "mark-open", inks.MARKERS["circle"], any(dot.hollow for dot in dots)),
        ("trend as estimated", "way", "M-8 -4L8 4", bool(trend.path)),
        ("own line, 90 % range", "own", "M-8 -6L8 2M-8 -2L8 6", any(_outlined(one) for one in trend.strands)),
        ("ways to the limit, 50, 80, 90 %", "fan", "M-8 -4L8 -2V6Z", trend.fan is not None),
        ("limit", "limit", "M-8 0H8", bool(trend.limits)),
        ("new", "newband", "M-8 -4H8V4H-8Z", bool(trend.limits)),
        ("overlay worn through", "overlay", "M-8 0H8", isfinite(trend.overlay_mm)),
    )
    return (*found, *(KeyItem(name, ink, outline) for name, ink, outline, there in lines if there))


def _points(trend: Trend) -> list[str]:
    return list(dict.fromkeys(strand.point for strand in trend.strands))


def _symbol(point: int) -> str:
    return inks.SYMBOLS[point % len(inks.SYMBOLS)]


# ---- lines ----------------------------------------------------------------------------------------------------------


def _lines(trend: Trend, frame: Frame) -> Iterator[Markup]:
    """From the back: new wall, values, what lies past the limit, verticals, fan, own line, trend, limits."""
    yield from _grounds(trend, frame)
    for mark in trend.marks:
        if frame.hours[0] <= mark.hours <= frame.hours[1]:
            kind = {"as_of": "asof", "window": "ahead", "finding": "noted", "refit": "noted"}.get(
                mark.kind, "new"
            )
            yield tag("path", class_=kind, d=f"M{number(10 * frame.x(mark.hours))} 0V{number(HEIGHT)}")
    if trend.fan is not None:
        for area in fan_areas(trend.fan, trend.as_of_h, frame.hours[1]):
            yield tag("path", class_="fan", d=polygon(frame.at(*corner) for corner in area))
        if middle := middle_way(trend.fan, trend.as_of_h, frame.hours[1]):
            yield tag("path", class_="way", d=way(frame.at(*corner) for corner in middle))
    for strand in filter(_outlined, trend.strands):
        yield from _outline(strand, frame)
    if len(trend.path) > 1:
        yield tag("path", class_="way", d=way(frame.at(*corner) for corner in trend.path))
    if isfinite(trend.overlay_mm):
        yield tag("path", class_="overlay", d=_across(frame, trend.overlay_mm))
    for limit_mm in dict.fromkeys(limit.limit_mm for limit in trend.limits):
        yield tag("path", class_="limit", d=_across(frame, limit_mm))


def _grounds(trend: Trend, frame: Frame) -> Iterator[Markup]:
    """What a new one measures, lines of value, and what lies past the limits."""
    for limit in trend.limits[:1]:
        yield _ground("newband", frame.y(limit.new_max_mm), frame.y(limit.new_min_mm))
    for value, _ in _value_ticks(frame):
        yield tag("path", class_="grid", d=_across(frame, value))
    for side, edge in (("min", 100.0), ("max", 0.0)):
        values = [limit.limit_mm for limit in trend.limits if limit.side == side]
        if values:
            yield _ground("hatch", frame.y(max(values) if side == "min" else min(values)), edge)


def _ground(kind: str, top: float, bottom: float) -> Markup:
    ends = (number(HEIGHT * one / 100) for one in (top, bottom))
    return tag("path", class_=kind, d=f"M0 {next(ends)}H{number(WIDTH)}V{next(ends)}H0Z")


def _across(frame: Frame, value_mm: float) -> str:
    return f"M0 {number(frame.y(value_mm) * HEIGHT / 100)}H{number(WIDTH)}"


def _outlined(strand: Strand) -> bool:
    """Whether the own line says a direction: its range does not span zero."""
    return strand.governs and strand.line is not None and bool(strand.line.lower_mm) and strand.line.says_way


def _outline(strand: Strand, frame: Frame) -> Iterator[Markup]:
    own = strand.line
    assert own is not None
    for edge in (own.lower_mm, own.upper_mm):
        points = list(zip(own.hours, edge, strict=True))
        inside = [frame.at(*one) for one in points[::3] + points[-1:] if one[0] <= frame.hours[1]]
        yield tag("path", class_="own", d=way(inside))


# ---- points ---------------------------------------------------------------------------------------------------------


def _dots(trend: Trend, frame: Frame) -> Iterator[Markup]:
    """Readings with bars of one standard uncertainty, doubted ones hollow, those beyond the edge as arrows."""
    points = _points(trend)
    foremost = trend.foremost
    for strand in trend.strands:
        k = points.index(strand.point)
        serving = strand in foremost
        for dot in strand.dots:
            side = off_axis(trend, dot)
            symbol = {1: "triangle-up", -1: "triangle-down"}.get(side, _symbol(k))
            place = f"--x:{frame.x(dot.hours):.2f};--y:{frame.y(held_mm(trend, dot)):.2f}"
            ink = f"s{k % len(inks.SERIES) + 1}"
            if serving and not side and isfinite(dot.u_um) and dot.u_um > 0:
                share = 200 * dot.u_um / UM_PER_MM / (frame.values[1] - frame.values[0])
                yield tag("span", " ", class_=f"bar {ink}", style=f"{place};--h:{share:.2f}")
            kind = f"dot {ink}{' open' if dot.hollow else ''}{'' if serving else ' past'}"
            inner = joined([tag("title", hover_words(dot)), tag("path", d=inks.MARKERS[symbol])])
            yield tag("svg", inner, class_=kind, viewBox="-8 -8 16 16", style=place)
    if trend.fan is not None and isfinite(trend.fan.now_mm):
        fan = trend.fan
        said = f"estimate {mm(fan.now_mm, fan.limit_mm)} mm ± {significant(fan.now_u_um)} µm\n{whole(trend.as_of_h)} h"
        place = f"--x:{frame.x(trend.as_of_h):.2f};--y:{frame.y(fan.now_mm):.2f}"
        inner = joined([tag("title", said), tag("path", d="M-7 0H7")])
        yield tag("svg", inner, class_="dot now", viewBox="-8 -8 16 16", style=place)


# ---- words ----------------------------------------------------------------------------------------------------------


def _placed(text: str | Markup, axis: str, at: float, class_: str = "") -> Markup:
    return tag("span", text, class_=class_, style=f"--{axis}:{at:.2f}")


def _above(trend: Trend, frame: Frame) -> Iterator[Markup]:
    marks = [mark for mark in trend.marks if frame.hours[0] <= mark.hours <= frame.hours[1]]
    for mark, room in roomy(frame, marks).items():
        yield _placed(mark.text, "x", frame.x(mark.hours), f"{room}{_off(frame, mark.hours)}".strip())


def _off(frame: Frame, hours: float) -> str:
    """The class of words that are not in view: on paper they are left out."""
    return "" if frame.view[0] <= hours <= frame.view[1] else " off"


def _value_ticks(frame: Frame) -> list[tuple[float, str]]:
    low, high = frame.values
    decimals, step = _step((high - low) / VALUE_LINES)
    first = int(low / step) + 1
    return [(k * step, f"{k * step:.{decimals}f}") for k in range(first, int(high / step + 1e-9) + 1)]


def _step(rough: float) -> tuple[int, float]:
    """A round step that is not finer than `rough`, and the decimals it needs.

    >>> _step(0.0123), _step(0.3)
    ((2, 0.02), (1, 0.5))
    """
    for decimals in range(4, -1, -1):
        for factor in (1, 2, 5):
            if (step := factor * 10.0**-decimals) >= rough:
                return decimals, step
    return 0, 10.0 ** len(str(int(rough)))


def _values(frame: Frame) -> Iterator[Markup]:
    yield tag("span", "mm", class_="unit")
    for value, text in _value_ticks(frame):
        yield _placed(text, "y", frame.y(value))


def _beside(trend: Trend, frame: Frame) -> Iterator[Markup]:
    """Limits with their unit, the overlay and what a new one measures, kept apart."""
    levels = [
        (frame.y(limit.limit_mm), f"limit {exact_mm(limit.limit_mm)} mm") for limit in _each(trend.limits)
    ]
    if isfinite(trend.overlay_mm):
        levels.append((frame.y(trend.overlay_mm), "overlay"))
    if trend.limits:
        first = trend.limits[0]
        levels.append((frame.y((first.new_min_mm + first.new_max_mm) / 2), "new"))
    for level, text in spread(levels):
        yield _placed(text, "y", level)


def _each(limits: Iterable[Limit]) -> list[Limit]:
    return list({limit.limit_mm: limit for limit in limits}.values())


def _rows(trend: Trend) -> list[str]:
    """What stands under the chart, line by line."""
    ages = any(tick.shell_h for tick in trend.strokes)
    dated = any(tick.month for tick in trend.strokes)
    return ["total h", *([f"{part_words(trend.quantity)} h"] if ages else []), *(["month"] if dated else [])]


def _names(trend: Trend) -> Iterator[Markup]:
    yield from (tag("span", name) for name in _rows(trend))


def _below(trend: Trend, frame: Frame) -> Iterator[Markup]:
    for k, tick in enumerate(trend.strokes):
        told = joined(tag("span", _told(tick, name) or "\N{NO-BREAK SPACE}") for name in _rows(trend))
        room = "fine" if tick.fine else "odd" if k % 2 else ""
        yield _placed(told, "x", frame.x(tick.hours), f"{room}{_off(frame, tick.hours)}".strip())


def _told(tick: Tick, name: str) -> str:
    return {"total h": whole(tick.hours), "month": tick.month}.get(name, tick.shell_h)
