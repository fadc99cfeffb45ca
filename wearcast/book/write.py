"""Writing one import: every row with its digest, after which nothing of it is ever changed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from wearcast.book import schema
from wearcast.book.canonical import MORE, column_of, combination, packed, texts_of, unknown_columns
from wearcast.book.chain import import_digest, joined, row_digests, tables_text
from wearcast.book.heads import Head, last_digest, last_ids
from wearcast.book.stored import OWN_NAMES
from wearcast.records.grids import Grid, GridColumn

if TYPE_CHECKING:
    from sqlalchemy import Connection, Table

CHUNK = 20_000
"""Rows sent to the database at a time."""


@dataclass(frozen=True)
class OriginalFile:
    """A file as it came; `role` is records, mapping or corrections."""

    name: str
    role: str
    data: bytes

    @property
    def sha256(self) -> str:
        """The SHA-256 of its bytes (hexadecimal)."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class NewImport:
    """What is to be added.

    Attributes
    ----------
    at : str
        When, in UTC.
    grids : sequence of Grid
        New rows, in canonical writing; corrections by the ids of a book.
    already : mapping of str to int
        How many rows of each table the book held already.
    """

    kind: str
    by_name: str
    at: str
    source: str
    files: Sequence[OriginalFile]
    grids: Sequence[Grid]
    already: Mapping[str, int]


def write_import(connection: Connection, heads: Sequence[Head], new: NewImport) -> Head:
    """Add an import after the last one; the connection must be the only one that writes."""
    number = len(heads) + 1
    previous, last = last_digest(heads), last_ids(heads)
    files = [
        (at, one.name, one.role, one.sha256)
        for at, one in enumerate(new.files, start=_next(connection, schema.files))
    ]
    file_ids = {name: at for at, name, role, _ in files if role != "mapping"}
    sheets, sheet_of = _sheets(new.grids, file_ids, _next(connection, schema.sheets))
    _insert_files(connection, number, new.files, files, sheets)
    tables: dict[str, dict[str, Any]] = {
        name: {"rows": 0, "already": count} for name, count in new.already.items() if count
    }
    for grid, of_rows in zip(new.grids, sheet_of, strict=True):
        digest = _insert_rows(connection, grid, of_rows, last[grid.table] + 1, previous)
        tables.setdefault(grid.table, {"already": 0})
        tables[grid.table] |= {"first": last[grid.table] + 1, "rows": len(grid.numbers), "digest": digest}
    head = {
        "kind": new.kind, "by_name": new.by_name, "at": new.at, "source": new.source,
        "tables": tables_text(tables), "previous": previous,
    }  # fmt: skip
    digest = import_digest(number, head, files, sheets)
    connection.execute(schema.imports.insert(), {"id": number, **head, "digest": digest})
    return Head(number, new.kind, new.by_name, new.at, new.source, tables, previous, digest, head["tables"])


Sheet = tuple[int, int, str, str]
"""Id, id of its file, name of the sheet, table."""


def _sheets(
    grids: Sequence[Grid], file_ids: Mapping[str, int], first: int
) -> tuple[list[Sheet], list[list[int]]]:
    """The sheets that the rows came from, and for each grid the sheet of each row."""
    sheets: list[Sheet] = []
    sheet_of = []
    for grid in grids:
        names = [grid.sheet] * len(grid.numbers) if grid.origin is None else list(grid.origin.sheets)
        ids = {name: first + len(sheets) + k for k, name in enumerate(dict.fromkeys(names))}
        sheets += [(at, file_ids[grid.file], name, grid.table) for name, at in ids.items()]
        sheet_of.append([ids[name] for name in names])
    return sheets, sheet_of


def _insert_files(
    connection: Connection,
    number: int,
    originals: Sequence[OriginalFile],
    files: Sequence[tuple[int, str, str, str]],
    sheets: Sequence[tuple[int, int, str, str]],
) -> None:
    from sqlalchemy import select

    held = set(connection.scalars(select(schema.contents.c.sha256)))
    for one in originals:
        if one.sha256 not in held:
            held.add(one.sha256)
            connection.execute(schema.contents.insert(), {"sha256": one.sha256, "data": one.data})
    insert(connection, schema.files, ((at, number, name, role, sha) for at, name, role, sha in files))
    insert(connection, schema.sheets, ((at, number, file, sheet, table) for at, file, sheet, table in sheets))


def _insert_rows(connection: Connection, grid: Grid, sheets: list[int], first: int, previous: str) -> str:
    """Insert the rows of one table; the digest of the last."""
    ids = range(first, first + len(grid.numbers))
    rows = grid.sheet_rows.tolist()
    if grid.table == "readings":
        made = _reading_rows(connection, grid, sheets, ids, rows)
        digest = made.insert(connection, previous)
    else:
        names = schema.PLAIN[grid.table]
        cells = [texts_of(_stored_column(grid, name)).tolist() for name in names]
        found = list(zip(ids, sheets, rows, *cells, strict=True))
        digests = list(
            row_digests(grid.table, previous, (joined([str(cell) for cell in one]) for one in found))
        )
        every = ((*one, digest) for one, digest in zip(found, digests, strict=True))
        insert(connection, schema.plain[grid.table], every)
        digest = digests[-1]
    return digest.hex()


def _stored_column(grid: Grid, name: str) -> GridColumn:
    if name == MORE:
        return packed(unknown_columns(grid), len(grid.numbers))
    return column_of(grid, OWN_NAMES.get(name, name))


@dataclass(frozen=True)
class _Readings:
    """Readings ready to be inserted: their shared parts by number, each text once."""

    ids: range
    sheets: list[int]
    rows: list[int]
    values: list[str]
    place_ids: list[int]
    circumstances_ids: list[int]
    place_texts: list[str]
    circumstances_texts: list[str]

    def insert(self, connection: Connection, previous: str) -> bytes:
        """Insert them; the digest of the last."""
        texts = (
            f"{at}\0{sheet}\0{row}\0{value}\0{place}\0{circumstances}"
            for at, sheet, row, value, place, circumstances in zip(
                self.ids,
                self.sheets,
                self.rows,
                self.values,
                self.place_texts,
                self.circumstances_texts,
                strict=True,
            )
        )
        digests = list(row_digests("readings", previous, texts))
        every = zip(
            self.ids,
            self.sheets,
            self.rows,
            self.place_ids,
            self.circumstances_ids,
            self.values,
            digests,
            strict=True,
        )
        insert(connection, schema.readings, every)
        return digests[-1]


def _reading_rows(
    connection: Connection, grid: Grid, sheets: list[int], ids: range, rows: list[int]
) -> _Readings:
    place_number, places = _distinct(grid, schema.PLACE)
    about_number, about = _distinct(grid, schema.CIRCUMSTANCES)
    place_ids = _place_ids(connection, places)
    start = _next(connection, schema.circumstances)
    insert(connection, schema.circumstances, ((at, *one) for at, one in enumerate(about, start=start)))
    return _Readings(
        ids,
        sheets,
        rows,
        texts_of(column_of(grid, "value")).tolist(),
        np.array(place_ids, dtype=np.int64)[place_number].tolist(),
        (about_number + start).tolist(),
        _spread([joined(one) for one in places], place_number),
        _spread([joined(one) for one in about], about_number),
    )


def _distinct(grid: Grid, names: Sequence[str]) -> tuple[NDArray[np.int64], list[tuple[str, ...]]]:
    """Which rows agree in these columns, and what they agree in."""
    columns = [_stored_column(grid, name) for name in names]
    number, first = combination(columns)
    return number, [tuple(str(column[row]) for column in columns) for row in first.tolist()]


def _spread(texts: list[str], number: NDArray[np.int64]) -> list[str]:
    return [texts[k] for k in number.tolist()]


def _place_ids(connection: Connection, places: Sequence[tuple[str, ...]]) -> list[int]:
    """The ids of places, new ones inserted."""
    from sqlalchemy import select

    t = schema.places.c
    vessels = sorted({place[0] for place in places})
    known: dict[tuple[str, ...], int] = {}
    for part in _chunks(iter(vessels), 500):
        query = select(t.id, *(t[name] for name in schema.PLACE)).where(t.vessel.in_(part))
        known |= {tuple(row[1:]): row[0] for row in connection.execute(query)}
    start = _next(connection, schema.places)
    new = {place: at for at, place in enumerate((one for one in places if one not in known), start=start)}
    insert(connection, schema.places, ((at, *place) for place, at in new.items()))
    return [known.get(place) or new[place] for place in places]


def _next(connection: Connection, table: Table) -> int:
    from sqlalchemy import func, select

    return int(connection.scalar(select(func.coalesce(func.max(table.c.id), 0))) or 0) + 1


def insert(connection: Connection, table: Table, rows: Iterable[tuple[Any, ...]]) -> None:
    """Insert many rows: COPY on PostgreSQL, one prepared statement on SQLite."""
    if connection.dialect.name == "postgresql":
        prepared = connection.dialect.identifier_preparer
        names = ", ".join(prepared.format_column(column) for column in table.columns)
        cursor: Any = connection.connection.cursor()
        with cursor.copy(f"COPY {prepared.format_table(table)} ({names}) FROM STDIN") as copy:
            for row in rows:
                copy.write_row(row)
        return
    statement = str(table.insert().compile(dialect=connection.dialect))
    for part in _chunks(iter(rows), CHUNK):
        connection.exec_driver_sql(statement, part)


def _chunks(items: Iterator[Any], size: int) -> Iterator[list[Any]]:
    while part := list(islice(items, size)):
        yield part
