"""A book from somebody else: looked at as a file and a schema before any row of it is read."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from wearcast.book.address import address_of
from wearcast.book.connect import reading
from wearcast.book.guards import schema_trouble
from wearcast.errors import OutputFailed


def refuse_strange(path: Path) -> None:
    """Refuse a book that is damaged or holds more than a book does: views or triggers of its own would be run.

    Raises
    ------
    OutputFailed
        Saying what it is.
    """
    address = address_of(path)
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as book:
            for rule in ("trusted_schema = OFF", "cell_size_check = ON", "query_only = ON"):
                book.execute(f"PRAGMA {rule}")
            found = str(book.execute("PRAGMA integrity_check(1)").fetchone()[0])
    except (sqlite3.Error, UnicodeDecodeError) as problem:
        found = str(problem)
    if found != "ok":
        raise OutputFailed(f"{address}: the file is damaged ({' '.join(found.split())[:200]}).")
    with reading(address) as connection:
        trouble = schema_trouble(connection)
    if trouble:
        raise OutputFailed(f"{address}: {trouble}; nothing of it was read.")
