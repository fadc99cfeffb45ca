"""What a book is made of, and how it is copied: one file or one database, nothing beside it."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from books import engines, readings
from postgres import KINDS, room_for_a_book

from wearcast.book.add import add
from wearcast.book.backup import backup
from wearcast.book.connect import side_files
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.errors import WrongUse
from wearcast.sources import read

Call = Callable[..., tuple[int, str, str]]


def test_a_book_at_rest_is_its_file_alone_even_after_a_killed_reader(tmp_path: Path) -> None:
    book = tmp_path / "fleet.book"
    create(book)
    add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    script = (
        "import sys, time; from wearcast.book.address import address_of; from wearcast.book.connect import reading\n"
        "with reading(address_of(sys.argv[1])): print('in', flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", script, str(book)], stdout=subprocess.PIPE) as reader:
        assert reader.stdout is not None
        assert reader.stdout.readline() == b"in\n"
        os.kill(reader.pid, signal.SIGKILL)
    add(book, readings(tmp_path / "2", [{"position": "4"}]), "A. Bell")
    assert not [path for path in side_files(book) if path.exists()]
    shutil.copy(book, tmp_path / "copy.book")
    assert verify(tmp_path / "copy.book").imports == 2


def test_a_reader_does_not_hold_up_what_is_added_for_long(tmp_path: Path) -> None:
    book = tmp_path / "fleet.book"
    create(book)
    add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    began = time.monotonic()
    for number in range(3):
        add(book, readings(tmp_path / f"2{number}", [{"position": str(4 + number)}]), "A. Bell")
        assert len(read(book).readings) == 2 + number
    assert time.monotonic() - began < 60


@pytest.mark.parametrize("end", ["-wal", "-journal", "-shm"])
def test_no_book_is_made_beside_what_an_earlier_one_left(tmp_path: Path, end: str) -> None:
    book = tmp_path / "fleet.book"
    create(tmp_path / "other.book")
    (tmp_path / f"fleet.book{end}").write_bytes(b"left")
    with pytest.raises(WrongUse, match=f"beside it lies fleet.book{end}"):
        create(book)
    with pytest.raises(WrongUse, match=f"beside it lies fleet.book{end}"):
        backup(tmp_path / "other.book", book)
    assert not book.exists()


def test_a_book_of_an_earlier_version_loses_its_log(tmp_path: Path) -> None:
    book = tmp_path / "fleet.book"
    create(book)
    with closing(sqlite3.connect(book)) as early:
        early.execute("PRAGMA journal_mode = WAL")
    add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    assert not [path for path in side_files(book) if path.exists()]
    with closing(sqlite3.connect(book)) as now:
        assert now.execute("PRAGMA journal_mode").fetchone() == ("delete",)


@pytest.mark.parametrize("there", KINDS)
def test_a_book_is_backed_up_to_either_database_and_restored(
    book: str, there: str, tmp_path: Path, wearcast: Call
) -> None:
    add(book, readings(engines(tmp_path / "1"), [{"remark": 'a "b" \\ \t c'}, {"position": "4"}]), "A. Bell")
    before = verify(book)
    (tmp_path / "there").mkdir()
    (tmp_path / "back").mkdir()
    with (
        room_for_a_book(there, tmp_path / "there") as away,
        room_for_a_book("postgresql" if "://" in book else "sqlite", tmp_path / "back") as again,
    ):
        code, out, _ = wearcast("book", "backup", book, "--out", away)
        assert (code, "secretpw" not in out) == (0, True)
        assert verify(away) == before
        assert backup(away, again) == before
        assert add(again, readings(tmp_path / "2", [{"position": "5"}]), "A. Bell").import_id == 2
        with pytest.raises(WrongUse, match="already"):
            backup(book, away)


@pytest.mark.parametrize("words", ["a folder", "a pipe or a device"])
def test_a_book_is_a_regular_file(tmp_path: Path, words: str) -> None:
    path = tmp_path / "fleet.book"
    path.mkdir() if words == "a folder" else os.mkfifo(path)
    with pytest.raises(WrongUse, match=f"this is {words}; a record book is a file"):
        read(path)


def test_a_book_of_a_newer_version_is_not_upgraded(book: str, wearcast: Call) -> None:
    import tamper

    tamper.run(book, "UPDATE alembic_version SET version_num = '9999'")
    for command in (("upgrade", book), ("list", book)):
        code, _, err = wearcast("book", *command)
        assert (code, "made by a newer version (schema 9999). Update wearcast." in " ".join(err.split())) == (
            2,
            True,
        )
