"""A book changed behind its guards: what a reader trips over is the book's fault, and is told so."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

import pytest
import tamper

from wearcast.book.add import add
from wearcast.book.export import export
from wearcast.book.history import of_row
from wearcast.book.read import read
from wearcast.errors import OutputFailed

Make = Callable[..., Path]


@pytest.fixture
def filled(book: str, record_folder: Make) -> str:
    add(book, record_folder(readings=[{"own column": "x"}]), "A. Bell")
    return book


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE circumstances SET more = '[]'",
        "UPDATE circumstances SET more = '7'",
        "UPDATE circumstances SET more = '{\"a\": {}}'",
        "UPDATE circumstances SET more = '{'",
        "UPDATE circumstances SET id = 9",
        "DELETE FROM places",
        "DELETE FROM sheets",
        "UPDATE sheets SET import_id = 7",
        "UPDATE readings SET sheet_id = 12",
    ],
)
def test_a_book_that_does_not_verify_is_told_where_a_reader_trips_over_it(
    filled: str, statement: str
) -> None:
    tamper.run(filled, statement)
    told = []
    for reader in (read, export, lambda book: of_row(book, "readings", 2)):
        with suppress(OutputFailed):
            reader(filled)
            continue
        told.append(reader)
    assert told


def test_a_fault_of_the_program_is_not_blamed_on_a_sound_book(
    filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fault(*_: object) -> NoReturn:
        raise IndexError

    monkeypatch.setattr("wearcast.book.read.stored_readings", fault)
    with pytest.raises(IndexError):
        read(filled)
    tamper.run(filled, "UPDATE readings SET value = '7.777'")
    with pytest.raises(OutputFailed, match="was changed"):
        read(filled)
