"""What to order, by part and vessel."""

from __future__ import annotations

from wearcast.decide.order import Order
from wearcast.decide.order_lines import OrderLine
from wearcast.decide.sections import order_rows
from wearcast.report.first_view import OrdersView, OrderView
from wearcast.words import page_text


def orders_view(order: Order) -> OrdersView:
    """Parts to order first, soonest first as the order lists them."""
    found = [
        OrderView(
            key=order_key(line),
            part=row.part,
            reference=row.part_reference,
            quantity=row.quantity,
            by=row.by,
            vessels=tuple(map(page_text, row.to_vessels)),
            needed=row.needed,
            in_store=row.in_store,
            minimum=row.minimum,
        )
        for line, row in zip(order.lines, order_rows(order), strict=True)
    ]
    return OrdersView(
        tuple(one for one in found if one.quantity != "0"),
        tuple(one for one in found if one.quantity == "0"),
        "" if found else "No spare is listed, so nothing can be ordered.",
    )


def order_key(line: OrderLine) -> str:
    """What a part is found by in a page."""
    part = line.part
    return "|".join((part.engine_type, part.bearing, part.half, part.shell_size))
