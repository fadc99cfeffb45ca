"""The rows of a book as grids, numbered by their ids, so that they are understood as those of any file are."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.book import schema
from wearcast.book.canonical import MORE, empty_column, unpacked
from wearcast.errors import OutputFailed
from wearcast.records.cells import Notation, visible
from wearcast.records.grids import Grid, GridColumn, letter
from wearcast.records.tables import TABLES

if TYPE_CHECKING:
    from sqlalchemy import Connection

SUBJECTS = {
    "engines": ("vessel", "engine"),
    "limits": ("engine_type", "bearing", "quantity"),
    "windows": ("vessel",),
    "spares": ("engine_type", "bearing"),
    "gauges": ("instrument", "vessel"),
}
"""Tables that state what holds now: the last import that names a subject states all its rows."""

PART = 2_000
"""Rows taken at a time: few enough to stay in the processor's cache."""

OWN_NAMES = {
    "target_table": "table", "target_id": "row", "target_column": "column", "by_name": "by",
}  # fmt: skip
"""Columns under the name they have in the table of a record set."""


@dataclass(frozen=True)
class Origin:
    """Where each row of a table came from: its sheet (a row of `sheets`) and its row there."""

    ids: NDArray[np.int64]
    sheets: NDArray[np.int64]
    rows: NDArray[np.int64]


@dataclass(frozen=True)
class Stored:
    """A table as stored, and where its rows came from."""

    grid: Grid
    origin: Origin


def stored_readings(connection: Connection, label: str, up_to: int | None = None, only: Any = None) -> Stored:
    """The readings as found, in the order of their ids.

    Parameters
    ----------
    up_to : int, optional
        The last id wanted.
    only : SQL expression, optional
        Which readings (joined to their places).
    """
    from sqlalchemy import select

    r = schema.readings.c
    query = select(r.id, r.sheet_id, r.row, r.place_id, r.circumstances_id, r.value).order_by(r.id)
    if up_to is not None:
        query = query.where(r.id <= up_to)
    if only is not None:
        query = query.join(schema.places).where(only)
    numbers, values = _fetched(connection, query, 5)
    ids, sheets, rows, place, circumstances = numbers
    columns = _shared(connection, schema.places, schema.PLACE, place)
    columns |= _shared(connection, schema.circumstances, schema.CIRCUMSTANCES, circumstances)
    columns["value"] = _coded("value", values)
    grid = _grid("readings", label, columns, ids)
    return Stored(grid, Origin(ids, sheets, rows))


def stored_table(
    connection: Connection, name: str, label: str, up_to: int | None = None, only: Any = None
) -> Stored:
    """The rows of a table that is stored whole, in the order of their ids."""
    from sqlalchemy import select

    table = schema.plain[name]
    names = schema.PLAIN[name]
    query = select(table.c.id, table.c.sheet_id, table.c.row, *(table.c[one] for one in names))
    query = query.order_by(table.c.id)
    if up_to is not None:
        query = query.where(table.c.id <= up_to)
    if only is not None:
        query = query.where(only)
    found = connection.execute(query).all()
    numbers = np.array([row[:3] for row in found], dtype=np.int64).reshape(-1, 3).T
    columns = {one: _coded(one, [row[k] for row in found]) for k, one in enumerate(names, start=3)}
    ids, sheets, rows = numbers
    return Stored(_grid(name, label, columns, ids), Origin(ids, sheets, rows))


def not_as_written(what: str, found: str) -> OutputFailed:
    """The error of a table or column in which something stands that this program never writes."""
    return OutputFailed(
        f"The record book was changed by other means: {what} is not as it is written ({visible(found)}). "
        "`wearcast book verify` says more; go on from the last backup that verifies."
    )


def in_force(stored: Stored, imports_of_sheets: dict[int, int]) -> Stored:
    """Of a table that states what holds now, the rows that hold: of each subject those of its last import."""
    grid = stored.grid
    subject = SUBJECTS.get(grid.table)
    if subject is None or not len(grid.numbers):
        return stored
    by_name = {column.name: column for column in grid.columns}
    keys = [by_name[name].codes for name in subject]
    frame = pd.DataFrame({str(k): codes for k, codes in enumerate(keys)})
    number = frame.groupby(list(frame.columns), sort=False).ngroup().to_numpy()
    came = np.array([imports_of_sheets[int(sheet)] for sheet in stored.origin.sheets], dtype=np.int64)
    last = np.zeros(int(number.max()) + 1, dtype=np.int64)
    np.maximum.at(last, number, came)
    at = np.flatnonzero(came == last[number])
    at = at[np.argsort(number[at], kind="stable")]  # subjects stay in the order in which they first came
    return taken(stored, at)


def taken(stored: Stored, at: NDArray[np.int64]) -> Stored:
    """Only these rows, in this order."""
    grid, origin = stored.grid, stored.origin
    columns = [GridColumn(one.name, one.letter, one.texts, one.codes[at]) for one in grid.columns]
    return Stored(
        Grid(grid.table, grid.file, grid.sheet, columns, grid.numbers[at], grid.notation),
        Origin(origin.ids[at], origin.sheets[at], origin.rows[at]),
    )


def _fetched(connection: Connection, query: Any, numbers: int) -> tuple[NDArray[np.int64], list[str]]:
    """Number columns as an array (columns, rows), and the text column after them."""
    # the driver's own tuples: a million rows made into those of SQLAlchemy take half as long again
    cursor: Any = connection.execute(query).cursor
    parts, texts = [np.empty((numbers, 0), dtype=np.int64)], list[str]()
    while part := cursor.fetchmany(PART):
        *found, values = zip(*part, strict=True)
        flat = np.fromiter(chain.from_iterable(found), dtype=np.int64, count=numbers * len(part))
        parts.append(flat.reshape(numbers, len(part)))
        texts += values
    cursor.close()
    return np.concatenate(parts, axis=1), texts


def _shared(
    connection: Connection, table: Any, names: Sequence[str], wanted: NDArray[np.int64]
) -> dict[str, GridColumn]:
    """Columns that rows share, spread over the rows."""
    from sqlalchemy import select

    used = np.unique(wanted)
    query = select(table.c.id, *(table.c[name] for name in names)).order_by(table.c.id)
    first, last = (int(used[0]), int(used[-1])) if len(used) else (0, -1)
    query = query.where(table.c.id.between(first, last))
    found = connection.execute(query).all()
    ids = np.array([row[0] for row in found], dtype=np.int64)
    at = np.searchsorted(ids, wanted)
    if not np.isin(used, ids).all():
        raise not_as_written(table.name, "a row that others name is missing")
    columns = {}
    for k, name in enumerate(names, start=1):
        shared = _coded(name, [row[k] for row in found])
        columns[name] = GridColumn(name, "", shared.texts, shared.codes[at])
    return columns


def _coded(name: str, texts: Collection[str]) -> GridColumn:
    array = np.empty(len(texts), dtype=object)
    array[:] = list(texts)
    codes, found = pd.factorize(array)
    if not all(isinstance(text, str) for text in found):
        raise not_as_written(name, "a cell is no text")
    return GridColumn(name, "", list(found) or [""], codes.astype(np.int32))


def _grid(name: str, label: str, columns: dict[str, GridColumn], ids: NDArray[np.int64]) -> Grid:
    own = {OWN_NAMES.get(key, key): column for key, column in columns.items()}
    known = [column.name for column in TABLES[name].columns]
    try:
        more = unpacked(own[MORE], len(known))
    except ValueError as problem:
        raise not_as_written(name, str(problem)) from None
    own |= {column.name: column for column in more if column.name in schema.LATER.get(name, ())}
    empty = empty_column("", 0, len(ids))
    every = [own.get(one, empty) for one in known] + [one for one in more if one.name not in known]
    names = known + [one.name for one in more if one.name not in known]
    ordered = [
        GridColumn(one, letter(index), column.texts, column.codes)
        for index, (one, column) in enumerate(zip(names, every, strict=True))
    ]
    return Grid(name, label, "", ordered, ids, Notation())
