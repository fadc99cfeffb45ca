"""Rules between the cells of one row, and between the rows of one table."""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType

import numpy as np

from wearcast.quantities import BEARINGS, HALVES, QUANTITIES, Quantity
from wearcast.records.cells import one_of
from wearcast.records.drafts import Draft, Mask
from wearcast.records.limit_checks import check_limits
from wearcast.records.rules import NOTHING, check_half, check_points, check_sign, refuse_doubles


def check(made: Draft) -> None:
    """Refuse the rows whose cells contradict each other."""
    rule = CHECKS.get(made.table.name)
    if rule and made.whole and len(made.stands):
        rule(made)


def check_readings(made: Draft) -> None:
    """Half, point, sign and bearing as the quantity has them."""
    for quantity in QUANTITIES.values():
        rows = made.read("quantity") & (made.values["quantity"] == quantity.name)
        if rows.any():
            check_half(made, rows, quantity)
            _check_point(made, rows, quantity)
            check_sign(made, rows, "value", quantity)
    rows = made.read("quantity", "bearing") & (made.values["quantity"] == "web_deflection")
    made.refuse(
        rows & (made.values["bearing"] != "big_end"),
        "bearing",
        "big_end for a web deflection",
        "Write big_end; the position is the throw.",
    )


def _check_point(made: Draft, rows: Mask, quantity: Quantity) -> None:
    point = made.values["point"]
    rows = rows & made.read("point")
    if quantity.name == "wall":
        point[rows & (point == "")] = "crown"
    if quantity.name == "web_deflection":
        made.refuse(
            rows & (point == ""),
            "point",
            f"{one_of(quantity.points)} for a web deflection",
            "Write where the crank stood.",
        )
    check_points(made, rows, quantity)


def check_engines(made: Draft) -> None:
    """Each engine once."""
    rows = made.read("vessel", "engine")
    refuse_doubles(
        made,
        rows,
        ("vessel", "engine"),
        "engine",
        "named in one row",
        "Keep the row that is right and take the others out.",
    )


_STARTS_SHELL = ("fitted", "renewal")
_HAS_SIZE = (*_STARTS_SHELL, "regrind")
_OF_THE_ENGINE = ("counter_change", "counter")


def check_events(made: Draft) -> None:
    """What each kind of event must say, and what it cannot."""
    event = made.values["event"]
    known = made.read("event")
    change = known & (event == "counter_change")
    wear = known & (event == "change")
    elsewhere = known & ~wear & ~np.isin(event, _OF_THE_ENGINE)
    _need(
        made,
        known & ~wear,
        "engine",
        "the engine",
        "Only a change may leave it empty: of every engine aboard.",
    )
    _need(made, wear, "finding", "what changed: fuel, oil, load, alignment, filter, or in your words")
    whole = (event == "opened") & ~made.filled("bearing")
    _need(made, elsewhere & ~whole, "bearing", f"{one_of(BEARINGS)}")
    _need(made, elsewhere & ~whole, "position", "the position of the bearing")
    timed = known & (event != "fitted")
    _need(
        made,
        timed,
        "date",
        "the date of the event",
        "Only fitted may leave it empty: fitted at an unknown time.",
    )
    _need(
        made,
        known & np.isin(event, _OF_THE_ENGINE),
        "counter_h",
        "the dial at the event",
        "A row of running hours is nothing without it.",
    )
    _need(made, change, "new_counter_h", "the first reading of the new dial")
    _need(made, known & np.isin(event, _HAS_SIZE), "shell_size", "the shell size, such as standard or U25",
          "Look it up on the shell or in the overhaul report; it is never assumed.")  # fmt: skip
    _need(made, known & (event == "finding"), "finding", "what was found")
    shells = np.isin(event, _STARTS_SHELL) & np.isin(made.values["bearing"], ("main", "big_end"))
    _need(
        made,
        known & shells,
        "half",
        one_of(HALVES),
        "Write which half-bearing it was; for both, write two rows.",
    )
    _need(
        made, made.read("new_value") & made.filled("new_value"), "unit", "the unit of new_value: mm, um or in"
    )
    for column in ("bearing", "position", "half"):
        for kind in _OF_THE_ENGINE:
            rows = known & (event == kind) & made.filled(column) & made.read(column)
            made.refuse(rows, column, f"{NOTHING}: a {kind} is of the whole engine", "Empty the cell.")
    made.refuse(
        known & ~change & made.filled("new_counter_h") & made.read("new_counter_h"),
        "new_counter_h",
        f"{NOTHING}: only a counter_change has a new dial",
        "Empty the cell, or write the counter_change as a row of its own.",
    )


def _need(made: Draft, rows: Mask, column: str, expected: str, suggestion: str = "Fill it in.") -> None:
    made.refuse(rows & ~made.filled(column), column, expected, suggestion)


CHECKS: MappingProxyType[str, Callable[[Draft], None]] = MappingProxyType(
    {"readings": check_readings, "engines": check_engines, "limits": check_limits, "events": check_events}
)
"""The rules of each table that has any."""
