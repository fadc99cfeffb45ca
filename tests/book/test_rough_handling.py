"""Killed, crowded, out of room or shut out: a book holds all of an import or nothing of it, and says why."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from books import engines, reading, readings
from killed_imports import study

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.sources import read

Call = Callable[..., tuple[int, str, str]]


def test_an_import_killed_leaves_all_of_it_or_nothing(book: str, tmp_path: Path) -> None:
    counts = study(book, times=8, rows=600, work=tmp_path)
    assert sum(counts.values()) == 8


def test_eight_processes_at_once_lose_nothing_and_add_nothing_twice(book: str, tmp_path: Path) -> None:
    vessels = tuple(f"Vessel {n}" for n in range(4))
    add(book, engines(tmp_path / "0", vessels), "A. Bell")
    for n in range(8):  # every folder shares half of its readings with the next
        rows = [{"vessel": vessels[n % 4], "position": str(p)} for p in range(1, 9)]
        readings(
            tmp_path / f"in {n}", rows + [{"vessel": "Vessel 0", "position": str(p)} for p in range(9, 12)]
        )
    script = "import sys; from wearcast.cli.main import run; sys.argv[0] = 'wearcast'; run()"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", script, "book", "add", book, str(tmp_path / f"in {n}"), "--by", f"N. {n}"],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        for n in range(8)
    ]
    said = [process.communicate()[0] for process in running]
    assert [process.returncode for process in running] == [0] * 8, said
    assert not any("locked" in text or "Traceback" in text for text in said)
    found = read(book).readings
    assert len(found) == len(found.drop_duplicates(["vessel", "position"])) == 4 * 8 + 3
    assert verify(book).whole


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 600 KiB."""
    yield from _mounted(tmp_path / "small", "size=600k")


def _mounted(place: Path, options: str) -> Iterator[Path]:
    place.mkdir()
    mount = shutil.which("mount")
    if os.geteuid() != 0 or mount is None:
        pytest.skip("only root can mount a small disk")
    done = subprocess.run(
        [mount, "-t", "tmpfs", "-o", options, "tmpfs", str(place)], check=False, capture_output=True
    )
    if done.returncode:
        pytest.skip("no disk can be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def many(folder: Path, rows: int) -> Path:
    """Readings that do not fit on the small disk."""
    engines(folder)
    names = [
        "vessel",
        "engine",
        "bearing",
        "position",
        "half",
        "quantity",
        "value",
        "unit",
        "date",
        "counter_h",
        "remark",
    ]
    cells = reading(position="5")
    lines = [",".join([*(cells[name] for name in names[:-1]), f"seen {row}"]) for row in range(rows)]
    (folder / "readings.csv").write_text("\n".join([",".join(names), *lines]) + "\n", encoding="utf-8")
    return folder


def test_a_full_disk_is_told_and_nothing_is_damaged(small_disk: Path, tmp_path: Path, wearcast: Call) -> None:
    book = small_disk / "fleet.book"
    create(book)
    add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    before = verify(book)
    code, _, err = wearcast("book", "add", book, many(tmp_path / "2", 20_000), "--by", "A. Bell")
    assert (code, "the disk is full. Nothing was changed in the book." in " ".join(err.split())) == (
        1,
        True,
    ), err
    assert verify(book) == before
    assert add(book, readings(tmp_path / "3", [{"position": "4"}]), "A. Bell").import_id == 2


def test_a_backup_to_a_full_disk_leaves_nothing_behind(
    small_disk: Path, tmp_path: Path, wearcast: Call
) -> None:
    book = tmp_path / "fleet.book"
    create(book)
    add(book, many(tmp_path / "2", 20_000), "A. Bell")
    code, _, err = wearcast("book", "backup", book, "--out", small_disk / "copy.book")
    assert (code, "Nothing was changed" in err) == (1, True), err
    assert list(small_disk.iterdir()) == []


def test_a_read_only_folder_can_be_read_and_says_why_not_written(tmp_path: Path, wearcast: Call) -> None:
    for place in _mounted(tmp_path / "place", "size=4m"):
        book = place / "fleet.book"
        create(book)
        add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
        before = verify(book)
        subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
        assert verify(book) == before
        assert len(read(book).readings) == 1
        code, _, err = wearcast(
            "book", "add", book, readings(tmp_path / "2", [{"position": "4"}]), "--by", "A. Bell"
        )
        assert (code, "cannot be written to. Nothing was changed in the book." in " ".join(err.split())) == (
            1,
            True,
        )
        code, _, err = wearcast("book", "create", place / "other.book")
        assert (code, "Nothing was made" in err) == (1, True), err
        assert verify(book) == before
