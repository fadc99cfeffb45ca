"""The triggers that refuse every change of what was written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearcast.book import schema

if TYPE_CHECKING:
    from sqlalchemy import Connection


def missing_guard(connection: Connection) -> str:
    """The name of the first trigger that should be there and is not, or is switched off; empty if all are."""
    from sqlalchemy import text

    tables = sorted(schema.metadata.tables)
    if connection.dialect.name == "postgresql":
        query = (
            "SELECT tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE NOT tgisinternal AND tgenabled IN ('O', 'A') AND pg_table_is_visible(c.oid)"
        )
        wanted = [f"{name}_only_added_to" for name in tables]
    else:
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        wanted = [f"{name}_no_{deed}" for name in tables for deed in ("update", "delete", "replace")]
    found = set(connection.scalars(text(query)))
    return next((name for name in wanted if name not in found), "")
