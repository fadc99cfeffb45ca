"""The PostgreSQL server the tests may use: its loopback URL, of a user who may make databases."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

import pytest

SERVER = os.environ.get("WEARCAST_TEST_POSTGRESQL", "")


def why_not() -> NoReturn:
    """Skip where there is no server; where checks must be complete that is a failure."""
    reason = "WEARCAST_TEST_POSTGRESQL names no PostgreSQL server"
    if os.environ.get("WEARCAST_CI"):
        pytest.fail(f"{reason}, and WEARCAST_CI is set")
    pytest.skip(reason)


@contextmanager
def fresh_database(name: str) -> Iterator[str]:
    """The URL of a new database, dropped at the end."""
    import psycopg

    with psycopg.connect(SERVER, autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{name}"')
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
