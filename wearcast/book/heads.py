"""The imports of a book in order: who added what when, and the digest after each."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from wearcast.book import schema
from wearcast.book.chain import GENESIS
from wearcast.errors import WrongUse

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class Head:
    """One import as stored.

    Attributes
    ----------
    kind : str
        ``records`` or ``corrections``.
    at : str
        When, in UTC.
    tables : dict
        For each table with new rows its ``first`` id, its ``rows``, how many were there ``already``, and the
        ``digest`` of the last row.
    """

    id: int
    kind: str
    by_name: str
    at: str
    source: str
    tables: dict[str, Any]
    previous: str
    digest: str
    tables_as_stored: str

    def rows(self, table: str) -> int:
        """How many rows it added to a table."""
        return int(self.tables.get(table, {}).get("rows", 0))


def heads_of(connection: Connection) -> list[Head]:
    """Every import, oldest first."""
    from sqlalchemy import select

    t = schema.imports.c
    query = select(t.id, t.kind, t.by_name, t.at, t.source, t.previous, t.digest, t.tables).order_by(t.id)
    return [
        Head(number, kind, by_name, at, source, _tables(text), previous, digest, text)
        for number, kind, by_name, at, source, previous, digest, text in connection.execute(query)
    ]


def _tables(text: str) -> dict[str, Any]:
    """The tables of an import; none where the text was tampered with, which `verify` will tell."""
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def known_on(heads: Sequence[Head], day: date) -> list[Head]:
    """The imports made on or before a day (UTC).

    Raises
    ------
    WrongUse
        If nothing was known yet.
    """
    # up to the last one of that day: where a clock went back, an import in between was known as well
    last = max((at for at, head in enumerate(heads) if head.at[:10] <= day.isoformat()), default=-1)
    if last < 0:
        first = f"; its first import is of {heads[0].at[:10]}" if heads else ""
        raise WrongUse(f"Nothing was in the book on {day.isoformat()}{first}.")
    return list(heads[: last + 1])


def last_digest(heads: Sequence[Head]) -> str:
    """The digest after the last import."""
    return heads[-1].digest if heads else GENESIS


def last_ids(heads: Sequence[Head]) -> dict[str, int]:
    """The last id of each table."""
    last = dict.fromkeys(schema.ROW_TABLES, schema.FIRST_ID - 1)
    for head in heads:
        for name in head.tables:
            if head.rows(name):
                last[name] = int(head.tables[name]["first"]) + head.rows(name) - 1
    return last
