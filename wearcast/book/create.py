"""Making a book, and bringing an older one to the present schema."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import suppress
from pathlib import Path

from wearcast.book import migrate
from wearcast.book.address import Address, address_of
from wearcast.book.connect import bare, newer, refuse_leftovers, side_files
from wearcast.book.troubles import told
from wearcast.errors import OutputFailed, WrongUse


def create(book: str | Path) -> Address:
    """Make an empty book.

    Raises
    ------
    WrongUse
        If there is one already, or something else of that name.
    OutputFailed
        If it cannot be made; nothing is left behind.
    """
    address = address_of(book)
    if address.path is not None:
        _create_file(address, address.path)
        return address
    with bare(address) as connection:
        if migrate.revision_of(connection) is not None:
            raise WrongUse(f"{address}: there is a record book in this database already.")
        migrate.upgrade(connection)
    return address


def upgrade(book: str | Path) -> tuple[str, str]:
    """Bring a book to the schema of this program; the schema before and after."""
    address = address_of(book)
    if address.path is not None and not address.path.is_file():
        raise WrongUse(f"{address}: there is no such record book.")
    with bare(address) as connection:
        before = migrate.revision_of(connection)
        if before is None:
            raise WrongUse(f"{address}: there is no record book in it.")
        if before not in migrate.known_revisions():
            raise WrongUse(newer(address, before))
        migrate.upgrade(connection)
    return before, migrate.HEAD


def _create_file(address: Address, path: Path) -> None:
    if path.exists():
        raise WrongUse(f"{address}: there is a file of that name already; nothing was changed.")
    refuse_leftovers(path)
    if not path.parent.is_dir():
        raise WrongUse(f"{address}: there is no folder {path.parent}.")
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as problem:
        raise OutputFailed(f"{address}: cannot be written ({problem.strerror}). Nothing was made.") from None
    os.close(handle)
    part = Path(name)
    try:
        with told(address):
            _fill(Address(address.label, path=part))
        part.chmod(0o644)
        os.link(part, path)  # unlike a move, this never takes the place of a file made meanwhile
    except FileExistsError:
        raise WrongUse(f"{address}: there is a file of that name already; nothing was changed.") from None
    except sqlite3.Error as problem:
        raise OutputFailed(f"{address}: cannot be written ({problem}). Nothing was made.") from None
    except OSError:
        _move(address, part, path)
    finally:
        for rest in (part, *side_files(part)):
            with suppress(OSError):
                rest.unlink(missing_ok=True)


def _move(address: Address, part: Path, path: Path) -> None:
    """For file systems without hard links."""
    try:
        part.rename(path)
    except OSError as problem:
        raise OutputFailed(f"{address}: cannot be written ({problem.strerror}). Nothing was made.") from None


def _fill(address: Address) -> None:
    with bare(address) as connection:
        migrate.upgrade(connection)
