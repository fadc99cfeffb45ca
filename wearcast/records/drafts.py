"""A table on its way from raw cells to a frame: columns as arrays, and which rows still stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.queries import Query
from wearcast.records.cells import (
    Problem,
    Raw,
    shown,
)
from wearcast.records.faults import cell_fault, missing_column
from wearcast.records.grids import Grid, GridColumn
from wearcast.records.tables import Table

Mask = NDArray[np.bool_]
Parsed = str | float | date | Problem

PLACE_COLUMNS = ("vessel", "engine", "bearing", "position", "half")


@dataclass
class History:
    """What corrections did to a table, by row number: old texts struck through, readings confirmed."""

    old_text: dict[int, str] = field(default_factory=dict)
    confirmed: set[int] = field(default_factory=set)


@dataclass
class Draft:
    """One table being understood.

    Attributes
    ----------
    known : dict
        The file's columns by contract name.
    unknown : list of GridColumn
        The others, kept as text under the name they have here.
    values : dict of arrays, shape (rows,)
        Each contract column: str objects, float64 or datetime64[ns].
    unread : dict of bool arrays
        Where a column's cell was not understood; such a cell is asked nothing more.
    stands : bool array
        The rows without a fault so far.
    asked : bool array
        The rows whose cells are worth asking: not those refused as rows, whose cells may have slipped.
    whole : bool
        False where a required column is missing: nothing can be said of the rows.
    """

    table: Table
    grid: Grid
    known: dict[str, GridColumn]
    unknown: list[GridColumn]
    values: dict[str, NDArray[Any]]
    unread: dict[str, Mask]
    stands: Mask
    asked: Mask
    faults: list[Query]
    whole: bool = True

    def read(self, *names: str) -> Mask:
        """The rows whose cells of these columns were understood."""
        unread = np.zeros(len(self.stands), dtype=np.bool_)
        for name in names:
            unread |= self.unread[name]
        return ~unread

    def filled(self, name: str) -> Mask:
        """The rows with something in this column."""
        column = self.known.get(name)
        return ~column.blank if column else np.zeros(len(self.stands), dtype=np.bool_)

    def refuse(
        self, rows: Mask, column: str, expected: str, suggestion: str = "", kind: str = "not_understood"
    ) -> None:
        """Refuse these rows for their cell of one column; one query for each text found there."""
        self.stands &= ~rows
        self.unread[column] |= rows
        rows = rows & self.asked
        if not rows.any():
            return
        if column not in self.known:
            self._refuse_for_lack_of(column, expected)
            return
        for raw, at in groups(self.known[column], np.flatnonzero(rows)):
            self.faults.append(
                cell_fault(
                    self.grid, self.grid.numbers[at].tolist(), column, shown(raw), expected, suggestion, kind
                )
            )

    def refuse_text(
        self, rows: Mask, column: str, text: str, suggestion: str = "", kind: str = "not_understood"
    ) -> None:
        """Refuse these rows together, in the words given."""
        self.stands &= ~rows
        rows = rows & self.asked
        if rows.any():
            numbers = self.grid.numbers[rows].tolist()
            self.faults.append(cell_fault(self.grid, numbers, column, "", "", suggestion, kind, text))

    def _refuse_for_lack_of(self, column: str, expected: str) -> None:
        self.whole = False
        if not any(fault.kind == "missing_column" and fault.column == column for fault in self.faults):
            self.faults.append(missing_column(self.grid, column, f", and rows need it (expected {expected})"))


def groups(column: GridColumn, rows: NDArray[np.int64]) -> list[tuple[Raw, NDArray[np.int64]]]:
    """The rows sorted by what stands in the column, each text once."""
    codes = column.codes[rows]
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order])) + 1
    return [(column.texts[codes[part[0]]], rows[part]) for part in np.split(order, starts)]


def combinations(made: Draft, names: Sequence[str]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which rows agree in all of these columns: a number for each row, and a row for each number."""
    combined = np.zeros(len(made.stands), dtype=np.int64)
    for name in names:
        codes, found = pd.factorize(made.values[name])
        combined, _ = pd.factorize(combined * (len(found) + 1) + codes)
    _, first = np.unique(combined, return_index=True)
    return combined, first
