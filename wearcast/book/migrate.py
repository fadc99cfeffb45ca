"""Bringing a database to the schema of this program, one released step after another."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from alembic.script import ScriptDirectory
    from sqlalchemy import Connection

HEAD = "0002"
"""The schema this program reads and writes."""


def revision_of(connection: Connection) -> str | None:
    """The schema of the database; None where no book was made in it."""
    from alembic.runtime.migration import MigrationContext

    return MigrationContext.configure(connection).get_current_revision()


def known_revisions() -> tuple[str, ...]:
    """Every released schema, oldest first."""
    return tuple(step.revision for step in reversed(list(_script().walk_revisions())))


def upgrade(connection: Connection, to: str = HEAD) -> None:
    """Run the steps that are missing, in the transaction of the connection."""
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext

    script = _script()

    def steps(revision: Any, _context: Any) -> Any:
        return script._upgrade_revs(to, revision)

    with EnvironmentContext(Config(), script, fn=steps) as environment:
        environment.configure(connection=connection)
        environment.run_migrations()


def _script() -> ScriptDirectory:
    from alembic.script import ScriptDirectory

    return ScriptDirectory(str(files("wearcast.book") / "migrations"))
