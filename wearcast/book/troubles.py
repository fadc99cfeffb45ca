"""What goes wrong with a database, told to a person; nothing of it shows a password."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import unquote, urlsplit

from wearcast.book.address import Address
from wearcast.errors import OutputFailed, WearcastError, WrongUse

NOTHING = "Nothing was changed in the book."
BUSY = f"another process is writing to the book and has not finished. {NOTHING} Try again in a while."

_SQLITE = (
    ("disk is full", f"the disk is full. {NOTHING} Make room and run the command again."),
    ("disk i/o error", f"the disk could not be read or written. {NOTHING} Look at the disk and at your backups."),
    ("unique constraint", f"an id that was to be given is taken: rows were put in by other means. {NOTHING} `wearcast "
     "book verify` says more."),
    ("this row exists", f"an id that was to be given is taken: rows were put in by other means. {NOTHING} `wearcast "
     "book verify` says more."),
    ("readonly database", f"the file or its folder cannot be written to. {NOTHING} Check the rights, or copy the "
     "book to a folder that can be written to."),
    ("unable to open", f"the file cannot be opened. {NOTHING} Check that its folder is there and the rights allow it."),
    ("locked", BUSY),
    ("not a database", "this file is no record book. Name the right file; `wearcast book create` makes a new one."),
    ("malformed", "the file is damaged. Keep a copy as it is, and go on from the last backup that verifies."),
    ("no such table", "this file is no record book. Name the right file; `wearcast book create` makes a new one."),
)  # fmt: skip
"""What SQLite says, and what that means here."""

_POSTGRESQL = {
    "42501": f"your login may not do this. {NOTHING} wearcast_reader reads, wearcast_writer adds and corrects; whoever "
    "made a book upgrades it. To make one takes the right to create in the database, and the first on a server also "
    "that to create roles (or let an administrator run CREATE ROLE wearcast_reader; CREATE ROLE wearcast_writer).",
    "42P01": "there is no record book in this database. `wearcast book create` makes one.",
    "55P03": BUSY,
    "40001": BUSY,
    "23505": f"an id that was to be given is taken: rows were put in by other means. {NOTHING} `wearcast book verify` "
    "says more.",
    "53100": f"the disk of the server is full. {NOTHING} Make room and run the command again.",
}
"""SQLSTATE codes (PostgreSQL documentation, appendix A)."""


@contextmanager
def told(address: Address) -> Iterator[None]:
    """Turn what a database driver raises into a message about this book."""
    from sqlalchemy.exc import DBAPIError, SQLAlchemyError

    try:
        yield
    except UnicodeDecodeError:
        raise OutputFailed(f"{address}: a text in it is no UTF-8; {_SQLITE[-2][1]}") from None
    except DBAPIError as problem:
        raise _explained(address, problem.orig or problem) from None
    except SQLAlchemyError as problem:
        raise OutputFailed(f"{address}: {_clean(address, problem)}") from None
    except Exception as problem:
        if not _of_a_driver(problem):  # rows are written and fetched by the driver itself
            raise
        raise _explained(address, problem) from None


def _of_a_driver(problem: Exception) -> bool:
    """Whether SQLite or psycopg, where that is loaded, raised it."""
    psycopg = sys.modules.get("psycopg")
    return isinstance(problem, sqlite3.Error) or (psycopg is not None and isinstance(problem, psycopg.Error))


def _explained(address: Address, problem: BaseException) -> WearcastError:
    if address.path is not None:
        text = str(problem).casefold()
        for sign, meaning in _SQLITE:
            if sign in text:
                return OutputFailed(f"{address}: {meaning}")
        return OutputFailed(f"{address}: {_clean(address, problem)}")
    code = getattr(problem, "sqlstate", None)
    if code in _POSTGRESQL:
        return OutputFailed(f"{address}: {_POSTGRESQL[code]}")
    if code is None or code.startswith(("08", "28", "3D", "57")):
        advice = "Check the URL, that the server runs, and your entry in .pgpass or the environment."
        return WrongUse(f"{address}: the database cannot be reached ({_clean(address, problem)}). {advice}")
    return OutputFailed(f"{address}: {_clean(address, problem)}")


def _clean(address: Address, problem: BaseException) -> str:
    """The first line of what the driver says, less anything that stands in the URL as a secret."""
    line = (str(problem).strip().splitlines() or [type(problem).__name__])[0].rstrip(".")
    for secret in _secrets(address.url):
        line = line.replace(secret, "***")
    return line.replace(address.url, address.label) if address.url else line


def _secrets(url: str) -> list[str]:
    try:
        parts = urlsplit(url)
        found = [parts.password or ""]
    except ValueError:
        return [url] if url else []
    found += [one.partition("=")[2] for one in parts.query.split("&") if "pass" in one.casefold()]
    return sorted({form for text in found if text for form in (text, unquote(text))}, key=len, reverse=True)
