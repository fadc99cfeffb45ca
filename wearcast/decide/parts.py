"""Parts: what is in store, how long it takes to come, and which places take which part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.history import History
from wearcast.lives.shells import bearing_key, engine_key, same_size
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES

PAIR = "pair"
ORDERED_BY = tuple(one.name for one in QUANTITIES.values() if one.orders)
"""Quantities whose limit renews a shell. A clearance stands in for them only where no wall is read: it is the
same wear seen a second time."""


class PartKey(NamedTuple):
    """What makes two shells the same part to order."""

    engine_type: str
    bearing: str
    half: str
    shell_size: str


@dataclass(frozen=True)
class Part:
    """One part with its store.

    Attributes
    ----------
    half : str
        `upper`, `lower`, `pair`, or empty where the part has no halves.
    in_spares : bool
        False where the spares table has no row for it: nothing in store, time to come unknown.
    lead_time_days, forwarding_days, margin_days : float
        NaN lead time: unknown.
    unit_cost : float
        NaN where not given.
    """

    engine_type: str
    bearing: str
    half: str
    shell_size: str
    part_reference: str
    on_hand: int
    on_order: int
    minimum_on_board: int
    lead_time_days: float
    forwarding_days: float
    margin_days: float
    unit_cost: float
    currency: str
    in_spares: bool

    @property
    def key(self) -> PartKey:
        """The part without its reference."""
        return PartKey(self.engine_type, self.bearing, self.half, self.shell_size.casefold())

    @property
    def days_to_come(self) -> float:
        """Lead time, forwarding and margin [days]; NaN where unknown."""
        return self.lead_time_days + self.forwarding_days + self.margin_days

    def __str__(self) -> str:
        """The part in words."""
        words = (self.engine_type, self.bearing.replace("_", " "), self.half, self.shell_size)
        return " ".join(word for word in words if word)


@dataclass(frozen=True)
class Taker:
    """One place and half that takes a part; `lives` are the shell lives whose limit renews it."""

    vessel: str
    engine: str
    bearing: str
    position: str
    half: str
    shell_size: str
    engine_type: str
    lives: tuple[int, ...]
    by_clearance: bool = False

    @property
    def place(self) -> tuple[str, str, str, str]:
        """Vessel, engine, bearing and position."""
        return bearing_key(self)

    def __str__(self) -> str:
        """Vessel, engine and place in words."""
        return f"{self.vessel} {self.engine} {self.bearing.replace('_', ' ')} {self.position}"


def spare_parts(spares: pd.DataFrame, lead_time_days: float | None = None) -> tuple[Part, ...]:
    """Parts of the spares table; several rows of one part are one store, its slowest row the time to come.

    Parameters
    ----------
    lead_time_days : float, optional
        Another lead time for every part [days].
    """
    found: dict[tuple[PartKey, str], Part] = {}
    for row in rows_of(spares):
        part = Part(
            engine_type=row.engine_type,
            bearing=row.bearing,
            half=row.half,
            shell_size=row.shell_size,
            part_reference=row.part_reference,
            on_hand=_count(row.on_hand),
            on_order=_count(row.on_order),
            minimum_on_board=_count(row.minimum_on_board),
            lead_time_days=float(row.lead_time_days) if lead_time_days is None else lead_time_days,
            forwarding_days=float(np.nan_to_num(row.forwarding_days)),
            margin_days=float(np.nan_to_num(row.margin_days)),
            unit_cost=float(row.unit_cost),
            currency=row.currency,
            in_spares=True,
        )
        before = found.get((part.key, part.part_reference))
        found[(part.key, part.part_reference)] = part if before is None else _together(before, part)
    return tuple(found.values())


def _count(value: float) -> int:
    return 0 if np.isnan(value) else int(value)


def _together(one: Part, other: Part) -> Part:
    slower = max(one, other, key=lambda part: part.days_to_come)
    return Part(
        **{
            **{name: getattr(slower, name) for name in Part.__dataclass_fields__},
            "on_hand": one.on_hand + other.on_hand,
            "on_order": one.on_order + other.on_order,
            "minimum_on_board": max(one.minimum_on_board, other.minimum_on_board),
        }
    )


def takers(history: History) -> tuple[Taker, ...]:
    """Every place and half of an engine that takes a shell, with the lives in service that wear it out."""
    by_place: dict[tuple[str, str, str, str], dict[str, list[int]]] = {}
    clearances: dict[tuple[str, str, str, str], int] = {}
    limited = {one.life for one in history.series if one.limit is not None}
    for index, life in enumerate(history.lives):
        if not life.in_service or index not in limited:
            continue
        at = life.place
        place = bearing_key(at)
        if life.quantity in ORDERED_BY:
            by_place.setdefault(place, {}).setdefault(at.half, []).append(index)
        elif life.quantity == "clearance":
            clearances[place] = index
    found = [
        _taker(history, place, half, tuple(lives))
        for place, halves in by_place.items()
        for half, lives in halves.items()
    ]
    found += [
        _taker(history, place, half, (index,), by_clearance=True)
        for place, index in clearances.items()
        if place not in by_place
        for half in HALVES
    ]
    engines = {key: k for k, key in enumerate(history.engines)}
    return tuple(sorted(found, key=lambda one: _order(one, engines)))


def with_partners(places: tuple[Taker, ...]) -> tuple[Taker, ...]:
    """The places with the other half of every bearing of which only one half is read."""
    have = {(one.place, one.half) for one in places}
    missing = [
        replace(one, half=half, lives=(), by_clearance=False)
        for one in places
        for half in HALVES
        if one.half and (one.place, half) not in have
    ]
    return (*places, *missing)


def _taker(
    history: History,
    place: tuple[str, str, str, str],
    half: str,
    lives: tuple[int, ...],
    by_clearance: bool = False,
) -> Taker:
    first = history.lives[lives[0]]
    engine_type = history.engine_of(first).engine_type
    return Taker(*place, half, first.shell_size, engine_type, lives, by_clearance)


def _order(one: Taker, engines: dict[tuple[str, str], int]) -> tuple[object, ...]:
    number = int(one.position) if one.position.isdigit() else 10**9
    at = engines[engine_key(one)], BEARINGS.index(one.bearing)
    return *at, number, one.position, one.half


def parts_in_use(history: History, store: Iterable[Part], of: Iterable[Taker]) -> tuple[Part, ...]:
    """The parts of the store, and those that places take of which the store has no row."""
    store = tuple(store)
    found = list(store)
    have = {part.key for part in store}
    for one in of:
        half = one.half
        key = PartKey(one.engine_type, one.bearing, half, one.shell_size.casefold())
        if key in have or key._replace(half=PAIR) in have:
            continue
        have.add(key)
        found.append(_without_store(history, one, half))
    halves = (*HALVES, PAIR, "")
    return tuple(
        sorted(
            found,
            key=lambda part: (
                part.engine_type, BEARINGS.index(part.bearing), part.shell_size.casefold() != "standard",
                part.shell_size, halves.index(part.half),
            ),
        )
    )  # fmt: skip


def _without_store(history: History, one: Taker, half: str) -> Part:
    quantity = history.lives[one.lives[0]].quantity if one.lives else ORDERED_BY[0]
    rows = history.limits.of_class(one.engine_type, one.bearing, half, quantity)
    reference = next(
        (
            row.part_reference
            for row in rows
            if same_size(row.shell_size, one.shell_size) and row.part_reference
        ),
        "",
    )
    unknown = float("nan")
    return Part(
        one.engine_type, one.bearing, half, one.shell_size, reference, 0, 0, 0, unknown, 0.0, 0.0, unknown, "", False
    )  # fmt: skip
