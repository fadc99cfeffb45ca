# ruff: noqa: E501  (a line of SQL and what it must lead to are read side by side)
"""Whatever is changed, taken out or put in behind a book's back is found, and the first of it named."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
import tamper
from books import corrections, engines, readings, write
from postgres import KINDS, copy_of, room_for_a_book

from wearcast.book.add import add
from wearcast.book.chain import GENESIS
from wearcast.book.correct import correct
from wearcast.book.create import create
from wearcast.book.verify import verify


@pytest.fixture(scope="module", params=KINDS)
def original(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Three imports: six readings, an event and a correction."""
    folder = tmp_path_factory.mktemp("original")
    with room_for_a_book(request.param, folder) as name:
        create(name)
        yield _fill(name, folder)


@pytest.fixture
def filled(original: str, tmp_path: Path) -> Iterator[str]:
    """A book of three imports to spoil."""
    with copy_of(original, tmp_path) as name:
        yield name


def _fill(book: str, tmp_path: Path) -> str:
    first = readings(engines(tmp_path / "1"), [{"position": str(p)} for p in range(1, 5)])
    header = ["vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size"]
    write(first / "events.csv", [header, ["Merrow Dain", "ME", "main", "3", "lower", "2012-03-04", "0", "fitted", "standard"]])  # fmt: skip
    add(book, first, "A. Bell")
    add(
        book,
        readings(tmp_path / "2", [{"date": "2022-01-01", "counter_h": "36000"}, {"position": "5"}]),
        "A. Bell",
    )
    correct(
        book,
        corrections(tmp_path / "c.csv", [["readings", "3", "value", "7.980", "7.981", "replace"]]),
        "B. Cole",
    )
    assert verify(book).whole
    return book


CHANGES = {
    "a value": ("UPDATE readings SET value = '7.999' WHERE id = 4", r"readings, id 4 \(came in readings.csv, row 4; import 1\) was changed"),
    "a value by a digit too many": ("UPDATE readings SET value = '7.9800' WHERE id = 6", "readings, id 6 .*changed"),
    "a shared place": ("UPDATE places SET position = '9' WHERE position = '2'", "readings, id 3 .*changed"),
    "a shared date": ("UPDATE circumstances SET date = '2020-05-05' WHERE date = '2020-05-04' AND id = 1", "readings, id 2 .*changed"),
    "the row of the file": ("UPDATE readings SET row = 7 WHERE id = 3", "readings, id 3 .*changed"),
    "a digest": ("UPDATE readings SET digest = (SELECT digest FROM readings WHERE id = 2) WHERE id = 3", "readings, id 3 .*changed"),
    "an event": ("UPDATE events SET shell_size = 'U25'", "events, id 2 .*changed"),
    "a limit": ("UPDATE limits SET \"limit\" = '7.900'", "limits, id 2 .*changed"),
    "an engine": ("UPDATE engines SET hours_per_year = '100'", "engines, id 2 .*changed"),
    "a correction": ("UPDATE corrections SET new = '7.990'", "corrections, id 2 .*changed"),
    "a reason": ("UPDATE corrections SET reason = ''", "corrections, id 2 .*changed"),
    "a missing reading": ("DELETE FROM readings WHERE id = 3", r"readings, id 3 \(import 1\) is missing"),
    "a missing last reading": ("DELETE FROM readings WHERE id = 7", r"readings, id 7 \(import 2\) is missing"),
    "a missing correction": ("DELETE FROM corrections", r"corrections, id 2 \(import 3\) is missing"),
    "an added reading": ("INSERT INTO readings SELECT 8, sheet_id, 9, place_id, circumstances_id, value, digest FROM readings WHERE id = 7", "readings, id 8 was put in"),
    "a reading before the first": ("INSERT INTO readings SELECT 1, sheet_id, 9, place_id, circumstances_id, value, digest FROM readings WHERE id = 7", "readings, id 1 was put in"),
    "an added event": ("INSERT INTO events SELECT 3, sheet_id, 9, vessel, engine, bearing, '4', half, date, counter_h, event, shell_size, new_value, unit, new_counter_h, finding, remark, more, digest FROM events", "events, id 3 was put in"),
    "an unused place": ("INSERT INTO places SELECT 99, vessel, engine, bearing, '77', half, point, quantity FROM places WHERE id = 1", "places, id 99 .*put in"),
    "a name": ("UPDATE imports SET by_name = 'C. Dray' WHERE id = 2", r"import 2 \(.*C. Dray\) was changed"),
    "a moment": ("UPDATE imports SET at = '1999-01-01T00:00:00Z' WHERE id = 1", "import 1 .*was changed"),
    "a count": ("UPDATE imports SET tables = '{}' WHERE id = 3", "import 3 .*was changed"),
    "no json": ("UPDATE imports SET tables = 'x' WHERE id = 3", "import 3 .*is malformed: its list of tables is not understood"),
    "rows beyond all bounds": ("UPDATE imports SET tables = '{\"readings\":{\"rows\":1e400,\"first\":2}}' WHERE id = 3", "import 3 .*is malformed"),
    "a missing import": ("DELETE FROM imports WHERE id = 2", "import 2 is missing"),
    "the last import": ("DELETE FROM imports WHERE id = 3", "import 3 that is not there"),
    "a digest of an import": ("UPDATE imports SET digest = 'x' WHERE id = 1", "import 1 .*was changed"),
    "the bytes of a file": ("UPDATE contents SET data = (SELECT data FROM contents c WHERE c.sha256 <> contents.sha256 ORDER BY sha256 LIMIT 1)", "original file .* of import 1 is not the one"),
    "a missing file": ("DELETE FROM contents WHERE sha256 IN (SELECT sha256 FROM files WHERE name = 'readings.csv' AND import_id = 2)", "original file readings.csv of import 2 is missing"),
    "a strange file": ("INSERT INTO contents SELECT 'ab', data FROM contents LIMIT 1", "belongs to no import"),
    "the name of a file": ("UPDATE files SET name = 'x.csv' WHERE name = 'readings.csv' AND import_id = 2", "import 2 .*was changed"),
    "a sheet": ("UPDATE sheets SET sheet = 'x' WHERE import_id = 2", "import 2 .*was changed"),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_any_change_is_found_and_named(filled: str, name: str) -> None:
    statement, expected = CHANGES[name]
    before = verify(filled).digest
    tamper.run(filled, statement)
    found = verify(filled, before)
    assert not found.whole
    assert re.search(expected, found.trouble), found.trouble


def test_a_book_cut_off_behind_an_import_is_told_by_its_digest(filled: str) -> None:
    digest = verify(filled).digest
    tamper.run(
        filled,
        "DELETE FROM corrections",
        "DELETE FROM sheets WHERE import_id = 3",
        "DELETE FROM contents WHERE sha256 IN (SELECT sha256 FROM files WHERE import_id = 3)",
        "DELETE FROM files WHERE import_id = 3",
        "DELETE FROM imports WHERE id = 3",
    )
    assert verify(filled).whole, "by itself a book cut off is a whole book"
    found = verify(filled, digest)
    assert "cut off" in found.trouble


def test_a_book_made_anew_is_told_by_its_digest(filled: str, tmp_path: Path) -> None:
    digest = verify(filled).digest
    other = tmp_path / "other.book"
    create(other)
    add(other, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    assert verify(other).whole
    assert "made anew" in verify(other, digest).trouble


def test_an_earlier_digest_is_known_and_later_imports_are_counted(filled: str, tmp_path: Path) -> None:
    digest = verify(filled).digest
    add(filled, readings(tmp_path / "3", [{"position": "6"}]), "A. Bell")
    found = verify(filled, digest.upper())
    assert found.whole
    assert found.said == "It had the digest expected after import 3; added since: 1 import."
    assert verify(filled, GENESIS).whole


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE readings SET value = '1' WHERE id = 2",
        "DELETE FROM readings WHERE id = 2",
        "UPDATE events SET remark = 'x'",
        "DELETE FROM corrections",
        "UPDATE imports SET by_name = 'x'",
        "DELETE FROM contents",
        "UPDATE places SET position = '9'",
        "UPDATE circumstances SET unit = 'in'",
        "DELETE FROM limits",
    ],
)
def test_the_database_refuses_every_change(filled: str, statement: str) -> None:
    with pytest.raises(Exception, match="only added to"):
        tamper.run(filled, statement, guarded=True)
    assert verify(filled).whole


def test_sqlite_refuses_to_put_a_row_in_the_place_of_another(filled: str) -> None:
    if filled.startswith("postgresql"):
        pytest.skip("PostgreSQL has no INSERT OR REPLACE")
    with pytest.raises(sqlite3.IntegrityError, match="this row exists"):
        tamper.run(
            filled, "INSERT OR REPLACE INTO readings SELECT * FROM readings WHERE id = 2", guarded=True
        )


def test_postgresql_refuses_to_empty_a_table(filled: str) -> None:
    if not filled.startswith("postgresql"):
        pytest.skip("SQLite has no TRUNCATE")
    with pytest.raises(Exception, match="only added to"):
        tamper.run(filled, "TRUNCATE corrections", guarded=True)


def test_a_guard_taken_away_is_told(filled: str) -> None:
    if filled.startswith("postgresql"):
        tamper.run(filled, "ALTER TABLE limits DISABLE TRIGGER limits_only_added_to", guarded=True)
    else:
        tamper.run(filled, "DROP TRIGGER limits_no_update", guarded=True)
    assert "the guard limits_" in verify(filled).trouble


def test_the_command_says_what_it_found(filled: str, wearcast: Callable[..., tuple[int, str, str]]) -> None:
    code, out, _ = wearcast("book", "verify", filled)
    assert (code, "as it was written: 10 rows in 3 imports" in " ".join(out.split())) == (0, True)
    assert verify(filled).digest in out.splitlines()
    code, out, _ = wearcast("book", "verify", filled, "--expect", "0" * 64)
    assert (code, "is not as it was written" in " ".join(out.split())) == (1, True)
    tamper.run(filled, "UPDATE readings SET value = '7.999' WHERE id = 4")
    code, out, _ = wearcast("book", "verify", filled)
    assert (code, "readings, id 4" in out) == (1, True)


SPOILED = {
    "DROP TRIGGER limits_no_update; CREATE TRIGGER limits_no_update BEFORE UPDATE ON limits BEGIN SELECT 1; END":
        "guard limits_no_update is not as it was made",
    "CREATE TRIGGER more AFTER INSERT ON readings BEGIN SELECT 1; END": "guard more was put in",
    "DROP VIEW readings_as_found; CREATE VIEW readings_as_found AS SELECT '8.000' AS value":
        "view readings_as_found is not as it was made",
    "CREATE TABLE notes (a)": "table notes was put in",
}  # fmt: skip


@pytest.mark.parametrize("statements", SPOILED)
def test_a_changed_schema_of_a_file_is_named(tmp_path: Path, statements: str) -> None:
    book = tmp_path / "fleet.book"
    create(book)
    assert verify(book).whole
    with closing(sqlite3.connect(book)) as connection:
        connection.executescript(statements)
    assert verify(book).trouble == f"the {SPOILED[statements]}; rows are as they were written."


def test_the_short_form_of_a_digest_is_enough(
    filled: str, wearcast: Callable[..., tuple[int, str, str]]
) -> None:
    short = verify(filled).digest[:12]
    _, listed, _ = wearcast("book", "list", filled)
    assert short in listed
    assert verify(filled, short).said == "Its last digest is the one expected."
    assert not verify(filled, short[:-1]).whole


def test_ids_of_twenty_digits_are_of_no_row(
    filled: str, wearcast: Callable[..., tuple[int, str, str]]
) -> None:
    code, out, _ = wearcast("book", "history", filled, "--id", "9" * 20)
    assert (code, "holds nothing there" in out) == (1, True)
