"""The crankshaft itself: journals in their bearings, webs and pins, thrust, flywheel, both ends named."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearcast.report.shaft_geometry import Grid
from wearcast.report.svg import joined, number, tag, text

if TYPE_CHECKING:
    from markupsafe import Markup

HEIGHT = 126.0
AXIS = 66.0
"""The shaft's axis below the top of its lane."""

_PIN = 36.0
_JOURNAL_HALF, _PIN_HALF = 10.0, 8.0
_WEB_FROM, _WEB_TO = 0.26, 0.36
"""Where a web begins and ends, in parts of the pitch from the main."""


def crank(grid: Grid, read: frozenset[tuple[str, int]], thrust_read: bool) -> Markup:
    """The shaft with its bearings; those never read are drawn empty.

    Parameters
    ----------
    read : frozenset of (str, int)
        Kind and number of the bearings that were read.
    """
    body = _body(grid)
    outline = "".join(_rect(*one) for one in body)
    parts = [
        tag("path", class_="steel-edge", d=outline),
        tag("path", class_="steel", d=outline),
        tag("path", class_="axis", d=f"M{number(grid.first_x - 6)} {number(AXIS)}H{number(grid.last_x + 6)}"),
    ]
    parts += [
        _flywheel(grid),
        *_shells(grid, read),
        *_thrust(grid, thrust_read),
        *_numbers(grid),
        *_ends(grid),
    ]
    return joined(parts)


def _rect(x: float, y: float, width: float, height: float) -> str:
    return f"M{number(x)} {number(y)}h{number(width)}v{number(height)}h{number(-width)}Z"


def _body(grid: Grid) -> list[tuple[float, float, float, float]]:
    """Journals, webs and pins as rectangles: x, y, width, height."""
    pitch, found = grid.pitch, []
    web = (_WEB_TO - _WEB_FROM) * pitch
    for main in grid.line.mains:
        x = grid.main_x(main)
        found.append((x - 0.5 * pitch, AXIS - _JOURNAL_HALF, pitch, 2 * _JOURNAL_HALF))
    cut = {throw: grid.throw_x(throw) for throw in grid.line.throws if _has_place(grid, throw)}
    found = _without_throws(found, list(cut.values()), pitch)
    for x in cut.values():
        for left in (x - 0.5 * pitch + _WEB_FROM * pitch, x + 0.5 * pitch - _WEB_TO * pitch):
            top = AXIS - _PIN - _PIN_HALF - 7
            found.append((left, top, web, AXIS + _JOURNAL_HALF + 7 - top))
        inner = (0.5 - _WEB_TO) * pitch
        found.append((x - inner, AXIS - _PIN - _PIN_HALF, 2 * inner, 2 * _PIN_HALF))
    return found


def _without_throws(
    journals: list[tuple[float, float, float, float]], throws: list[float], pitch: float
) -> list[tuple[float, float, float, float]]:
    """Journals drawn only as far as the webs beside them."""
    found = []
    for x, y, width, height in journals:
        left, right = x, x + width
        if any(abs(throw - x) < 1 for throw in throws):
            left += (0.5 - _WEB_TO) * pitch
        if any(abs(throw - (x + width)) < 1 for throw in throws):
            right -= (0.5 - _WEB_TO) * pitch
        found.append((left, y, right - left, height))
    return found


def _has_place(grid: Grid, throw: int) -> bool:
    left = grid.line.left_of(throw)
    return left in grid.line.mains and left + 1 in grid.line.mains


def _flywheel(grid: Grid) -> Markup:
    at_left = grid.line.ends[0] == "flywheel end"
    x = grid.first_x - 15 if at_left else grid.last_x
    return joined(
        [
            tag("path", class_="steel-edge", d=_rect(x, AXIS - 46, 15, 92)),
            tag("path", class_="steel", d=_rect(x, AXIS - 46, 15, 92)),
        ]
    )


def _shells(grid: Grid, read: frozenset[tuple[str, int]]) -> list[Markup]:
    found = []
    for main in grid.line.mains:
        found.append(_pair(grid.main_x(main), AXIS, 19.0, _JOURNAL_HALF, ("main", main) in read))
    for throw in grid.line.throws:
        if _has_place(grid, throw):
            found.append(_pair(grid.throw_x(throw), AXIS - _PIN, 11.0, _PIN_HALF, ("big_end", throw) in read))
    return found


def _pair(x: float, y: float, half_width: float, half_height: float, read: bool) -> Markup:
    """The two shells of a bearing, above and below its journal."""
    d = _rect(x - half_width, y - half_height - 6.5, 2 * half_width, 5.5)
    d += _rect(x - half_width, y + half_height + 1, 2 * half_width, 5.5)
    return tag("path", class_="shell" if read else "shell never", d=d)


def _thrust(grid: Grid, read: bool) -> list[Markup]:
    at = grid.line.thrust_at
    if not at.isdigit() or int(at) not in grid.line.mains:
        return []
    x = grid.main_x(int(at))
    d = "".join(_rect(left, AXIS - 17, 4, 34) for left in (x - 26, x + 22))
    return [
        tag("path", class_="shell" if read else "shell never", d=d),
        text("thrust", x, AXIS + 45, "quiet", "middle"),
    ]


def _numbers(grid: Grid) -> list[Markup]:
    found = [text(f"main {main}", grid.main_x(main), AXIS + 32, "name", "middle") for main in grid.line.mains]
    found += [
        text(f"throw {throw}", grid.throw_x(throw), AXIS + 32, "quiet", "middle")
        for throw in grid.line.throws
        if _has_place(grid, throw)
    ]
    return found


def _ends(grid: Grid) -> list[Markup]:
    first, last = grid.line.ends
    room = 20.0
    return [
        text(first, grid.first_x - (room if first.startswith("fly") else 8), AXIS + 4, "end", "end"),
        text(last, grid.last_x + (room if last.startswith("fly") else 8), AXIS + 4, "end"),
    ]
