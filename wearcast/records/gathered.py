"""A table gathered cell by cell from a sheet of another layout, each cell with the place it came from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from wearcast.records.cells import Notation, Raw
from wearcast.records.grids import Grid, GridColumn, Origin, letter
from wearcast.records.tables import TABLES, Column


@dataclass(frozen=True)
class Given:
    """A cell for a row of the table, and where it came from, in words."""

    raw: Raw
    place: str


@dataclass(frozen=True)
class Row:
    """A row of the table.

    Attributes
    ----------
    sheet, number : str, int
        The sheet and the row in it, as a spreadsheet shows it.
    value_cell : str
        The cell its value stands in, where a row of the sheet gave several.
    cells : dict
        By column of the table.
    """

    sheet: str
    number: int
    value_cell: str
    cells: dict[str, Given]


def _as_it_stands(column: Column, raw: Raw) -> Raw:
    del column
    return raw


def gathered(
    table: str,
    file: str,
    rows: Sequence[Row],
    notation: Notation,
    nowhere: str,
    change: Callable[[Column, Raw], Raw] = _as_it_stands,
) -> Grid:
    """The table of these rows; every column is there, empty where nothing gave it (`nowhere` says so)."""
    missing = Given("", nowhere)
    columns, places = [], {}
    for index, column in enumerate(TABLES[table].columns):
        given = [row.cells.get(column.name, missing) for row in rows]
        columns.append(_grid_column(column.name, index, [change(column, one.raw) for one in given]))
        places[column.name] = [one.place for one in given]
    origin = Origin(
        np.array([row.number for row in rows], dtype=np.int64),
        places,
        [row.value_cell for row in rows],
        [row.sheet for row in rows],
    )
    sheet = rows[0].sheet if rows else ""
    return Grid(table, file, sheet, columns, np.arange(2, len(rows) + 2), notation, origin=origin)


def _grid_column(name: str, index: int, raws: Iterable[Raw]) -> GridColumn:
    texts: dict[Raw, int] = {}
    codes = [texts.setdefault(raw, len(texts)) for raw in raws]
    return GridColumn(name, letter(index), list(texts), np.array(codes, dtype=np.int32))
