"""What the crew is asked for at an opening: what to read, where, with which gauge, what to photograph."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearcast.companions.web_deflection import mains_beside
from wearcast.lives.history import EngineKey, History
from wearcast.quantities import HALVES, QUANTITIES

PHOTOGRAPHS = (
    "running surface of each half, straight on",
    "back and joint faces of each half",
    "marks and part identity",
    "journal surface",
    "anything found, with a scale beside it",
)
"""Common practice, no source."""


@dataclass(frozen=True)
class ToRead:
    """One quantity to read at an opening.

    Attributes
    ----------
    where : str
        The place, in words.
    points : tuple of str
        Points as read before, crown where none was; empty where the quantity has none.
    gauge : str
        The gauge last used on this engine, else what is usual.
    when : str
        `as found`, or `as left` for what is read after closing up.
    """

    quantity: str
    where: str
    half: str
    points: tuple[str, ...]
    gauge: str
    when: str

    def __str__(self) -> str:
        """One line of the list."""
        title = QUANTITIES[self.quantity].title
        what = f"{title} {self.half}".strip()
        at = f" at {', '.join(self.points)}" if self.points else ""
        place = f" ({self.where})" if self.where else ""
        return f"{what}{place}{at}, {self.when}: {self.gauge}"


@dataclass(frozen=True, eq=False)
class Practice:
    """How an engine was read before: points by bearing, half and quantity; gauge by quantity; what was read."""

    points: dict[tuple[EngineKey, str, str, str], tuple[str, ...]]
    gauges: dict[tuple[EngineKey, str], str]
    read: frozenset[tuple[EngineKey, str, str]]


def practice_of(history: History) -> Practice:
    """Look up how every engine was read, from its readings."""
    readings = history.readings[history.readings["table"] == "readings"].sort_values("date", kind="stable")
    points: dict[tuple[EngineKey, str, str, str], dict[str, None]] = {}
    gauges: dict[tuple[EngineKey, str], str] = {}
    read: set[tuple[EngineKey, str, str]] = set()
    columns = ("vessel", "engine", "bearing", "half", "quantity", "point", "instrument")
    for vessel, engine, bearing, half, quantity, point, gauge in zip(
        *(readings[name].tolist() for name in columns), strict=True
    ):
        key = (vessel, engine)
        points.setdefault((key, bearing, half, quantity), {})[point] = None
        read.add((key, bearing, quantity))
        if gauge:
            gauges[(key, quantity)] = gauge
    return Practice({name: tuple(found) for name, found in points.items()}, gauges, frozenset(read))


def to_read(
    history: History, practice: Practice, key: EngineKey, bearing: str, position: str
) -> tuple[ToRead, ...]:
    """What to read when a place is opened: each half, then clearance and journal, then what follows closing up."""

    def one(quantity: str, half: str = "", when: str = "as found", where: str = "") -> ToRead:
        usual = ("crown",) if quantity == "wall" else ()
        points = tuple(p for p in practice.points.get((key, bearing, half, quantity), usual) if p)
        gauge = practice.gauges.get((key, quantity), QUANTITIES[quantity].gauge)
        return ToRead(quantity, where, half, points or usual, gauge, when)

    def was_read(quantity: str, of: str = bearing) -> bool:
        return (key, of, quantity) in practice.read

    found = []
    if bearing == "thrust":
        return (one("axial_clearance"), one("axial_clearance", when="as left"))
    walls = QUANTITIES["wall"].name if was_read("wall") or not was_read("wear") else "wear"
    found += [one(walls, half) for half in HALVES] if walls == "wall" else [one("wear")]
    if walls == "wall" or was_read("clearance"):
        found.append(one("clearance"))
    if was_read("journal_diameter"):
        found.append(one("journal_diameter"))
    if bearing == "main":
        if was_read("clearance"):
            found.append(one("clearance", when="as left"))
        if was_read("axial_clearance", "thrust"):
            found.append(one("axial_clearance", when="as left", where="thrust"))
        if was_read("web_deflection", "big_end"):
            found.append(one("web_deflection", when="as left", where=_throws(history, key, position)))
    return tuple(found)


def _throws(history: History, key: EngineKey, position: str) -> str:
    """The throws beside a main."""
    engine = history.engines[key]
    throws = engine.facts.get("throws")
    if not position.isdigit() or not isinstance(throws, float) or np.isnan(throws):
        return "throws beside it"
    numbers = range(1, int(throws) + 1)
    beside = [str(number) for number in numbers if int(position) in mains_beside(engine, str(number))]
    return f"throw{'s' if len(beside) > 1 else ''} {' and '.join(beside)}" if beside else "throws beside it"


def neighbours(places: Sequence[tuple[str, str]], bearing: str, position: str) -> tuple[str, ...]:
    """Places beside one along the shaft, as far as they are there."""
    if not position.isdigit() or bearing == "thrust":
        return ()
    beside = [str(int(position) + step) for step in (-1, 1)]
    return tuple(one for one in beside if (bearing, one) in places)
