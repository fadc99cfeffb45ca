"""One file of a pack that can be worked out again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wearcast.frames import records_of
from wearcast.texts import csv_text, json_text

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Leaf:
    """A file by its path in the bag.

    Attributes
    ----------
    kind : "csv", "json" or "text"
        How it is compared with what is worked out again: row by row, or piece by piece.
    keys : tuple of str
        Columns that name a row.
    """

    path: str
    text: str
    kind: Literal["csv", "json", "text"]
    keys: tuple[str, ...] = ()


def table_leaves(name: str, table: pd.DataFrame, keys: Sequence[str]) -> tuple[Leaf, Leaf]:
    """A table as CSV and as JSON."""
    return (
        Leaf(f"data/{name}.csv", csv_text(table), "csv", tuple(keys)),
        Leaf(f"data/{name}.json", json_text(records_of(table)), "json", tuple(keys)),
    )
