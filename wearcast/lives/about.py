"""Queries about rows that know where they stand: readings, events, parts in store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wearcast.lives.shells import Event
from wearcast.queries import Query

_ORIGIN = ("table", "file", "sheet", "vessel", "engine", "bearing", "position", "half")


def query_about(about: Sequence[Any], kind: str, text: str, ask: str, **told: Any) -> Query:
    """A query about one or several rows; table, file, sheet and place are filled in where all rows share them.

    Parameters
    ----------
    about : sequence of rows
        With the attributes `row`, `table`, `file`, `sheet` and those of a place, as far as not told.
    **told
        Further fields of the query, or what stands instead of the rows' own.
    """
    shared = {}
    for name in _ORIGIN:
        values = set() if name in told else {str(getattr(row, name)) for row in about}
        shared[name] = values.pop() if len(values) == 1 else ""
    rows = tuple(sorted(int(row.row) for row in about))
    return Query(kind, text, ask, **{"rows": rows, **shared, **told})


def query_of_event(
    event: Event, kind: str, text: str, ask: str, column: str, found: str, rows: tuple[int, ...] = ()
) -> Query:
    """A query about one row of the events table; `rows` where it is about further rows, too."""
    told = {"column": column, "found": found, "rows": rows or (event.row,), **vars(event.place)}
    return query_about([event], kind, text, ask, table="events", **told)
