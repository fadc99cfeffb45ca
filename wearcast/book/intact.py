"""The first thing in an open book that is not as it was written: rows, files, imports, schema."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearcast.book import schema
from wearcast.book.chain import GENESIS, JOIN, import_digest, start
from wearcast.book.guards import schema_trouble
from wearcast.book.heads import Head, heads_of

if TYPE_CHECKING:
    from sqlalchemy import Connection


def first_trouble(connection: Connection) -> str:
    """The first thing of an open book that is not as it was written; empty if all is."""
    return next(_troubles(connection, heads_of(connection)), "")


def _troubles(connection: Connection, heads: Sequence[Head]) -> Iterator[str]:
    made = schema_trouble(connection)
    yield from _chain_troubles(connection, heads)
    yield from _content_troubles(connection)
    for name in schema.ROW_TABLES:
        yield from _row_troubles(connection, name, heads)
    yield from _unused(connection)
    if made:
        yield f"{made}; rows are as they were written."


def _chain_troubles(connection: Connection, heads: Sequence[Head]) -> Iterator[str]:
    """Imports in order, each as its digest says."""
    from sqlalchemy import select

    f, s = schema.files.c, schema.sheets.c
    files: dict[int, list[tuple[int, str, str, str]]] = {}
    for row in connection.execute(select(f.import_id, f.id, f.name, f.role, f.sha256).order_by(f.id)):
        files.setdefault(row[0], []).append(tuple(row[1:]))
    sheets: dict[int, list[tuple[int, int, str, str]]] = {}
    for row in connection.execute(select(s.import_id, s.id, s.file_id, s.sheet, s.table_name).order_by(s.id)):
        sheets.setdefault(row[0], []).append(tuple(row[1:]))
    previous = GENESIS
    for number, head in enumerate(heads, start=1):
        where = f"import {number} ({head.at}, {head.by_name})"
        if head.id != number:
            yield f"import {number} is missing."
            return
        if head.malformed:
            yield f"{where} is malformed: {head.malformed}."
            return
        if head.previous != previous:
            yield f"{where} does not follow the import before it: one of the two was changed or put in."
            return
        told = {"kind": head.kind, "by_name": head.by_name, "at": head.at, "source": head.source,
                "tables": head.tables_as_stored, "previous": head.previous}  # fmt: skip
        found = import_digest(number, told, files.pop(number, []), sheets.pop(number, []))
        if found != head.digest:
            yield from _row_troubles_of(connection, heads[:number])
            yield f"{where} was changed: its own line, its list of files or the digests of its rows."
            return
        previous = head.digest
    for number in sorted({*files, *sheets}):
        yield f"files or sheets of an import {number} that is not there."


def _row_troubles_of(connection: Connection, heads: Sequence[Head]) -> Iterator[str]:
    """A changed row names itself better than its import does."""
    for name in schema.ROW_TABLES:
        yield from _row_troubles(connection, name, heads, to_the_end=False)


def _content_troubles(connection: Connection) -> Iterator[str]:
    """Original files byte for byte."""
    from sqlalchemy import select

    f, c = schema.files.c, schema.contents.c
    query = select(f.import_id, f.name, f.sha256).order_by(f.id)
    checked: set[str] = set()
    for number, name, sha256 in connection.execute(query).all():
        if sha256 in checked:
            continue
        checked.add(sha256)
        data = connection.scalar(select(c.data).where(c.sha256 == sha256))
        if data is None:
            yield f"the original file {name} of import {number} is missing."
        elif hashlib.sha256(data).hexdigest() != sha256:
            yield f"the original file {name} of import {number} is not the one that was added."
    for sha256 in connection.scalars(select(c.sha256).order_by(c.sha256)):
        if sha256 not in checked:
            yield f"an original file (SHA-256 {sha256}) belongs to no import: it was put in."


def _row_troubles(
    connection: Connection, name: str, heads: Sequence[Head], to_the_end: bool = True
) -> Iterator[str]:
    """The rows of one table: ids without a gap, each import's rows by their digests."""
    rows = _rows(connection, name)
    expected = schema.FIRST_ID
    row = next(rows, None)
    for head in heads:
        count = head.rows(name)
        digest = start(name, head.previous)
        for _ in range(count):
            if row is None or row.id > expected:
                yield f"{name}, id {expected} (import {head.id}) is missing."
                return
            if row.id < expected:
                yield f"{name}, id {row.id} was put in."
                return
            digest = hashlib.sha256(digest + row.text.encode("utf-8", "surrogatepass")).digest()
            if digest != row.digest:
                yield f"{name}, id {row.id} (came in {row.place}; import {head.id}) was changed."
                return
            expected += 1
            row = next(rows, None)
        if count and digest.hex() != head.tables[name].get("digest"):
            yield f"{name}, id {expected - 1} (import {head.id}) or its digest was changed."
            return
    if row is not None and to_the_end:
        yield f"{name}, id {row.id} was put in: it belongs to no import."


@dataclass(frozen=True)
class _Row:
    id: int
    text: str
    digest: bytes
    place: str


def _rows(connection: Connection, name: str) -> Iterator[_Row]:
    """Every row of a table in order, its texts joined as for its digest."""
    from sqlalchemy import select

    places = _places(connection)
    table: Any = schema.row_tables[name]
    if name == "readings":
        r = schema.readings.c
        shared = _shared(connection, schema.places, schema.PLACE)
        about = _shared(connection, schema.circumstances, schema.CIRCUMSTANCES)
        query = select(r.id, r.sheet_id, r.row, r.value, r.place_id, r.circumstances_id, r.digest)
        for part in connection.execute(query.order_by(r.id)).partitions(20_000):
            for at, sheet, row, value, place, circumstances, digest in part:
                text = f"{at}\0{sheet}\0{row}\0{value}\0{shared.get(place)}\0{about.get(circumstances)}"
                yield _Row(at, text, bytes(digest), _place_words(places, sheet, row))
        return
    names = schema.PLAIN[name]
    query = select(
        table.c.id, table.c.sheet_id, table.c.row, *(table.c[one] for one in names), table.c.digest
    )
    for at, sheet, row, *texts, digest in connection.execute(query.order_by(table.c.id)):
        yield _Row(at, JOIN.join((str(at), str(sheet), str(row), *map(str, texts))), bytes(digest),
                   _place_words(places, sheet, row))  # fmt: skip


def _shared(connection: Connection, table: Any, names: Sequence[str]) -> dict[int, str]:
    from sqlalchemy import select

    query = select(table.c.id, *(table.c[name] for name in names))
    return {at: JOIN.join(texts) for at, *texts in connection.execute(query)}


def _places(connection: Connection) -> dict[int, tuple[str, str]]:
    from sqlalchemy import select

    s, f = schema.sheets.c, schema.files.c
    query = select(s.id, f.name, s.sheet).join_from(schema.sheets, schema.files, s.file_id == f.id)
    return {at: (name, sheet) for at, name, sheet in connection.execute(query)}


def _place_words(places: dict[int, tuple[str, str]], sheet: int, row: int) -> str:
    file, name = places.get(sheet, ("an unknown file", ""))
    return f"{file}, sheet {name}, row {row}" if name else f"{file}, row {row}"


def _unused(connection: Connection) -> Iterator[str]:
    """Shared parts that no reading has were not written by an import."""
    from sqlalchemy import select

    for table, used, words in (
        (schema.places, schema.readings.c.place_id, "places"),
        (schema.circumstances, schema.readings.c.circumstances_id, "circumstances"),
    ):
        # two sets here, not NOT IN there: a server may compare every row with every other
        held = set(connection.scalars(select(used).distinct()))
        query = select(table.c.id).order_by(table.c.id)
        found = next((number for number in connection.scalars(query) if number not in held), None)
        if found is not None:
            yield f"{words}, id {found} belongs to no reading: it was put in."
