"""Web deflections drawn along the shaft, throw by throw: the last measurement, earlier ones fainter, the limits."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Any

import pandas as pd

from wearcast.frames import rows_of
from wearcast.report.shaft_geometry import LEFT, Grid
from wearcast.report.shaft_order import split_label
from wearcast.report.svg import dots, joined, number, tag, text, way
from wearcast.words import day, exact_mm, signed, signed_mm, whole

if TYPE_CHECKING:
    from markupsafe import Markup

SCALE_HEIGHT = 96.0
ROW = 15.0
TOP = 34.0
HEIGHT = TOP + SCALE_HEIGHT + 4 * ROW + 12.0

NOT_READ = "–"

EARLIER = 4
"""Most earlier measurements that are drawn."""

LEAST_MM = 0.03
"""A scale never shows less than this on either side of 0 (layout)."""


@dataclass(frozen=True)
class Measured:
    """One throw at one measurement, webs opening plus [mm]."""

    throw: int
    vertical_mm: float
    horizontal_mm: float
    closure_um: float
    closes: bool


@dataclass(frozen=True)
class ShaftMeasured:
    """One measurement of the throws of an engine."""

    on: str
    conditions: str
    throws: tuple[Measured, ...]


@dataclass(frozen=True)
class Deflections:
    """All that is drawn: measurements, oldest first, and the limits [mm] (NaN: none given)."""

    openings: tuple[ShaftMeasured, ...]
    min_mm: float
    max_mm: float
    sign_on_form: str


def deflections_of(table: pd.DataFrame, line: tuple[int, ...]) -> Deflections | None:
    """What `companions.web_deflection.web_deflections` gives for one engine, for drawing; None without a throw.

    Parameters
    ----------
    table : DataFrame
        Rows of one engine.
    line : tuple of int
        Throws that have a place along the shaft.
    """
    rows = [row for row in rows_of(table) if split_label(str(row.position))[0] in line]
    if not any(isfinite(row.vertical_mm) or isfinite(row.horizontal_mm) for row in rows):
        return None
    groups: dict[tuple[Any, str], list[Any]] = {}
    for row in sorted(rows, key=lambda row: (row.date, row.state != "as_found")):
        groups.setdefault((row.date, row.state), []).append(row)
    last = rows[-1]
    return Deflections(
        tuple(_opening(several) for several in groups.values()),
        float(last.min_mm),
        float(last.max_mm),
        str(last.sign_on_form),
    )


def _opening(rows: list[Any]) -> ShaftMeasured:
    first = rows[0]
    return ShaftMeasured(
        day(first.date.date()),
        first.conditions if isinstance(first.conditions, str) else "",
        tuple(
            sorted(
                (
                    Measured(
                        split_label(str(row.position))[0],
                        float(row.vertical_mm),
                        float(row.horizontal_mm),
                        float(row.closure_um),
                        row.closes is not False,
                    )
                    for row in rows
                ),
                key=lambda one: one.throw,
            )
        ),
    )


def deflection_lane(grid: Grid, found: Deflections) -> Markup:
    """The lane, its top at 0."""
    scale = _Scale(grid, _most_mm(found))
    earlier, last = found.openings[:-1][-EARLIER:], found.openings[-1]
    parts = [*_frame(grid, scale, found)]
    for one in earlier:
        parts.append(tag("g", _series(scale, one), class_="earlier"))
    parts += [tag("g", _series(scale, last), class_="latest"), *_said(grid, last)]
    return joined(parts)


@dataclass(frozen=True)
class _Scale:
    grid: Grid
    most_mm: float

    def y(self, value_mm: float) -> float:
        return TOP + SCALE_HEIGHT * (0.5 - 0.5 * max(-1.0, min(1.0, value_mm / self.most_mm)))

    def x(self, throw: int) -> float:
        return self.grid.throw_x(throw)


def _most_mm(found: Deflections) -> float:
    values = [abs(v) for o in found.openings for t in o.throws for v in (t.vertical_mm, t.horizontal_mm)]
    values += [abs(found.min_mm), abs(found.max_mm), LEAST_MM]
    return 1.15 * max(value for value in values if isfinite(value))


def _frame(grid: Grid, scale: _Scale, found: Deflections) -> list[Markup]:
    left, right = grid.first_x, grid.last_x
    zero = scale.y(0.0)
    parts = [
        text("Web deflection, mm", 0.0, 11.0, "lane"),
        text("webs opening +", 0.0, 25.0, "quiet"),
        tag("path", class_="zero", d=f"M{number(left)} {number(zero)}H{number(right)}"),
        text("0", left - 5, zero + 3.5, "quiet", "end"),
        text("shaft low here", right + 5, scale.y(0.5 * scale.most_mm) + 3.5, "quiet"),
        text("shaft high here", right + 5, scale.y(-0.5 * scale.most_mm) + 3.5, "quiet"),
    ]
    for limit_mm, edge in ((found.max_mm, scale.y(scale.most_mm)), (found.min_mm, scale.y(-scale.most_mm))):
        if isfinite(limit_mm):
            y = scale.y(limit_mm)
            top, bottom = min(y, edge), max(y, edge)
            band = f"M{number(left)} {number(top)}H{number(right)}V{number(bottom)}H{number(left)}Z"
            parts += [
                tag("path", class_="hatch", d=band),
                tag("path", class_="limit", d=f"M{number(left)} {number(y)}H{number(right)}"),
                text(signed_mm(limit_mm), left - 5, y + 3.5, "quiet", "end"),
                text("limit", right + 5, y + 3.5, "quiet"),
            ]
    return parts


def _series(scale: _Scale, one: ShaftMeasured) -> Markup:
    """Top less bottom as dots on a line, port less starboard as squares; hollow where it does not close."""
    vertical = [(scale.x(t.throw), scale.y(t.vertical_mm), t) for t in one.throws if isfinite(t.vertical_mm)]
    across = [(scale.x(t.throw), scale.y(t.horizontal_mm)) for t in one.throws if isfinite(t.horizontal_mm)]
    closed = [(x, y) for x, y, t in vertical if t.closes]
    parts = []
    if len(vertical) > 1:
        parts.append(tag("path", class_="line-1", d=way((x, y) for x, y, _ in vertical)))
    if len(across) > 1:
        parts.append(tag("path", class_="line-2", d=way(across)))
    if across:
        squares = "".join(f"M{number(x - 3)} {number(y - 3)}h6v6h-6Z" for x, y in across)
        parts.append(tag("path", class_="mark-2", d=squares))
    if closed:
        parts.append(tag("path", class_="dots-1", d=dots(closed)))
    parts += [tag("circle", class_="open-1", cx=x, cy=y, r="3.2") for x, y, t in vertical if not t.closes]
    return joined(parts)


def _said(grid: Grid, last: ShaftMeasured) -> list[Markup]:
    """The figures of the last measurement under their throws."""
    y = TOP + SCALE_HEIGHT + ROW
    rows = (
        ("top − bottom", "mark-1", [signed_mm(t.vertical_mm) or NOT_READ for t in last.throws]),
        ("port − starboard", "mark-2", [signed_mm(t.horizontal_mm) or NOT_READ for t in last.throws]),
        ("closure, µm", "", [signed(t.closure_um) or NOT_READ for t in last.throws]),
    )
    parts = [text(f"read {last.on}", LEFT - 14, y + 3 * ROW, "quiet", "end")]
    if last.conditions:
        parts.append(text(last.conditions, LEFT + 4, y + 3 * ROW, "quiet"))
    for k, (name, mark, values) in enumerate(rows):
        at = y + k * ROW
        parts.append(text(name, LEFT - 14, at, "quiet", "end"))
        if mark == "mark-1":
            parts.append(tag("circle", class_="mark-1", cx=LEFT - 6, cy=at - 4, r="3.2"))
        elif mark:
            parts.append(tag("path", class_="mark-2", d=f"M{number(LEFT - 9)} {number(at - 7)}h6v6h-6Z"))
        parts += [
            text(value, grid.throw_x(t.throw), at, "figure" if mark else "quiet", "middle")
            for t, value in zip(last.throws, values, strict=True)
        ]
    return parts


def largest_mm(one: ShaftMeasured) -> float:
    """The largest deflection of a measurement in either direction [mm]; NaN where nothing was read."""
    values = [abs(v) for t in one.throws for v in (t.vertical_mm, t.horizontal_mm) if isfinite(v)]
    return max(values, default=float("nan"))


def in_strokes(most_mm: float, stroke_mm: float) -> str:
    """A deflection as a part of the stroke, in words; empty where the stroke is not known."""
    if not (isfinite(most_mm) and isfinite(stroke_mm)) or most_mm <= 0:
        return ""
    return (
        f"The largest, {exact_mm(round(most_mm, 4))} mm, is 1/{whole(round(stroke_mm / most_mm, -2))} of the "
        f"stroke of {whole(stroke_mm)} mm; about 1/10 000 ({exact_mm(round(stroke_mm / 10_000, 3))} mm) is called "
        f"good and 1/5 000 ({exact_mm(round(stroke_mm / 5_000, 3))} mm) calls for action: common practice, never a "
        "limit; the maker's value governs."
    )
