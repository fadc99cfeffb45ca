"""Shells of a size in service of which the store holds none, while it holds others of that bearing.

A standard shell on a reground journal has burnt an engine room (US NTSB, MIR-23-08): the shell at hand is the one
that gets fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.family import Found
from wearcast.frames import rows_of
from wearcast.lives.about import query_about
from wearcast.lives.history import History
from wearcast.lives.shells import Place, bearing_key, engine_key, same_size
from wearcast.queries import Query


def find_sizes_not_in_store(history: History, counted: NDArray[np.bool_]) -> Found:  # noqa: ARG001
    """One query for each bearing whose shells in service are of a size that is neither on hand nor on order."""
    spares = list(rows_of(history.records.spares))
    asked: dict[tuple[Place, str], list[str]] = {}
    for life in history.lives:
        if life.in_service and life.quantity == "wall":
            at = life.place
            place = Place(*bearing_key(at))
            asked.setdefault((place, life.shell_size), []).append(at.half)
    queries = []
    for (place, size), halves in asked.items():
        engine_type = history.engines[engine_key(place)].engine_type
        of_bearing = [row for row in spares if (row.engine_type, row.bearing) == (engine_type, place.bearing)]
        missing = [half for half in halves if _only_others(of_bearing, half, size)]
        if missing:
            queries.append(_store_query(place, size, missing, of_bearing))
    return Found(tuple(queries))


def _only_others(of_bearing: Sequence[Any], half: str, size: str) -> bool:
    fitting = [row for row in of_bearing if row.half in (half, "pair", "")]
    mine = [row for row in fitting if same_size(row.shell_size, size)]
    others = [row for row in fitting if not same_size(row.shell_size, size)]
    have = sum(np.nansum([row.on_hand, row.on_order]) for row in mine)
    return not have and any(row.on_hand > 0 for row in others)


def _store_query(place: Place, size: str, halves: Sequence[str], of_bearing: Sequence[Any]) -> Query:
    rows = [row for row in of_bearing if same_size(row.shell_size, size)] or list(of_bearing)
    held = sorted(
        {row.shell_size for row in of_bearing if row.on_hand > 0 and not same_size(row.shell_size, size)}
    )
    text = (
        f"the {' and '.join(halves)} shell at {place} is of size {size}; the store has none of that size on hand or on "
        f"order, only {', '.join(held)}."
    )
    return query_about(
        rows,
        "spares_size",
        text,
        f"Order {size} shells by that size, and never fit another on this journal.",
        table="spares",
        column="on_hand",
        evidence=float(len(halves)),
        **{**vars(place), "half": halves[0] if len(halves) == 1 else ""},
    )
