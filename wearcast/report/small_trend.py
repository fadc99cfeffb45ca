"""A small trend: readings, renewals, where the engine stands, the fan to the limit; the inks of the large charts."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING

from wearcast.report.fan_shape import fan_areas, middle_way
from wearcast.report.svg import Point, dots, joined, number, polygon, tag, way
from wearcast.report.trends import Trend

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

NEW_ROOM, LIMIT_ROOM = 0.40, 0.26
"""Room beyond the new value and beyond the limit, in parts of the allowance (layout)."""


EDGE = 2.6
"""How far from the edge a dot stays."""


@dataclass(frozen=True)
class Box:
    """Where a small trend is drawn, with the hours and values at its edges."""

    width: float
    height: float
    hours: tuple[float, float]
    values: tuple[float, float]

    def at(self, hours: float, value_mm: float) -> Point:
        """A point in the box; what lies outside is held at its edge."""
        (left, right), (low, high) = self.hours, self.values
        x = (hours - left) / (right - left) * self.width
        y = (high - value_mm) / (high - low) * self.height
        return min(max(x, 0.0), self.width), min(max(y, 0.0), self.height)

    def inside(self, hours: float, value_mm: float) -> Point:
        """The same for a dot, which is held wholly inside."""
        x, y = self.at(hours, value_mm)
        return min(max(x, EDGE), self.width - EDGE), min(max(y, EDGE), self.height - EDGE)


def small_trend(trend: Trend, width: float, height: float) -> Markup:
    """The drawing in a box of `width` by `height`, its corner at 0, 0."""
    box = Box(width, height, trend.hours_axis, values_of(trend))
    return joined(
        part
        for part in (
            *_limits(trend, box),
            *_fan(trend, box),
            *_verticals(trend, box),
            *_readings(trend, box),
        )
        if part
    )


def values_of(trend: Trend) -> tuple[float, float]:
    """Values at the lower and upper edge [mm]: new and limit at one height in every box with one side of limit."""
    if not trend.limits:
        return trend.value_axis
    limit = trend.limits[0]
    ends = (
        limit.value_mm(-NEW_ROOM * limit.allowance_um),
        limit.value_mm((1 + LIMIT_ROOM) * limit.allowance_um),
    )
    others = [one.limit_mm for one in trend.limits[1:] if one.side != limit.side]
    return min(*ends, *others), max(*ends, *others)


def _limits(trend: Trend, box: Box) -> Iterable[Markup]:
    for side in dict.fromkeys(limit.side for limit in trend.limits):
        values = [limit.limit_mm for limit in trend.limits if limit.side == side]
        _, y = box.at(0.0, max(values) if side == "min" else min(values))
        top, bottom = (y, box.height) if side == "min" else (0.0, y)
        if bottom - top > 0.5:
            yield tag("path", class_="hatch", d=_across(top, bottom, box.width))
        yield tag("path", class_="limit", d=f"M0 {number(y)}h{number(box.width)}")


def _across(top: float, bottom: float, width: float) -> str:
    return f"M0 {number(top)}h{number(width)}V{number(bottom)}H0Z"


def _fan(trend: Trend, box: Box) -> Iterable[Markup]:
    if trend.fan is None:
        return
    right_h = trend.hours_axis[1]
    for area in fan_areas(trend.fan, trend.as_of_h, right_h):
        yield tag("path", class_="fan", d=polygon(box.at(*corner) for corner in area))
    middle = middle_way(trend.fan, trend.as_of_h, right_h)
    if middle:
        yield tag("path", class_="way", d=way(box.at(*corner) for corner in middle))


def _verticals(trend: Trend, box: Box) -> Iterable[Markup]:
    """Renewals, the as-of moment and the first two windows ahead."""
    inside = [mark for mark in trend.marks if trend.hours_axis[0] <= mark.hours <= trend.hours_axis[1]]
    kinds = {
        "new": [mark for mark in inside if mark.kind in ("fitted", "renewal", "regrind")],
        "asof": [mark for mark in inside if mark.kind == "as_of"],
        "ahead": [mark for mark in inside if mark.kind == "window"][:2],
    }
    for kind, marks in kinds.items():
        if marks:
            lines = "".join(f"M{number(box.at(mark.hours, 0.0)[0])} 0v{number(box.height)}" for mark in marks)
            yield tag("path", class_=kind, d=lines)


def _readings(trend: Trend, box: Box) -> Iterable[Markup]:
    """Readings of the point that governs: earlier lives smaller, doubted ones hollow."""
    foremost = trend.foremost
    serving = next((strand for strand in foremost if strand.governs), None)
    point = serving.point if serving else next(iter(sorted(strand.point for strand in foremost)), "")
    filled: dict[str, list[Point]] = {"past": [], "read": []}
    hollow: list[Point] = []
    for strand in (strand for strand in trend.strands if strand.point == point):
        kind = "read" if any(strand is one for one in foremost) else "past"
        for dot in (dot for dot in strand.dots if isfinite(dot.value_mm)):
            (hollow if dot.hollow else filled[kind]).append(box.inside(dot.hours, dot.value_mm))
    for kind, places in filled.items():
        if places:
            yield tag("path", class_=kind, d=dots(places))
    for x, y in hollow:
        yield tag("circle", class_="doubt", cx=x, cy=y, r="2")
