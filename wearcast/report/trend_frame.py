"""Where things stand in the chart of a trend: shares of its hours and values, and which labels there is room for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wearcast.report.marks import Mark
from wearcast.report.svg import Point

WIDTH, HEIGHT = 1000.0, 300.0
"""Units of the drawing across all hours and all values; a page stretches them to its room."""

WIDE, NARROW = 0.021, 0.055
"""Room for one upright label, as a share of the hours in view, on a screen or sheet and on a telephone (layout)."""

BESIDE = 5.0
"""Room for one label beside a chart, in hundredths of its height (layout)."""

FIRST = ("as_of", "window", "renewal", "fitted", "regrind", "change", "finding", "refit")
"""Kinds of verticals in the order in which they get their labels; the first window ahead goes before all events."""


@dataclass(frozen=True)
class Frame:
    """Hours and values at the edges, and the hours in view until other hours are asked for [h], [mm]."""

    hours: tuple[float, float]
    view: tuple[float, float]
    values: tuple[float, float]

    def x(self, hours: float) -> float:
        """Share of the hours, in hundredths."""
        left, right = self.hours
        return 100.0 * (hours - left) / (right - left)

    def y(self, value_mm: float) -> float:
        """Share of the values from above, in hundredths, held at the edges."""
        low, high = self.values
        return min(max(100.0 * (high - value_mm) / (high - low), 0.0), 100.0)

    def at(self, hours: float, value_mm: float) -> Point:
        """A point of the drawing."""
        return min(max(self.x(hours), 0.0), 100.0) * WIDTH / 100.0, self.y(value_mm) * HEIGHT / 100.0

    @property
    def zoom(self) -> float:
        """How many times the view goes into all hours."""
        return (self.hours[1] - self.hours[0]) / (self.view[1] - self.view[0])


def roomy(frame: Frame, marks: Sequence[Mark]) -> dict[Mark, str]:
    """The labels there is room for and where: `` everywhere, `roomy` not on a telephone; the others are left out.

    As-of and the next window always keep theirs.
    """
    windows = [mark for mark in marks if mark.kind == "window"]
    always = [mark for mark in marks if mark.kind == "as_of"] + windows[:1]
    rest = [mark for mark in marks if mark not in always]
    rest.sort(key=lambda mark: (FIRST.index(mark.kind) if mark.kind != "window" else len(FIRST), mark.hours))
    span = frame.view[1] - frame.view[0]
    found: dict[Mark, str] = {}
    for mark in (*always, *rest):
        gap = min((abs(one.hours - mark.hours) / span for one in found), default=1.0)
        if mark in always or gap >= NARROW:
            found[mark] = ""
        elif gap >= WIDE:
            found[mark] = "roomy"
    return _apart(frame, found, always)


def _apart(frame: Frame, found: dict[Mark, str], always: list[Mark]) -> dict[Mark, str]:
    """As-of and a window so near that their labels would meet: the later one moves along."""
    if len(always) < 2:
        return found
    first, second = always[0], always[1]
    need = WIDE * (frame.view[1] - frame.view[0])
    gap = second.hours - first.hours
    if gap < need:
        moved = Mark(first.hours + need, second.text, second.kind)
        found = {moved if mark is second else mark: room for mark, room in found.items()}
        second = moved
    if gap < need * NARROW / WIDE:
        found[second] = "after"
    return found


def spread(levels: Iterable[tuple[float, str]]) -> list[tuple[float, str]]:
    """Labels beside a chart, from above, moved apart so that none meets the next [hundredths of the height].

    >>> spread([(50.0, "a"), (51.0, "b")])
    [(50.0, 'a'), (55.0, 'b')]
    """
    placed: list[tuple[float, str]] = []
    for level, text in sorted(levels):
        placed.append((max(level, placed[-1][0] + BESIDE if placed else level), text))
    over = placed[-1][0] - 100.0 if placed else 0.0
    return [(level - max(over, 0.0), text) for level, text in placed]
