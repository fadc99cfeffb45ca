"""Of a record set, what a book does not hold yet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from wearcast.book import schema
from wearcast.book.address import Address
from wearcast.book.already import Already, restated, same_events, same_readings
from wearcast.book.canonical import column_of, texts_of
from wearcast.book.corrected import by_ids, corrected, without_known
from wearcast.book.heads import Head, last_ids
from wearcast.book.stored import SUBJECTS, Stored, in_force, stored_readings, stored_table
from wearcast.book.write import OriginalFile
from wearcast.errors import InputRefused
from wearcast.queries import Query
from wearcast.records.faults import cell_fault
from wearcast.records.grids import Grid
from wearcast.records.names import folded

if TYPE_CHECKING:
    from sqlalchemy import Connection

MOST_VESSELS = 200
"""With more vessels than this all readings are compared, not those of these vessels."""


@dataclass
class News:
    """What is to be written, and what is not, in words."""

    grids: list[Grid] = field(default_factory=list)
    already: dict[str, int] = field(default_factory=dict)
    differing: dict[str, int] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)


def what_is_new(
    connection: Connection,
    address: Address,
    heads: Sequence[Head],
    grids: Mapping[str, Grid],
    corrections: Grid | None,
    originals: Sequence[OriginalFile],
) -> News:
    """Sort out the rows that the book holds already.

    Readings and events are compared row by row, as they came and as they were corrected since. Engines, limits,
    windows and spares state what holds now: a subject whose rows say the same is left out, another is stated anew.

    Parameters
    ----------
    grids : mapping of str to Grid
        The tables in canonical writing.
    corrections : Grid, optional
        The corrections as found: they speak of rows of these tables.

    Raises
    ------
    InputRefused
        If an event of the book is told with other facts.
    """
    news, last = News(), last_ids(heads)
    known = _known_files(connection, originals)
    for name in sorted(known):
        news.said.append(f"{name}: this very file is in the book already; no row of it is added twice.")
    ids: dict[str, tuple[Grid, NDArray[np.int64]]] = {}
    held = _held_corrections(connection, address, last)
    for name, compare in (("readings", same_readings), ("events", same_events)):
        if name not in grids or (grids[name].file in known and corrections is None):
            continue
        grid = grids[name]
        already = compare(grid, *_as_found_and_now(connection, address, name, grid, held, last))
        if grid.file not in known:
            _refuse_rivals(grid, already, address)
        own = already.ids.copy()
        new = (own == 0) & (grid.file not in known)
        own[new] = last[name] + 1 + np.arange(int(new.sum()))
        if grid.file in known:
            _ids_of_this_file(connection, grid, known[grid.file], own)
        ids[name] = (grid, own)
        _note(news, grid, new, already)
    for name, subject in SUBJECTS.items():
        if name in grids:
            _state(news, grids[name], _now(connection, address, name, last), subject)
    if corrections is not None and corrections.file not in known:
        mine = by_ids(corrections, ids)
        fresh = without_known(mine, held)
        news.already["corrections"] = len(mine.numbers) - len(fresh.numbers)
        if len(fresh.numbers):
            news.grids.append(fresh)
    return news


def _known_files(connection: Connection, originals: Sequence[OriginalFile]) -> dict[str, str]:
    """Files that were added before, read in the same way: their names, and the SHA-256 of each."""
    from sqlalchemy import select

    f = schema.files.c
    roles: dict[int, dict[str, str]] = {}
    pairs: list[tuple[int, str]] = []
    for row in connection.execute(select(f.import_id, f.role, f.sha256)):
        if row.role == "mapping":
            roles.setdefault(row.import_id, {})["mapping"] = row.sha256
        else:
            pairs.append((row.import_id, row.sha256))
    before = {(sha, roles.get(number, {}).get("mapping", "")) for number, sha in pairs}
    how = next((one.sha256 for one in originals if one.role == "mapping"), "")
    return {
        one.name: one.sha256 for one in originals if one.role != "mapping" and (one.sha256, how) in before
    }


def _held_corrections(connection: Connection, address: Address, last: Mapping[str, int]) -> Grid | None:
    if last["corrections"] < schema.FIRST_ID:
        return None
    return stored_table(connection, "corrections", address.name).grid


def _as_found_and_now(
    connection: Connection,
    address: Address,
    name: str,
    new: Grid,
    corrections: Grid | None,
    last: Mapping[str, int],
) -> tuple[Grid, Grid]:
    """What the book holds beside these rows: as it came, and as corrections leave it."""
    if name == "events":
        found = stored_table(connection, name, address.name).grid
    else:
        found = stored_readings(
            connection, address.name, last[name], _beside(connection, new, corrections)
        ).grid
    return found, corrected({name: found}, corrections)[name]


def _beside(connection: Connection, new: Grid, corrections: Grid | None) -> Any:
    """Readings of the same vessels, and those whose vessel a correction may have changed."""
    from sqlalchemy import or_, select

    wanted = {folded(name) for name in texts_of(column_of(new, "vessel")).tolist()}
    held = connection.execute(select(schema.places.c.vessel).distinct()).scalars()
    vessels = sorted(name for name in held if folded(name) in wanted)
    if len(vessels) > MOST_VESSELS:
        return None
    same = schema.places.c.vessel.in_(vessels)
    if corrections is None:
        return same
    rows = {int(float(text)) for text in texts_of(column_of(corrections, "row")).tolist()}
    return None if len(rows) > MOST_VESSELS else or_(same, schema.readings.c.id.in_(sorted(rows)))


def _refuse_rivals(grid: Grid, already: Already, address: Address) -> None:
    """Two tellings of one event, or of the hours of one reading, cannot both hold: a shell's life hangs on them."""
    faults: list[Query] = []
    column = "event" if grid.table == "events" else "counter_h"
    for at in np.flatnonzero(already.contradicts).tolist():
        told = texts_of(column_of(grid, column))[at]
        what = told.replace("_", " ") if column == "event" else "reading"
        facts = "other facts" if column == "event" else "another counter_h"
        text = f"this {what} stands in {address.name}, {grid.table} id {already.rivals[at]}, with {facts}."
        advice = (
            "If the book is right, take the row out. If the row is right, write a correction of that id "
            "(`wearcast book correct`) first."
        )
        number = int(grid.sheet_rows[at])
        faults.append(cell_fault(grid, (number,), column, told, "the facts of the book", advice, text=text))
    if faults:
        raise InputRefused(faults)


def _ids_of_this_file(connection: Connection, grid: Grid, sha256: str, ids: NDArray[np.int64]) -> None:
    """For a file added before, the ids its own rows were given."""
    from sqlalchemy import select

    table, s, f = schema.row_tables[grid.table], schema.sheets, schema.files
    query = (
        select(s.c.sheet, table.c.row, table.c.id)
        .join(s, s.c.id == table.c.sheet_id)
        .join(f, f.c.id == s.c.file_id)
        .where(f.c.sha256 == sha256)
        .order_by(table.c.id)
    )
    by_row = {(sheet, row): number for sheet, row, number in connection.execute(query)}
    sheets = [grid.sheet] * len(grid.numbers) if grid.origin is None else grid.origin.sheets
    for at, place in enumerate(zip(sheets, grid.sheet_rows.tolist(), strict=True)):
        ids[at] = by_row.get(place, int(ids[at]))


def _note(news: News, grid: Grid, new: NDArray[np.bool_], already: Already) -> None:
    news.already[grid.table] = int((~new).sum())
    news.differing[grid.table] = int((already.differs & new).sum())
    completed = int((already.completes & new).sum())
    if completed:
        news.said.append(
            f"{completed} of these {grid.table} the book tells already, without all that is told here: both tellings "
            "stay, and count once."
        )
    if new.any():
        news.grids.append(grid.without(~new))


def _state(news: News, grid: Grid, now: Stored | None, subject: Sequence[str]) -> None:
    keep, words = restated(grid, now.grid if now else None, subject)
    news.already[grid.table] = int((~keep).sum())
    news.said += [f"{grid.table}, stated anew: {one}." for one in words]
    if keep.any():
        news.grids.append(grid.without(~keep))


def _now(connection: Connection, address: Address, name: str, last: Mapping[str, int]) -> Stored | None:
    from sqlalchemy import select

    if last[name] < schema.FIRST_ID:
        return None
    imports = {
        row.id: row.import_id
        for row in connection.execute(select(schema.sheets.c.id, schema.sheets.c.import_id))
    }
    return in_force(stored_table(connection, name, address.name), imports)
