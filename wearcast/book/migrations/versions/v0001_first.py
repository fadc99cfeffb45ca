"""The first schema: imports and their files, rows as they came, guards against change, roles on PostgreSQL."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

STRICT_FROM = (3, 37)

PLACE = ("vessel", "engine", "bearing", "position", "half", "point", "quantity")
CIRCUMSTANCES = (
    "unit", "date", "counter_h", "state", "instrument", "u_um", "temperature_c", "conditions", "measured_by",
    "remark", "more",
)  # fmt: skip
PLAIN = {
    "events": (
        "vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size", "new_value",
        "unit", "new_counter_h", "finding", "remark", "more",
    ),
    "engines": (
        "vessel", "engine", "engine_type", "numbered_from", "hours_per_year", "hours_per_year_sd", "in_service",
        "duty", "mains", "throws", "first_main", "thrust_at", "deflection_sign", "housing_bore_mm", "stroke_mm",
        "more",
    ),
    "limits": (
        "engine_type", "bearing", "half", "quantity", "shell_size", "point", "new_min", "new_max", "limit",
        "limit_side", "unit", "overlay_um", "renew_at_h", "limit_source", "part_reference", "more",
    ),
    "windows": ("vessel", "engine", "date", "name", "kind", "max_openings", "more"),
    "spares": (
        "engine_type", "bearing", "half", "shell_size", "part_reference", "on_hand", "on_order", "lead_time_days",
        "forwarding_days", "margin_days", "minimum_on_board", "unit_cost", "currency", "more",
    ),
    "corrections": (
        "target_table", "target_id", "target_column", "old", "new", "action", "reason", "by_name", "date", "more",
    ),
}  # fmt: skip
GUARD = " BEGIN RAISE EXCEPTION 'a record book is only added to; write a correction' USING ERRCODE = '42501'; END "
TABLES = ("imports", "contents", "files", "sheets", "places", "circumstances", "readings", *PLAIN)


def upgrade() -> None:
    """Make the tables, their guards, the view and the roles."""
    _tables()
    _view()
    if op.get_context().dialect.name == "postgresql":
        make_guard_postgresql()
        guard_postgresql(TABLES)
        _roles()
    else:
        guard_sqlite(TABLES)


def _tables() -> None:
    _table("imports", _id(), *_texts("kind", "by_name", "at", "source", "tables", "previous", "digest"),
           sa.UniqueConstraint("previous", name="imports_one_after_another"))  # fmt: skip
    _table(
        "contents",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    _table(
        "files",
        _id(),
        _to_import(),
        *_texts("name", "role"),
        sa.Column("sha256", sa.Text, sa.ForeignKey("contents.sha256"), nullable=False),
    )
    _table(
        "sheets",
        _id(),
        _to_import(),
        _to("file_id", "files.id"),
        *_texts("sheet", "table_name"),
    )
    _table("places", _id(), *_texts(*PLACE), sa.UniqueConstraint(*PLACE, name="places_once"))
    _table("circumstances", _id(), *_texts(*CIRCUMSTANCES))
    _table("readings", *_row(), _to("place_id", "places.id"), _to("circumstances_id", "circumstances.id"),
           *_texts("value"), _digest())  # fmt: skip
    op.create_index("ix_readings_place_id", "readings", ["place_id"])
    for name, columns in PLAIN.items():
        make_plain(name, columns)


def make_plain(name: str, columns: Iterable[str]) -> None:
    """A table whose rows are stored whole."""
    _table(name, *_row(), *_texts(*columns), _digest())


def _table(name: str, *columns: sa.schema.SchemaItem) -> None:
    strict = sqlite3.sqlite_version_info >= STRICT_FROM
    op.create_table(name, *columns, sqlite_strict=strict)


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True, autoincrement=False)


def _to(name: str, target: str) -> sa.Column[int]:
    return sa.Column(name, sa.Integer, sa.ForeignKey(target), nullable=False)


def _to_import() -> sa.Column[int]:
    """Checked at the end: an import is written last, when the digests of its rows are known."""
    key = sa.ForeignKey("imports.id", deferrable=True, initially="DEFERRED")
    return sa.Column("import_id", sa.Integer, key, nullable=False)


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _digest() -> sa.Column[bytes]:
    return sa.Column("digest", sa.LargeBinary, nullable=False)


def _row() -> list[sa.Column[int]]:
    return [_id(), _to("sheet_id", "sheets.id"), sa.Column("row", sa.Integer, nullable=False)]


def _view() -> None:
    columns = [f"p.{name}" for name in PLACE] + ["r.value"] + [f"c.{name}" for name in CIRCUMSTANCES]
    op.execute(
        "CREATE VIEW readings_as_found AS "
        f"SELECT r.id, s.import_id, f.name AS file, s.sheet, r.row, {', '.join(columns)} "
        "FROM readings r JOIN places p ON p.id = r.place_id JOIN circumstances c ON c.id = r.circumstances_id "
        "JOIN sheets s ON s.id = r.sheet_id JOIN files f ON f.id = s.file_id"
    )


def guard_sqlite(tables: Iterable[str]) -> None:
    """Triggers that refuse every change of these tables."""
    for name in tables:
        key = "sha256" if name == "contents" else "id"
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {name}_no_{deed.lower()} BEFORE {deed} ON {name} "
                "BEGIN SELECT RAISE(ABORT, 'a record book is only added to; write a correction'); END"
            )
        # INSERT OR REPLACE takes the old row away without asking the trigger on DELETE
        op.execute(
            f"CREATE TRIGGER {name}_no_replace BEFORE INSERT ON {name} "
            f"WHEN EXISTS (SELECT 1 FROM {name} WHERE {key} = NEW.{key}) "
            "BEGIN SELECT RAISE(ABORT, 'a record book is only added to; this row exists'); END"
        )


def make_guard_postgresql() -> None:
    """The function that the triggers call."""
    op.execute(f"CREATE FUNCTION record_book_guard() RETURNS trigger LANGUAGE plpgsql AS $${GUARD}$$")


def guard_postgresql(tables: Iterable[str]) -> None:
    """Triggers that refuse every change of these tables."""
    for name in tables:
        op.execute(
            f"CREATE TRIGGER {name}_only_added_to BEFORE UPDATE OR DELETE OR TRUNCATE ON {name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION record_book_guard()"
        )


def _roles() -> None:
    """Group roles without login, granted to logins by whoever runs the server; they serve every book on it.

    The tables belong to the login that made them: an owner of all books of a server could undo the guards of any.
    """
    names = ", ".join((*TABLES, "alembic_version", "readings_as_found"))
    for role in ("wearcast_reader", "wearcast_writer"):
        # asked first: to try and fail takes a right that a maker of books on a server that has the roles need not have
        op.execute(
            f"DO $$ BEGIN IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{role}') THEN "
            f"CREATE ROLE {role} NOLOGIN; END IF; EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL; END $$"
        )
    op.execute(
        "DO $$ BEGIN EXECUTE format('GRANT USAGE ON SCHEMA %I TO wearcast_reader, wearcast_writer', current_schema()); "
        "END $$"
    )
    op.execute(f"GRANT SELECT ON {names} TO wearcast_reader, wearcast_writer")
    op.execute(f"GRANT INSERT ON {', '.join(TABLES)} TO wearcast_writer")
