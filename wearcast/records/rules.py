"""Rules that readings and limits share: what a quantity allows, and rows named twice."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearcast.quantities import HALVES, Quantity
from wearcast.records.cells import did_you_mean, one_of, visible
from wearcast.records.drafts import Draft, Mask

NOTHING = "nothing"


def check_half(made: Draft, rows: Mask, quantity: Quantity) -> None:
    """A half where the quantity needs one, none where it has none."""
    half = made.values["half"]
    rows = rows & made.read("half")
    if quantity.half == "required":
        made.refuse(
            rows & (half == ""),
            "half",
            f"{one_of(HALVES)} for {a(quantity.title)}",
            "Write which half-bearing it is.",
        )
    elif quantity.half == "none":
        made.refuse(
            rows & (half != ""),
            "half",
            f"{NOTHING}: {a(quantity.title)} has no half",
            "Empty the cell, or correct the quantity.",
        )


def check_points(made: Draft, rows: Mask, quantity: Quantity) -> None:
    """Only points that the quantity has."""
    point = made.values["point"]
    if not quantity.points:
        made.refuse(
            rows & (point != ""),
            "point",
            f"{NOTHING}: {a(quantity.title)} has no points",
            "Empty the cell, or correct the quantity.",
        )
        return
    for strange in sorted(set(point[rows & ~np.isin(point, ["", *quantity.points])].tolist())):
        made.refuse(
            rows & (point == strange),
            "point",
            f"{one_of(quantity.points)} for {a(quantity.title)}",
            did_you_mean(strange, quantity.points),
        )


def check_sign(made: Draft, rows: Mask, column: str, quantity: Quantity) -> None:
    """No zero and no negative number where neither can be a measurement."""
    value = made.values[column]
    rows = rows & made.read(column)
    advice = "If nothing was measured, take the row out; a missing reading is never zero."
    if not quantity.zero_allowed:
        made.refuse(rows & (value == 0.0), column, f"{a(quantity.title)} above zero", advice)
    if not quantity.negative_allowed:
        bound = "not below zero" if quantity.zero_allowed else "above zero"
        made.refuse(rows & (value < 0.0), column, f"{a(quantity.title)} {bound}", "Correct the number.")


def refuse_doubles(
    made: Draft, rows: Mask, key: tuple[str, ...], column: str, expected: str, suggestion: str
) -> None:
    """Refuse rows that share a key: which of them is right cannot be known."""
    at = np.flatnonzero(rows)
    keys = pd.DataFrame({name: made.values[name][at] for name in key})
    doubled = at[keys.duplicated(keep=False).to_numpy()]
    if not len(doubled):
        return
    for _, part in pd.Series(doubled).groupby([made.values[name][doubled] for name in key], sort=False):
        mask = np.zeros(len(made.stands), dtype=np.bool_)
        mask[part.to_numpy()] = True
        first = part.iloc[0]
        parts = [str(made.values[name][first]) for name in key]
        label = visible(" ".join(part for part in parts if part), 120)
        made.refuse_text(
            mask, column, f"found {label} in {len(part)} rows; expected it {expected}.", suggestion
        )


def a(noun: str) -> str:
    """The noun with its article.

    >>> a("axial clearance"), a("wear")
    ('an axial clearance', 'wear')
    """
    if noun == "wear":
        return noun
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
