"""What to open, what to order and which sister is out of line, as tables of the index."""

from __future__ import annotations

from wearcast.decide.compare import Comparison
from wearcast.decide.order import Order
from wearcast.decide.plan import Plan
from wearcast.decide.sections import order_rows, place_rows, sentence, window_rows
from wearcast.report.view import PlainTable


def decision_tables(plan: Plan, order: Order, comparison: Comparison) -> tuple[PlainTable, ...]:
    """The plan window by window, the order list, and the sisters side by side.

    Parameters
    ----------
    plan, order, comparison
        From `wearcast.decide`, made from the same records.
    """
    return (_openings(plan), _orders(order), _places(comparison))


def _openings(plan: Plan) -> PlainTable:
    found = [
        (
            window.key[0],
            "|".join((*window.key, opening.position, window.window.partition(" ")[0])),
            (
                " ".join(window.key),
                window.window,
                opening.position,
                opening.standing,
                opening.chance,
                " ".join((*map(sentence, opening.why), *(f"Read {line}." for line in opening.read))),
            ),
        )
        for key in dict.fromkeys(opening.key for opening in plan.openings)
        for window in window_rows(plan, key)
        for opening in window.openings
    ]
    return PlainTable(
        "plan",
        "What to open at which window",
        "The chance is that the limit is reached before the window after. A maker's fixed hours come first.",
        ("Engine", "Window", "Bearing", "At this window", "Chance", "Why, and what to read"),
        tuple(row for *_, row in found),
        "No window is given, so nothing can be planned.",
        kind="plan",
        keys=tuple(key for _, key, _ in found),
        vessels=tuple(vessel for vessel, *_ in found),
        facts=("", "window", "", "standing", "chance", ""),
    )


def _orders(order: Order) -> PlainTable:
    rows = [
        (
            line.part,
            line.part_reference,
            line.needed,
            line.in_store,
            line.minimum,
            line.quantity,
            line.by,
            "; ".join(line.to_vessels),
            "; ".join(line.driven_by),
            " ".join((*([f"Would be {line.would_change}."] if line.would_change else []), *line.reasons)),
        )
        for line in order_rows(order)
    ]
    return PlainTable(
        "order",
        "What to order, and by when",
        "Needed until the next order has arrived: the middle and the 95 % end of the joint forecast.",
        (
            "Part",
            "Reference",
            "Needed",
            "On hand + on order",
            "Minimum",
            "Order",
            "By",
            "For",
            "Driven by",
            "Reasons",
        ),
        tuple(rows),
        "No spare is listed, so nothing can be ordered.",
        kind="order",
        keys=tuple(
            "|".join((one.part.engine_type, one.part.bearing, one.part.half, one.part.shell_size))
            for one in order.lines
        ),
        facts=("", "", "needed", "in_store", "minimum", "quantity", "by", "", "", ""),
    )


def _places(comparison: Comparison) -> PlainTable:
    rows = [
        (
            " ".join(place.key),
            place.position,
            place.rate,
            place.rank,
            place.not_comparable or ("out of line" if place.out_of_line else ""),
            " ".join(place.reasons),
        )
        for place in place_rows(comparison)
    ]
    return PlainTable(
        "sisters",
        "Sisters side by side",
        "Wear rate in µm per 1000 h with its 90 % range, and the rank among the sisters' same place, 1 the fastest. "
        "Named out of line only after correction for all places compared.",
        ("Engine", "Place", "Wear rate", "Rank", "Compared", "What stands beside it"),
        tuple(rows),
        "No place has a sister to be compared with.",
    )
