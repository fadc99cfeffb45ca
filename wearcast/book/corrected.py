"""Rows of a book as its corrections leave them, and new corrections told by the ids of a book."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.book.canonical import column_of, texts_of, written
from wearcast.records.cells import Notation, Raw, text_of
from wearcast.records.corrections import correct
from wearcast.records.grids import Grid, GridColumn
from wearcast.records.tables import TABLES
from wearcast.records.understand import draft

SAME_CORRECTION = ("table", "row", "column", "old", "new", "action", "reason", "by", "date")
"""Two corrections that agree in these are one; with another reason or signer it is said once more."""


def corrected(grids: Mapping[str, Grid], corrections: Grid | None) -> dict[str, Grid]:
    """Readings and events as the corrections of the book leave them; those of rows not given are passed over."""
    copies = {name: _copy(grid) for name, grid in grids.items()}
    if corrections is None:
        return copies
    return correct(copies, draft(corrections, date.max)).grids


def by_ids(corrections: Grid, ids: Mapping[str, tuple[Grid, NDArray[np.int64]]] | None = None) -> Grid:
    """Corrections in canonical writing, their rows by the ids of a book.

    Parameters
    ----------
    corrections : Grid
        As found.
    ids : mapping, optional
        For each table the grid that the corrections speak of, and the id of each of its rows; without it their
        rows are ids already.
    """
    columns = {column.name.casefold(): column for column in corrections.columns}
    rows = len(corrections.numbers)
    cells: dict[str, list[Raw]] = {column.name: [] for column in TABLES["corrections"].columns}
    for at in range(rows):
        found = {name: columns[name][at] if name in columns else "" for name in cells}
        table = text_of(found["table"]).casefold()
        known = TABLES[table].column(text_of(found["column"]).casefold()) if table in TABLES else None
        for name, raw in found.items():
            own = (
                known if name in ("old", "new") and known is not None else TABLES["corrections"].column(name)
            )
            assert own is not None
            cells[name].append(written(own, raw, corrections.notation))
        if ids is not None and table in ids:
            cells["row"][-1] = _id_of(str(cells["row"][-1]), *ids[table])
    codes = np.arange(rows, dtype=np.int32)
    made = [GridColumn(name, "", texts, codes) for name, texts in cells.items()]
    more = [column for column in corrections.columns if column.name.casefold() not in cells]
    made += [
        GridColumn(c.name or f"column {c.letter}", "", [text_of(t) for t in c.texts], c.codes) for c in more
    ]
    return Grid("corrections", corrections.file, corrections.sheet, made, corrections.numbers, Notation(),
                origin=corrections.origin)  # fmt: skip


def without_known(corrections: Grid, held: Grid | None) -> Grid:
    """The corrections that the book does not hold; one said twice is held once for each time."""
    if held is None:
        return corrections
    left, known = Counter(_told(held)), []
    for one in _told(corrections):
        known.append(left[one] > 0)
        left[one] -= 1
    return corrections.without(np.array(known, dtype=np.bool_))


def _told(grid: Grid) -> list[tuple[str, ...]]:
    cells = [texts_of(column_of(grid, name)).tolist() for name in SAME_CORRECTION]
    return [
        (table, str(row).removesuffix(".0"), column.casefold(), *rest)
        for table, row, column, *rest in zip(*cells, strict=True)
    ]


def _id_of(row: str, grid: Grid, ids: NDArray[np.int64]) -> str:
    """The id of a row told by its number in the file; as it is where there is no such row, to be refused."""
    try:
        at = grid.positions([int(float(row))])
    except (ValueError, OverflowError):
        return row
    return str(int(ids[at[0]])) if len(at) else row


def _copy(grid: Grid) -> Grid:
    columns = [GridColumn(c.name, c.letter, list(c.texts), c.codes.copy()) for c in grid.columns]
    return Grid(grid.table, grid.file, grid.sheet, columns, grid.numbers, grid.notation, origin=grid.origin)
