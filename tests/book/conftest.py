"""Every test of the record book runs on both databases; PostgreSQL where a server is named."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


from postgres import KINDS, room_for_a_book

from wearcast.book.create import create


@pytest.fixture(params=KINDS)
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The name of a book that is not made yet."""
    with room_for_a_book(request.param, tmp_path) as name:
        yield name


@pytest.fixture
def book(empty: str) -> str:
    """An empty book."""
    create(empty)
    return empty


@pytest.fixture
def wearcast(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Call the command line in this process; exit code and both streams."""
    from wearcast.cli.main import run

    def call(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@pytest.fixture(autouse=True)
def no_fixed_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests set the moment of an import where they need it."""
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
