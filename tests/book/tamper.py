"""Changing a book behind its back, as someone with all rights could: guards off, change, guards on again."""

from __future__ import annotations

import sqlite3
from contextlib import closing

TABLES = (
    "imports", "contents", "files", "sheets", "places", "circumstances", "readings", "events", "engines", "limits",
    "windows", "spares", "corrections",
)  # fmt: skip


def run(book: str, *statements: str, guarded: bool = False) -> None:
    """Run SQL in a book; unless guarded, with its triggers switched off meanwhile."""
    if book.startswith("postgresql"):
        import psycopg

        with psycopg.connect(book) as connection:
            for name in () if guarded else TABLES:
                connection.execute(f"ALTER TABLE {name} DISABLE TRIGGER ALL")
            for statement in statements:
                connection.execute(statement)
            for name in () if guarded else TABLES:
                connection.execute(f"ALTER TABLE {name} ENABLE TRIGGER ALL")
        return
    with closing(sqlite3.connect(book)) as connection, connection:
        kept = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in () if guarded else kept:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            connection.execute(statement)
        for _, sql in () if guarded else kept:
            connection.execute(sql)
