"""Limits: on the right side of the new range, typed as what is measured, one row a key."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearcast.quantities import QUANTITIES, Quantity
from wearcast.records.drafts import Draft, Mask
from wearcast.records.rules import a, check_half, check_points, check_sign, refuse_doubles

_KEY = ("engine_type", "bearing", "half", "quantity", "shell_size", "point")
_PLACED = ("new_min", "new_max", "limit", "limit_side")

AS_LOSS, AS_GROWTH = 1.0 / 3.0, 1.0 / 2.0
"""Below this share of new_min a limit looks like the wear allowed (0.05), not what is left (7.95): judgement."""


def check_limits(made: Draft) -> None:
    """Half, point, signs, new range, side and doubles of every limit."""
    for quantity in QUANTITIES.values():
        rows = made.read("quantity") & (made.values["quantity"] == quantity.name)
        if rows.any():
            check_half(made, rows, quantity)
            check_points(made, rows & made.read("point"), quantity)
            for column in ("new_min", "new_max", "limit"):
                check_sign(made, rows, column, quantity)
            _check_side(made, rows, quantity)
    rows = made.read("new_min", "new_max")
    crossed = rows & (made.values["new_min"] > made.values["new_max"])
    made.refuse(crossed, "new_min", "a number not above new_max", "Exchange the two, or correct one.")
    refuse_doubles(
        made,
        made.read(*_KEY, "limit_side"),
        (*_KEY, "limit_side"),
        "limit",
        "in one row",
        "Keep the row that holds and take the others out.",
    )


def _check_side(made: Draft, rows: Mask, quantity: Quantity) -> None:
    value = made.values
    rows = rows & made.read(*_PLACED) & (value["new_min"] <= value["new_max"])
    low, high = rows & (value["limit_side"] == "min"), rows & (value["limit_side"] == "max")
    if quantity.side:
        _refuse_side_alone(made, low if quantity.side == "max" else high, quantity)
    limit, new_min, new_max = value["limit"], value["new_min"], value["new_max"]
    typed_as_wear = np.zeros(len(rows), dtype=np.bool_)
    if quantity.side == "min":
        typed_as_wear = low & (limit < AS_LOSS * new_min)
        what = f"the {quantity.title} at which to renew, not the wear allowed"
        made.refuse(
            typed_as_wear,
            "limit",
            what,
            "Write what is left at the limit: new less the wear allowed.",
            "limit_as_wear",
        )
    if quantity.side == "max":
        typed_as_wear = high & (limit < AS_GROWTH * new_min)
        what = f"the {quantity.title} at which to renew, not the growth allowed"
        made.refuse(
            typed_as_wear,
            "limit",
            what,
            "Write the value at the limit: new plus the growth allowed.",
            "limit_as_wear",
        )
    made.refuse(
        low & (limit >= new_min) & ~typed_as_wear, "limit", "a min limit below new_min",
        "Check the limit, the new range and limit_side against the maker's book.", "limit_side",
    )  # fmt: skip
    made.refuse(
        high & (limit <= new_max) & ~typed_as_wear, "limit", "a max limit above new_max",
        "Check the limit, the new range and limit_side against the maker's book.", "limit_side",
    )  # fmt: skip


def _refuse_side_alone(made: Draft, other: Mask, quantity: Quantity) -> None:
    """A limit of the other side makes a two-sided limit; alone it is on the wrong side."""
    if not other.any():
        return
    own = made.read(*_KEY, "limit_side") & (made.values["limit_side"] == quantity.side)
    keys = pd.DataFrame({name: made.values[name] for name in _KEY})
    paired = (
        keys.merge(keys[own].drop_duplicates(), how="left", on=list(_KEY), indicator=True)["_merge"] == "both"
    )
    passes = "below" if quantity.side == "min" else "above"
    made.refuse(
        other & ~paired.to_numpy(),
        "limit_side",
        f"{quantity.side}: {a(quantity.title)} passes its limit by going {passes} it",
        f"Write {quantity.side}; a second side may stand in a row of its own beside it.",
        "limit_side",
    )
