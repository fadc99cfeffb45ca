"""The schema of a book as this program makes it: tables, the triggers that refuse every change, the view, the rules."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from wearcast.book import migrate, schema
from wearcast.book.migrations.versions.v0001_first import GUARD

if TYPE_CHECKING:
    from sqlalchemy import Connection

_TYPES = {"INTEGER": "integer", "TEXT": "text", "BLOB": "bytea", "BYTEA": "bytea"}


def schema_trouble(connection: Connection) -> str:
    """The first thing of the schema that is not as it was made, in words; empty if all is."""
    made = _postgresql if connection.dialect.name == "postgresql" else _sqlite
    expected, found = made(connection)
    for name, text in expected.items():
        if name not in found:
            return f"the {name} is missing"
        if found[name] != text:
            return f"the {name} is not as it was made"
    return next((f"the {name} was put in" for name in found if name not in expected), "")


Named = dict[str, str]


def _sqlite(connection: Connection) -> tuple[Named, Named]:
    """What the migrations make in memory, and what the file holds."""
    from sqlalchemy import create_engine

    engine = create_engine("sqlite://")
    with engine.begin() as fresh:
        migrate.upgrade(fresh)
        expected = _master(fresh)
    engine.dispose()
    return expected, _master(connection)


def _master(connection: Connection) -> Named:
    query = "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"
    return {
        _words(kind, name): re.sub(
            r"STRICT$", "", _plain(f"{table}: {sql}")
        )  # not made by SQLite before 3.37
        for kind, name, table, sql in connection.exec_driver_sql(query)
    }


def _postgresql(connection: Connection) -> tuple[Named, Named]:
    expected = {
        _words("trigger", f"{name}_only_added_to"): _plain(
            f"CREATE TRIGGER {name}_only_added_to BEFORE DELETE OR UPDATE OR TRUNCATE ON {name} FOR EACH STATEMENT "
            "EXECUTE FUNCTION record_book_guard()"
        )
        for name in sorted(schema.metadata.tables)
    }
    expected[_words("function", "record_book_guard")] = _plain(GUARD)
    expected[_words("view", "readings_as_found")] = _plain(_view())
    for name, table in schema.metadata.tables.items():
        for column in table.columns:
            kind = _TYPES[str(column.type.compile(connection.dialect))]
            expected[_words("column", f"{name}.{column.name}")] = f"{kind} NO None"
        expected |= {_rule(name, text): "" for text in _constraints(table)}
        expected |= {_words("index", str(index.name)): "" for index in table.indexes}
    return expected, dict(_in_postgresql(connection))


def _constraints(table: Any) -> Iterator[str]:
    """What a table refuses by itself, as PostgreSQL writes it."""
    for one in table.constraints:
        kind = {"primary_key_constraint": "PRIMARY KEY", "unique_constraint": "UNIQUE"}.get(
            one.__visit_name__
        )
        columns = ", ".join(column.name for column in one.columns)
        if kind:
            yield f"{kind} ({columns})"
        else:
            (other,) = (key.column for key in one.elements)
            late = " DEFERRABLE INITIALLY DEFERRED" if one.deferrable else ""
            yield f"FOREIGN KEY ({columns}) REFERENCES {other.table.name}({other.name}){late}"


def _rule(table: str, text: str) -> str:
    return _words("rule", f"{table}: {text.replace(chr(34), '')}")


def _view() -> str:
    columns = (
        [f"p.{name}" for name in schema.PLACE] + ["r.value"] + [f"c.{name}" for name in schema.CIRCUMSTANCES]
    )
    return (
        f"SELECT r.id, s.import_id, f.name AS file, s.sheet, r.row, {', '.join(columns)} FROM readings r "
        "JOIN places p ON p.id = r.place_id JOIN circumstances c ON c.id = r.circumstances_id "
        "JOIN sheets s ON s.id = r.sheet_id JOIN files f ON f.id = s.file_id;"
    )


def _in_postgresql(connection: Connection) -> Iterator[tuple[str, str]]:
    tables = sorted(schema.metadata.tables)
    ours = "ANY (%(tables)s) AND pg_table_is_visible(c.oid)"

    def rows(query: str) -> Any:
        return connection.exec_driver_sql(query, {"tables": tables})

    for name, enabled, text in rows(
        "SELECT tgname, tgenabled, pg_get_triggerdef(t.oid, true) FROM pg_trigger t "
        f"JOIN pg_class c ON c.oid = t.tgrelid WHERE NOT tgisinternal AND c.relname = {ours}"
    ):
        if _char(enabled) in "OA":
            yield _words("trigger", name), _plain(text)
    for name, text in rows(
        "SELECT r.rulename, pg_get_ruledef(r.oid) FROM pg_rewrite r JOIN pg_class c ON c.oid = r.ev_class "
        f"WHERE c.relname = {ours}"
    ):
        yield _words("rule", name), text
    for (text,) in rows(
        "SELECT prosrc FROM pg_proc WHERE proname = 'record_book_guard' AND pg_function_is_visible(oid)"
    ):
        yield _words("function", "record_book_guard"), _plain(text)
    for (text,) in rows(
        "SELECT pg_get_viewdef(c.oid, true) FROM pg_class c WHERE relname = 'readings_as_found' AND relkind = 'v' "
        "AND pg_table_is_visible(c.oid)"
    ):
        yield _words("view", "readings_as_found"), _plain(text)
    for table, name, kind, required, default in rows(
        "SELECT c.relname, a.attname, format_type(a.atttypid, a.atttypmod), a.attnotnull, "
        "pg_get_expr(d.adbin, d.adrelid) FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid "
        "LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum "
        f"WHERE a.attnum > 0 AND NOT a.attisdropped AND c.relname = {ours}"
    ):
        yield _words("column", f"{table}.{name}"), f"{kind} {'NO' if required else 'YES'} {default}"
    for table, text in rows(  # a column that must be filled is one of the columns above
        "SELECT c.relname, pg_get_constraintdef(k.oid, true) FROM pg_constraint k "
        f"JOIN pg_class c ON c.oid = k.conrelid WHERE k.contype <> 'n' AND c.relname = {ours}"
    ):
        yield _rule(table, text), ""
    for (name,) in rows(
        "SELECT i.relname FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid "
        f"JOIN pg_class c ON c.oid = x.indrelid WHERE c.relname = {ours} "
        "AND NOT EXISTS (SELECT FROM pg_constraint WHERE conindid = i.oid)"
    ):
        yield _words("index", name), ""


def _words(kind: str, name: str) -> str:
    return f"{'guard' if kind == 'trigger' else kind} {name}"


def _char(value: str | bytes) -> str:
    return value.decode() if isinstance(value, bytes) else value


def _plain(text: str) -> str:
    """SQL less blanks, quotes and brackets, in which versions differ."""
    return re.sub(r'[\s"()]+', "", text)
