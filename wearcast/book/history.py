"""What is known of one bearing or one row: every reading and event, where it came from, what was corrected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearcast.book import schema
from wearcast.book.address import Address, address_of
from wearcast.book.connect import reading
from wearcast.book.heads import MOST_ROWS, Head, heads_of
from wearcast.book.stored import Stored, stored_readings, stored_table
from wearcast.records.cells import text_of
from wearcast.records.grids import Grid
from wearcast.records.names import spellings

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class Bearing:
    """A bearing; an empty `half` stands for both and the bearing as a whole."""

    vessel: str
    engine: str
    bearing: str
    position: str
    half: str = ""


@dataclass(frozen=True)
class Correction:
    """One correction of a row, and who entered it when."""

    id: int
    action: str
    column: str
    old: str
    new: str
    reason: str
    by: str
    date: str
    entered_by: str
    entered_at: str


@dataclass(frozen=True)
class Told:
    """One row of the readings or events of a book.

    Attributes
    ----------
    cells : dict of str to str
        What stands in it as it came, by column; empty ones left out.
    came_in : str
        File, sheet and row.
    added_by, added_at : str
        Who added it when (UTC).
    corrections : tuple of Correction
        In the order in which they were entered.
    """

    table: str
    id: int
    cells: dict[str, str]
    came_in: str
    import_id: int
    added_by: str
    added_at: str
    corrections: tuple[Correction, ...]

    @property
    def withdrawn(self) -> bool:
        """Whether a correction took it out."""
        return any(one.action == "withdraw" for one in self.corrections)

    @property
    def now(self) -> dict[str, str]:
        """What stands in it after its corrections."""
        cells = dict(self.cells)
        for one in self.corrections:
            if one.action == "replace":
                cells[one.column.casefold()] = one.new
        return {name: text for name, text in cells.items() if text}


def of_bearing(book: str | Path, bearing: Bearing) -> tuple[Told, ...]:
    """Every reading and event of a bearing, as it came or as it was corrected, in order of date."""
    address = address_of(book)
    p, e = schema.places.c, schema.plain["events"].c
    with reading(address) as connection:
        named = _named(connection, bearing)
        heads = heads_of(connection)
        given = _corrections(connection, address, heads)
        moved = {name: [at for table, at in given if table == name] for name in ("readings", "events")}
        found = [
            stored_readings(
                connection, address.name, only=_at(p, named, schema.readings.c.id, moved["readings"])
            ),
            stored_table(connection, "events", address.name, only=_at(e, named, e.id, moved["events"])),
        ]
        rows = [one for stored in found for one in _told(connection, stored, heads, given)]
    of_it = [one for one in rows if any(_is_of(one.cells, at) or _is_of(one.now, at) for at in named)]
    return tuple(sorted(of_it, key=lambda one: (one.now.get("date", ""), one.table, one.id)))


def of_row(book: str | Path, table: str, number: int) -> tuple[Told, ...]:
    """One reading or event by its id; nothing where there is none."""
    address = address_of(book)
    if not 0 < number <= MOST_ROWS:
        return ()
    with reading(address) as connection:
        heads = heads_of(connection)
        given = _corrections(connection, address, heads)
        if table == "readings":
            stored = stored_readings(connection, address.name, only=schema.readings.c.id == number)
        else:
            own = schema.plain[table].c.id == number
            stored = stored_table(connection, table, address.name, only=own)
        return tuple(_told(connection, stored, heads, given))


def _named(connection: Connection, bearing: Bearing) -> list[Bearing]:
    """The bearing under every spelling of its vessel and engine that the book has."""
    from sqlalchemy import select, union

    tables = (schema.places.c, *(schema.plain[name].c for name in ("events", "engines")))
    found = connection.execute(union(*(select(one.vessel, one.engine) for one in tables))).all()
    pairs = [(str(vessel), str(engine)) for vessel, engine in found if engine]
    asked = spellings(bearing.vessel, bearing.engine, pairs)
    return [replace(bearing, vessel=vessel, engine=engine) for vessel, engine in asked]


def _at(columns: Any, named: Sequence[Bearing], own_id: Any, moved: Sequence[int]) -> Any:
    from sqlalchemy import and_, or_

    names = ("vessel", "engine", "bearing", "position")
    there = or_(*(and_(*(columns[name] == getattr(one, name) for name in names)) for one in named))
    return or_(there, own_id.in_(moved)) if moved else there


def _is_of(cells: dict[str, str], bearing: Bearing) -> bool:
    names = ("vessel", "engine", "bearing", "position")
    same = all(cells.get(name, "") == getattr(bearing, name) for name in names)
    return same and (not bearing.half or cells.get("half", "") in ("", bearing.half))


def _told(
    connection: Connection,
    stored: Stored,
    heads: Sequence[Head],
    given: dict[tuple[str, int], list[Correction]],
) -> list[Told]:
    from sqlalchemy import select

    s, f = schema.sheets.c, schema.files.c
    query = select(s.id, s.import_id, f.name, s.sheet).join_from(
        schema.sheets, schema.files, s.file_id == f.id
    )
    came = {row.id: row for row in connection.execute(query)}
    rows = []
    for at, number in enumerate(stored.grid.numbers.tolist()):
        sheet = came[int(stored.origin.sheets[at])]
        head = heads[sheet.import_id - 1]
        where = f"{sheet.name}, sheet {sheet.sheet}" if sheet.sheet else str(sheet.name)
        rows.append(
            Told(
                stored.grid.table,
                number,
                _cells(stored.grid, at),
                f"{where}, row {int(stored.origin.rows[at])}",
                head.id,
                head.by_name,
                head.at,
                tuple(given.get((stored.grid.table, number), ())),
            )
        )
    return rows


def _cells(grid: Grid, at: int) -> dict[str, str]:
    cells = {column.name: text_of(column[at]) for column in grid.columns}
    return {name: text for name, text in cells.items() if text}


def _corrections(
    connection: Connection, address: Address, heads: Sequence[Head]
) -> dict[tuple[str, int], list[Correction]]:
    """The corrections of every row, in the order in which they were entered."""
    from sqlalchemy import select

    stored = stored_table(connection, "corrections", address.name)
    s = schema.sheets.c
    imports = {row.id: row.import_id for row in connection.execute(select(s.id, s.import_id))}
    found: dict[tuple[str, int], list[Correction]] = {}
    for at, number in enumerate(stored.grid.numbers.tolist()):
        cells = {column.name: text_of(column[at]) for column in stored.grid.columns}
        head = heads[imports[int(stored.origin.sheets[at])] - 1]
        one = Correction(
            id=number,
            action=cells["action"],
            column=cells["column"],
            old=cells["old"],
            new=cells["new"],
            reason=cells["reason"],
            by=cells["by"],
            date=cells["date"],
            entered_by=head.by_name,
            entered_at=head.at,
        )
        found.setdefault((cells["table"], int(float(cells["row"]))), []).append(one)
    return found
