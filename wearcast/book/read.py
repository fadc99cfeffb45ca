"""A book read as a record set: the rows it holds go through the same understanding as those of any file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from wearcast.book import schema
from wearcast.book.address import Address, address_of
from wearcast.book.canonical import texts_of
from wearcast.book.connect import reading
from wearcast.book.heads import Head, heads_of, known_on, last_digest, last_ids
from wearcast.book.stored import SUBJECTS, Stored, in_force, stored_readings, stored_table
from wearcast.queries import Query
from wearcast.records.came_from import CameFrom
from wearcast.records.found import Found
from wearcast.records.limit_changes import LimitChange, StatedLimit, limit_changes
from wearcast.records.read import record_set_of
from wearcast.records.records import InputFile, RecordSet

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class Held:
    """What a book held after some of its imports: every table as found, and where its rows came from."""

    heads: Sequence[Head]
    tables: dict[str, Stored]
    origins: dict[str, CameFrom]
    limit_changes: tuple[LimitChange, ...] = ()


def read(book: str | Path, run_date: date | None = None, as_known_on: date | None = None) -> RecordSet:
    """The record set a book holds, as it is or as it was known on a day; rows are numbered by their ids.

    Raises
    ------
    WrongUse
        If there is no such book, or nothing was in it on that day.
    """
    address = address_of(book)
    with reading(address) as connection:
        heads = heads_of(connection)
        held = held_after(connection, address, heads if as_known_on is None else known_on(heads, as_known_on))
    return understood(held, address, run_date)


def held_after(connection: Connection, address: Address, heads: Sequence[Head]) -> Held:
    """Every table as found, after these imports; of tables that state what holds now, the rows in force."""
    from sqlalchemy import select

    last = last_ids(heads)
    s, f = schema.sheets.c, schema.files.c
    query = select(s.id, s.import_id, f.name, s.sheet).join_from(
        schema.sheets, schema.files, s.file_id == f.id
    )
    came = {row.id: row for row in connection.execute(query)}
    imports = {number: row.import_id for number, row in came.items()}
    places = {number: (str(row.name), str(row.sheet), int(row.import_id)) for number, row in came.items()}
    tables: dict[str, Stored] = {}
    changed: tuple[LimitChange, ...] = ()
    for name in schema.ROW_TABLES:
        if last[name] < schema.FIRST_ID:
            continue
        if name == "readings":
            tables[name] = stored_readings(connection, address.name, last[name])
        else:
            stored = stored_table(connection, name, address.name, last[name])
            tables[name] = in_force(stored, imports) if name in SUBJECTS else stored
            if name == "limits":
                changed = _limit_changes(stored, tables[name], {one.id: one for one in heads}, imports)
    return Held(heads, tables, {name: _came_from(stored, places) for name, stored in tables.items()}, changed)


def _limit_changes(
    stored: Stored, now: Stored, heads: Mapping[int, Head], imports: Mapping[int, int]
) -> tuple[LimitChange, ...]:
    columns = {column.name: texts_of(column) for column in stored.grid.columns}
    stated = []
    for k, (row, sheet) in enumerate(
        zip(stored.origin.ids.tolist(), stored.origin.sheets.tolist(), strict=True)
    ):
        head = heads[imports[sheet]]
        cells = {name: str(texts[k]) for name, texts in columns.items()}
        stated.append(StatedLimit(cells, row, head.by_name, head.at))
    return tuple(limit_changes(stated, now.origin.ids.tolist()))


def understood(held: Held, address: Address, run_date: date | None = None) -> RecordSet:
    """The record set that the tables of a book mean."""
    digest = last_digest(held.heads)
    found = Found("table", names=list(held.tables))
    found.grids |= {name: stored.grid for name, stored in held.tables.items()}
    found.files.append(InputFile(address.name, digest))
    found.notes.append(_note(held, address))
    records = record_set_of(found, address.label, run_date)
    records = replace(records, book_digest=digest, origins=held.origins, limit_changes=held.limit_changes)
    return replace(records, faults=records.told(records.faults))


def in_their_files(faults: Sequence[Query], held: Held) -> tuple[Query, ...]:
    """The faults found with the last import: those in its rows alone by the sheet these came in."""
    told = []
    last = held.heads[-1].tables
    for fault in faults:
        first = int(last.get(fault.table, {}).get("first", 0))
        new = first > 0 and bool(fault.rows) and min(fault.rows) >= first
        places = held.origins[fault.table].of(fault.rows) if new else {}
        if len(places) == 1:
            ((file, sheet, _), rows) = next(iter(places.items()))
            told.append(replace(fault, file=file, sheet=sheet, rows=tuple(rows), came_from=""))
        else:
            told.append(fault)
    return tuple(told)


def _came_from(stored: Stored, places: dict[int, tuple[str, str, int]]) -> CameFrom:
    order = np.argsort(stored.origin.ids, kind="stable")
    sheets, place_of = np.unique(stored.origin.sheets, return_inverse=True)
    return CameFrom(
        stored.origin.ids[order],
        tuple(places[number] for number in sheets.tolist()),
        place_of[order],
        stored.origin.rows[order],
    )


def _note(held: Held, address: Address) -> str:
    last = held.heads[-1] if held.heads else None
    if last is None:
        return f"{address.name}: an empty record book."
    return (
        f"{address.name}: record book after {len(held.heads)} imports, the last of {last.at} by {last.by_name}; "
        f"last digest {last.digest}."
    )
