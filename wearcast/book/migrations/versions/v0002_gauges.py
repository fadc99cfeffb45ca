"""Gauges and their certificates: a table more, stored whole, guarded as the others are."""

from __future__ import annotations

from alembic import op

from wearcast.book.migrations.versions.v0001_first import guard_postgresql, guard_sqlite, make_plain

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

NAME = "gauges"
COLUMNS = (
    "instrument",
    "vessel",
    "kind",
    "certificate",
    "calibrated_on",
    "due_on",
    "by_name",
    "u_um",
    "more",
)


def upgrade() -> None:
    """Make the table, its guards, and the rights of the roles."""
    make_plain(NAME, COLUMNS)
    if op.get_context().dialect.name == "postgresql":
        guard_postgresql((NAME,))
        op.execute(f"GRANT SELECT ON {NAME} TO wearcast_reader, wearcast_writer")
        op.execute(f"GRANT INSERT ON {NAME} TO wearcast_writer")
    else:
        guard_sqlite((NAME,))
