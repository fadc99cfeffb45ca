"""Connections to a book: one for reading, on a snapshot; one for writing, alone."""

from __future__ import annotations

import logging
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearcast.book import migrate
from wearcast.book.address import Address
from wearcast.book.intact import first_trouble
from wearcast.book.troubles import BUSY, told
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import kind_of, noted
from wearcast.errors import OutputFailed, WrongUse
from wearcast.records.cells import visible

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

WAIT_S = 120.0
"""How long a writer waits for another (judgement: a million readings take less)."""

TELL_AFTER_S = 3.0
"""How long it waits before it says so."""

_log = logging.getLogger("wearcast")

WRITER_LOCK = 7_305_119
"""The advisory lock by which writers of a PostgreSQL book take turns; any fixed number does."""


@contextmanager
def reading(address: Address) -> Iterator[Connection]:
    """A connection on which everything read is of one moment."""
    _must_exist(address)
    with told(address):
        engine = _engine(address)
        with engine.connect() as connection:
            if address.path is None:
                connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            with connection.begin():
                _check_schema(connection, address)
                with _whole_or_told(connection, address):
                    yield connection


@contextmanager
def _whole_or_told(connection: Connection, address: Address) -> Iterator[None]:
    """What trips over a row is the book's fault where the book does not verify, and the program's where it does."""
    try:
        yield
    except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError):
        trouble = first_trouble(connection)
        if not trouble:
            raise
        raise OutputFailed(f"{address}: {trouble} Go on from the last backup that verifies.") from None


@contextmanager
def writing(address: Address) -> Iterator[Connection]:
    """A connection that alone may write, in one transaction: all of what follows, or nothing of it."""
    _must_exist(address)
    with told(address), _engine(address).connect() as connection, _alone(connection, address):
        _check_schema(connection, address)
        with _whole_or_told(connection, address):
            yield connection


@contextmanager
def bare(address: Address) -> Iterator[Connection]:
    """A connection for making or upgrading the tables, in one transaction, whatever schema is there."""
    with told(address), _engine(address).connect() as connection, _alone(connection, address):
        yield connection


@contextmanager
def _alone(connection: Connection, address: Address) -> Iterator[None]:
    from sqlalchemy import text

    if address.path is not None:
        connection.execution_options(wearcast_write=True)
        with _begun(connection):
            yield
        return
    with connection.begin():
        connection.execute(text(f"SET LOCAL lock_timeout = '{int(WAIT_S)}s'"))
        _wait_for_turn(connection, address)
        yield


def _wait_for_turn(connection: Connection, address: Address) -> None:
    """Take the lock by which writers take turns; any login can hold it, so who does is said."""
    from sqlalchemy import text

    take, key, until, said = (
        text("SELECT pg_try_advisory_xact_lock(:key)"),
        {"key": WRITER_LOCK},
        WAIT_S,
        False,
    )
    began = time.monotonic()
    while not connection.scalar(take, key):
        waited = time.monotonic() - began
        if waited > until:
            raise OutputFailed(f"{address}: {BUSY} ({_holders(connection)})")
        if waited > TELL_AFTER_S and not said:
            said = True
            _log.warning(
                "%s: waiting for its turn to write, at most %d s; %s.", address, until, _holders(connection)
            )
        time.sleep(0.05)


def _holders(connection: Connection) -> str:
    from sqlalchemy import text

    query = (
        "SELECT DISTINCT a.usename, a.pid FROM pg_locks l JOIN pg_stat_activity a ON a.pid = l.pid "
        "WHERE l.locktype = 'advisory' AND l.granted AND l.objid = :key AND l.database = "
        "(SELECT oid FROM pg_database WHERE datname = current_database())"
    )
    found = connection.execute(text(query), {"key": WRITER_LOCK}).all()
    return "the turn is held by " + (
        ", ".join(f"{one.usename} (process {one.pid})" for one in found) or "nobody now"
    )


def _begun(connection: Connection) -> Any:
    """A transaction that holds the write lock, tried again where SQLite gives up before its time is out."""
    from sqlalchemy.exc import OperationalError

    until = time.monotonic() + WAIT_S
    while True:
        try:
            return connection.begin()
        except OperationalError as problem:
            if "locked" not in str(problem) or time.monotonic() > until:
                raise
            time.sleep(0.05)


def _engine(address: Address) -> Engine:
    from sqlalchemy import create_engine, event
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError
    from sqlalchemy.pool import NullPool

    if address.path is None:
        try:
            url = make_url(address.url).set(drivername="postgresql+psycopg")
            return create_engine(url, poolclass=NullPool, hide_parameters=True)
        except (ArgumentError, ValueError):
            raise WrongUse(
                f"{address}: this is no URL of a database. Write postgresql://HOST/NAME."
            ) from None
        except ImportError:
            raise WrongUse(
                f"{address}: for PostgreSQL the package psycopg is needed: pip install 'wearcast[postgresql]'."
            ) from None
    path = address.path
    engine = create_engine(
        "sqlite://", creator=lambda: _sqlite(path), poolclass=NullPool, hide_parameters=True
    )

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        at_once = connection.get_execution_options().get("wearcast_write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if at_once else "BEGIN")

    return engine


def _sqlite(path: Path) -> sqlite3.Connection:
    uri = path.absolute().as_uri()
    # On a read-only medium a book of an earlier version cannot open its log; there nobody writes either.
    still = not os.access(path.parent, os.W_OK) and not path.with_name(path.name + "-wal").exists()
    connection = sqlite3.connect(
        uri + ("?immutable=1" if still else "?mode=rw"), uri=True, timeout=WAIT_S, isolation_level=None
    )
    if not still and os.access(path, os.W_OK):
        _without_log(connection)
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA trusted_schema = OFF")
    connection.execute("PRAGMA cell_size_check = ON")
    connection.execute("PRAGMA cache_size = -64000")
    connection.execute("PRAGMA cache_spill = OFF")  # others may read until the end of a long import
    return connection


def _without_log(connection: sqlite3.Connection) -> None:
    """Books of earlier versions kept a log beside the file; without it the file alone is the book at rest."""
    if connection.execute("PRAGMA journal_mode").fetchone() == ("wal",):
        connection.execute("PRAGMA busy_timeout = 1000")
        with suppress(sqlite3.OperationalError):  # another process has it open: the next one will do it
            connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute(f"PRAGMA busy_timeout = {int(1000 * WAIT_S)}")


def _must_exist(address: Address) -> None:
    if address.path is None:
        return
    try:
        kind = kind_of(address.path)
    except TurnedAway as away:
        raise WrongUse(f"{address}: {away}") from None
    if not kind:
        raise WrongUse(
            f"{address}: there is no such record book. `wearcast book create {address}` makes one."
        )
    if kind != "file":
        what = "a folder" if kind == "folder" else "a pipe or a device"
        raise WrongUse(f"{address}: this is {what}; a record book is a file.")
    if not os.access(address.path, os.R_OK):
        raise OutputFailed(f"{address}: the file cannot be read. Check the rights.")
    noted(address.path)


def _check_schema(connection: Connection, address: Address) -> None:
    """Only a book of this program's schema is read or written."""
    found = migrate.revision_of(connection)
    if found == migrate.HEAD:
        return
    if found is None:
        raise WrongUse(
            f"{address}: there is no record book in it. Name the right one; `wearcast book create` makes a new one."
        )
    if found in migrate.known_revisions():
        raise WrongUse(
            f"{address}: the book was made by an earlier version (schema {found}; this one uses {migrate.HEAD}). "
            f"Make a backup, then run `wearcast book upgrade {address}`."
        )
    raise WrongUse(newer(address, found))


def newer(address: Address, schema: str) -> str:
    """What is said of a book that only a later version knows."""
    return f"{address}: the book was made by a newer version (schema {visible(schema)}). Update wearcast."


def side_files(path: Path) -> list[Path]:
    """What SQLite puts beside a book while somebody writes, and what a killed process may leave there."""
    return [path.with_name(path.name + end) for end in ("-journal", "-wal", "-shm")]


def refuse_leftovers(path: Path) -> None:
    """Refuse a place where something of an earlier book lies, which SQLite would take for this one's.

    Raises
    ------
    WrongUse
        Naming it.
    """
    for rest in side_files(path):
        if rest.exists():
            raise WrongUse(
                f"{path}: beside it lies {rest.name}, left by a book that was there before. Move it away, or the new "
                "book would be mixed with it."
            )
