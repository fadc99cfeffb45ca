"""The PostgreSQL server the tests may use: its loopback URL, of a user who may make databases."""

from __future__ import annotations

import os
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import pytest

SERVER = os.environ.get("WEARCAST_TEST_POSTGRESQL", "")


def why_not() -> NoReturn:
    """Skip where there is no server; where checks must be complete that is a failure."""
    reason = "WEARCAST_TEST_POSTGRESQL names no PostgreSQL server"
    if os.environ.get("WEARCAST_CI"):
        pytest.fail(f"{reason}, and WEARCAST_CI is set")
    pytest.skip(reason)


KINDS = ("sqlite", pytest.param("postgresql", marks=pytest.mark.database))
"""The databases a book may be kept in."""


@contextmanager
def room_for_a_book(kind: str, folder: Path) -> Iterator[str]:
    """The name of a book that is not made yet."""
    if kind == "sqlite":
        yield str(folder / "fleet.book")
        return
    if not SERVER:
        why_not()
    with fresh_database() as url:
        yield url


@contextmanager
def copy_of(book: str, folder: Path) -> Iterator[str]:
    """A book of its own that is as another one."""
    if book.startswith("postgresql"):
        from sqlalchemy.engine import make_url

        with fresh_database(str(make_url(book).database)) as url:
            yield url
        return
    shutil.copy(book, folder / "copy.book")
    yield str(folder / "copy.book")


@contextmanager
def fresh_database(template: str = "template1") -> Iterator[str]:
    """The URL of a new database, dropped at the end."""
    import psycopg

    name = f"book_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    try:
        yield url_of(name)
    finally:
        with psycopg.connect(SERVER, autocommit=True) as server:
            server.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


def url_of(name: str, user: str = "", password: str = "") -> str:
    """The URL of a database on the server, for another user if named."""
    from sqlalchemy.engine import make_url

    url = make_url(SERVER).set(database=name)
    if user:
        url = url.set(username=user, password=password or None)
    return url.render_as_string(hide_password=False)
