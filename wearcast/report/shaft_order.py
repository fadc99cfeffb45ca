"""The places of an engine in the order they stand along its shaft, No. 1 first."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

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


@dataclass(frozen=True)
class Line:
    """The shaft line as counted.

    Attributes
    ----------
    mains : tuple of int
        Numbers of the mains, No. 1 (or 0) first.
    throws : tuple of int
        Numbers of the throws.
    outboard : bool
        Main 0 stands outside the first throw.
    ends : tuple of str
        The end that No. 1 stands at, and the other.
    thrust_at : str
        The main that takes the thrust; empty where not said.
    """

    mains: tuple[int, ...]
    throws: tuple[int, ...]
    outboard: bool
    ends: tuple[str, str]
    thrust_at: str

    def left_of(self, throw: int) -> int:
        """Number of the main that a throw stands after."""
        first = self.mains[0] if self.mains else 1
        return first + throw - 1 + int(self.outboard)


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
    for bearing, start, number in (
        ("main", _whole(facts.get("first_main"), 1), _whole(facts.get("mains"), 0)),
        ("big_end", 1, _whole(facts.get("throws"), 0)),
    ):
        for k in range(start, start + min(number, MOST)):
            if (bearing, k) not in numbered:
                spots.add(Spot(bearing, str(k)))
    return tuple(sorted(spots, key=lambda spot: spot.order))


MOST = 99
"""Most mains or throws that are drawn: more is a slip of the keyboard."""


def line_of(facts: Mapping[str, object], spots: Iterable[Spot]) -> Line:
    """The shaft line of an engine: mains and throws that it has by its facts or that records name."""
    several = tuple(spots)
    first = _whole(facts.get("first_main"), 1)
    mains = {first + k for k in range(min(_whole(facts.get("mains"), 0), MOST))}
    throws = {1 + k for k in range(min(_whole(facts.get("throws"), 0), MOST))}
    mains |= _numbers(several, ("main",))
    throws |= _numbers(several, ("big_end", "small_end", THROW))
    outboard = first == 0 and len(mains) == len(throws) + 2
    if throws:
        left = first + int(outboard)
        mains |= set(range(left, left + max(throws) + 1))
    if mains:
        mains |= set(range(min(mains), max(mains) + 1))
    at = facts.get("thrust_at")
    flywheel = facts.get("numbered_from") == "flywheel"
    return Line(
        tuple(sorted(mains)),
        tuple(sorted(throws)),
        outboard,
        ("flywheel end", "free end") if flywheel else ("free end", "flywheel end"),
        str(at) if isinstance(at, str) else "",
    )


def _numbers(spots: Iterable[Spot], bearings: tuple[str, ...]) -> set[int]:
    return {
        number
        for spot in spots
        if spot.bearing in bearings and (number := split_label(spot.position)[0]) <= MOST
    }


def _whole(value: object, otherwise: int) -> int:
    if isinstance(value, int | float) and isfinite(value):
        return int(value)
    return int(value) if isinstance(value, str) and value.isdigit() else otherwise
