"""The imports of a book in order: who added what when, and the digest after each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from wearcast.book import schema
from wearcast.book.chain import GENESIS
from wearcast.door.trees import json_of
from wearcast.errors import WrongUse
from wearcast.records.cells import visible

if TYPE_CHECKING:
    from sqlalchemy import Connection


MOST_ROWS = 2**31 - 1
"""Ids that a book can give."""


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
    malformed: str = ""

    def rows(self, table: str) -> int:
        """How many rows it added to a table."""
        return int(self.tables.get(table, {}).get("rows", 0))


def heads_of(connection: Connection) -> list[Head]:
    """Every import, oldest first."""
    from sqlalchemy import select

    t = schema.imports.c
    query = select(t.id, t.kind, t.by_name, t.at, t.source, t.previous, t.digest, t.tables).order_by(t.id)
    heads = []
    for number, kind, by_name, at, source, previous, digest, text in connection.execute(query):
        tables, malformed = _tables(str(text))
        heads.append(Head(number, kind, by_name, at, source, tables, previous, digest, text, malformed))
    return heads


def _tables(text: str) -> tuple[dict[str, Any], str]:
    """The tables of an import, and what is wrong with them where the text was tampered with: then there are none."""
    try:
        found = json_of(text)
        for name, one in found.items():
            counts = [one.get(key, 0) for key in ("first", "rows", "already")]
            if name not in schema.ROW_TABLES or not all(
                type(n) is int and 0 <= n <= MOST_ROWS for n in counts
            ):
                raise ValueError(f"the rows of {visible(name)} are told as {visible(str(one))}")
            if counts[1] and (counts[0] < schema.FIRST_ID or not isinstance(one.get("digest"), str)):
                raise ValueError(f"the rows of {visible(name)} are told as {visible(str(one))}")
    except (ValueError, AttributeError, TypeError) as problem:
        return {}, f"its list of tables is not understood ({visible(str(problem), 200)})"
    return found, ""


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
