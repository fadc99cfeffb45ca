"""A copy of a book in one file, proved by its digest before it takes its name."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearcast.book import migrate, schema
from wearcast.book.address import Address, address_of
from wearcast.book.connect import WAIT_S, bare, reading, refuse_leftovers
from wearcast.book.create import create
from wearcast.book.troubles import told
from wearcast.book.verify import Verified, verify
from wearcast.book.write import insert
from wearcast.errors import OutputFailed, WrongUse

if TYPE_CHECKING:
    from sqlalchemy import Connection

PAGES = 2_000
"""Pages copied at a time, between which others may write."""


def backup(book: str | Path, out: str | Path) -> Verified:
    """Copy a book, while others may use it, into a new `.book` file or an empty database, and verify the copy.

    From or into PostgreSQL it is copied row by row into the same schema; its digests are the same.

    Raises
    ------
    WrongUse
        If there is a book already, or something else of that name.
    OutputFailed
        If the copy cannot be written, or does not verify; nothing is left behind then.
    """
    address, target = address_of(book), address_of(out)
    if target.path is None:
        return _into_database(address, target)
    out = target.path
    if out.exists():
        raise WrongUse(f"{out}: there is a file of that name already; nothing was changed.")
    refuse_leftovers(out)
    if not out.parent.is_dir():
        raise WrongUse(f"{out}: there is no folder {out.parent}.")
    with reading(address):
        pass  # whether there is such a book is told before anything is written
    try:
        folder = tempfile.mkdtemp(dir=out.parent, prefix=f".{out.name}.")
    except OSError as problem:
        raise OutputFailed(f"{out}: cannot be written ({problem.strerror}). Nothing was changed.") from None
    part = Path(folder) / out.name
    try:
        _copy(address, part, out)
        copied = verify(part)
        if not copied.whole:
            raise OutputFailed(f"{out}: the copy does not verify: {copied.trouble} Verify the book itself.")
        os.link(part, out)
    except FileExistsError:
        raise WrongUse(f"{out}: there is a file of that name already; nothing was changed.") from None
    except OSError as problem:
        raise OutputFailed(f"{out}: cannot be written ({problem.strerror}). Nothing was changed.") from None
    finally:
        for rest in Path(folder).iterdir():
            with suppress(OSError):
                rest.unlink()
        with suppress(OSError):
            Path(folder).rmdir()
    return copied


def _copy(address: Address, part: Path, out: Path) -> None:
    if address.path is None:
        _copy_rows(address, part)
        return
    source = f"{address.path.absolute().as_uri()}?mode=ro"
    try:
        with (
            closing(sqlite3.connect(source, uri=True, timeout=WAIT_S)) as old,
            closing(sqlite3.connect(part, timeout=WAIT_S)) as new,
        ):
            old.backup(new, pages=PAGES, sleep=0.005)
    except sqlite3.Error as problem:
        raise OutputFailed(f"{out}: cannot be written ({problem}). Nothing was changed.") from None


def _into_database(address: Address, target: Address) -> Verified:
    with reading(address) as source, bare(target) as connection:
        if migrate.revision_of(connection) is not None:
            raise WrongUse(f"{target}: there is a record book in this database already; nothing was changed.")
        migrate.upgrade(connection)
        _insert_all(source, connection)
    copied = verify(target)
    if not copied.whole:
        raise OutputFailed(f"{target}: the copy does not verify: {copied.trouble} Verify the book itself.")
    return copied


def _copy_rows(address: Address, part: Path) -> None:
    copy = create(part)
    with reading(address) as source, bare(copy) as target, told(copy):
        _insert_all(source, target)


def _insert_all(source: Connection, target: Connection) -> None:
    for table in schema.metadata.sorted_tables:
        insert(target, table, _rows(source, table))


def _rows(connection: Connection, table: Any) -> Iterator[tuple[Any, ...]]:
    from sqlalchemy import select

    key = next(iter(table.primary_key.columns))
    result = connection.execution_options(yield_per=20_000).execute(select(table).order_by(key))
    for row in result:
        yield tuple(row)
