"""What lies behind the decisions, as tables: why each opening, what to read there, why each order, sisters' rates."""

from __future__ import annotations

from wearcast.decide.compare import Comparison
from wearcast.decide.order import Order
from wearcast.decide.plan import Plan
from wearcast.decide.sections import WindowRow, order_rows, place_rows, sentence, window_rows
from wearcast.report.decided import Decided
from wearcast.report.orders_view import order_key
from wearcast.report.view import PlainTable
from wearcast.report.words import spoken
from wearcast.words import listed


def decision_tables(decided: Decided) -> tuple[PlainTable, ...]:
    """The plan window by window, what to read, the reasons of the order, and the rates of sisters."""
    windows = _windows(decided.plan)
    return (_openings(windows), _to_read(windows), _orders(decided.order), _places(decided.comparison))


def _windows(plan: Plan) -> list[WindowRow]:
    keys = dict.fromkeys(opening.key for opening in plan.openings)
    return [window for key in keys for window in window_rows(plan, key)]


def _openings(windows: list[WindowRow]) -> PlainTable:
    found = [(window, opening) for window in windows for opening in window.openings]
    return PlainTable(
        "plan",
        "Why to open what at which window",
        "The chance is that the limit is reached before the window after. A maker's fixed hours come first.",
        ("Engine", "Window", "Bearing", "At this window", "Chance", "Why"),
        tuple(
            (
                " ".join(window.key),
                window.window,
                opening.position,
                opening.standing,
                opening.chance,
                spoken(" ".join(map(sentence, opening.why))),
            )
            for window, opening in found
        ),
        "No window is given, so nothing can be planned.",
        kind="plan",
        keys=tuple(
            "|".join((*window.key, opening.position, window.window.partition(" ")[0]))
            for window, opening in found
        ),
        vessels=tuple(window.key[0] for window, _ in found),
        facts=("", "window", "", "standing", "chance", ""),
    )


def _to_read(windows: list[WindowRow]) -> PlainTable:
    """What to read at each window, said once for all bearings at which it is the same."""
    rows = []
    for window in windows:
        alike: dict[tuple[str, ...], list[str]] = {}
        for opening in window.openings:
            alike.setdefault(opening.read, []).append(opening.position)
        rows += [
            (
                " ".join(window.key),
                window.window,
                listed(places),
                spoken(" ".join(f"{line}." for line in read)),
            )
            for read, places in alike.items()
        ]
    return PlainTable(
        "to-read",
        "What to read at each window",
        "With the gauge last used there, or what is usual",
        ("Engine", "Window", "Bearings", "Read"),
        tuple(rows),
        "No window is given, so nothing can be planned.",
        vessels=tuple(window.key[0] for window in windows for _ in {one.read for one in window.openings}),
    )


def _orders(order: Order) -> PlainTable:
    return PlainTable(
        "order",
        "Why to order what",
        "Needed until the next order has arrived: the middle and the 95 % end of the joint forecast.",
        ("Part", "Needed", "On hand + on order", "Minimum", "Order", "By", "Driven by", "Reasons"),
        tuple(
            (
                line.part,
                line.needed,
                line.in_store,
                line.minimum,
                line.quantity,
                line.by,
                "; ".join(line.driven_by),
                spoken(
                    " ".join(
                        (*([f"Would be {line.would_change}."] if line.would_change else []), *line.reasons)
                    )
                ),
            )
            for line in order_rows(order)
        ),
        "No spare is listed, so nothing can be ordered.",
        kind="order",
        keys=tuple(map(order_key, order.lines)),
        facts=("", "needed", "in_store", "minimum", "quantity", "by", "", ""),
    )


def _places(comparison: Comparison) -> PlainTable:
    rows = place_rows(comparison)
    return PlainTable(
        "sisters",
        "Rates of sisters",
        "Wear rate in µm per 1000 h with its 90 % range, and the rank among the sisters' same place, 1 the fastest. "
        "Named out of line only after correction for all places compared.",
        ("Engine", "Place", "Wear rate", "Rank", "Compared", "What stands beside it"),
        tuple(
            (
                " ".join(place.key),
                place.position,
                place.rate,
                place.rank,
                spoken(place.not_comparable) or ("out of line" if place.out_of_line else ""),
                spoken(" ".join(place.reasons)),
            )
            for place in rows
        ),
        "No place has a sister to be compared with.",
    )
