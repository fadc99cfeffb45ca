"""Making, listing, exporting, copying and upgrading books; history of a bearing."""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest
from books import corrections, engines, readings
from sqlalchemy import create_engine

from wearcast.book import migrate, schema
from wearcast.book.add import add
from wearcast.book.backup import backup
from wearcast.book.correct import correct
from wearcast.book.create import create
from wearcast.book.export import export
from wearcast.book.history import Bearing, of_bearing, of_row
from wearcast.book.verify import verify
from wearcast.errors import InputRefused, OutputFailed, WrongUse
from wearcast.records.read import read as read_records
from wearcast.records.tables import TABLES
from wearcast.sources import read

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def filled(book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Two imports of different years, and a correction between them."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")  # 2023-11-14
    folder = readings(
        engines(tmp_path / "1"), [{"value": "7982"}, {"position": "4"}, {"position": "4", "half": "upper"}]
    )
    add(book, folder, "A. Bell")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1710000000")  # 2024-03-09
    rows = [
        ["readings", "2", "value", "7982", "7.982", "replace"],
        ["readings", "3", "value", "7.980", "", "confirm"],
    ]
    path = corrections(tmp_path / "c.csv", rows)
    path.write_text(path.read_text(encoding="utf-8").replace("2024-06-01", "2024-03-01"), encoding="utf-8")
    correct(book, path, "B. Cole")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1730000000")  # 2024-10-27
    add(book, readings(tmp_path / "2", [{"date": "2022-05-04", "counter_h": "36000"}]), "A. Bell")
    return book


def same_tables(one: object, other: object) -> None:
    """Two record sets hold the same, but for the file each row names."""
    for name in TABLES:
        left, right = one.tables[name], other.tables[name]  # type: ignore[attr-defined]
        pd.testing.assert_frame_equal(left.drop(columns="file"), right.drop(columns="file"), check_like=True)


def test_an_export_reads_as_the_book_does(filled: str, tmp_path: Path, wearcast: Call) -> None:
    code, out, _ = wearcast("book", "export", filled, "--out", tmp_path / "out")
    assert (code, "readings.csv" in out) == (0, True)
    same_tables(read(filled), read_records(tmp_path / "out"))
    assert verify(filled).digest in (tmp_path / "out" / "about.txt").read_text(encoding="utf-8")


def test_a_book_of_an_export_exports_the_same(filled: str, tmp_path: Path) -> None:
    first = export(filled)
    out = tmp_path / "out"
    out.mkdir()
    for name, text in first.items():
        (out / name).write_text(text, encoding="utf-8")
    create(tmp_path / "second.book")
    add(tmp_path / "second.book", out, "A. Bell")
    second = export(tmp_path / "second.book")
    assert {k: v for k, v in second.items() if k != "about.txt"} == {
        k: v for k, v in first.items() if k != "about.txt"
    }


def test_an_export_can_stand_at_a_day(filled: str, tmp_path: Path, wearcast: Call) -> None:
    sizes = {}
    for day in ("2023-11-14", "2024-03-09", "2024-10-27"):
        assert wearcast("book", "export", filled, "--out", tmp_path / day, "--as-known-on", day)[0] == 0
        found = read_records(tmp_path / day)
        sizes[day] = (len(found.readings), len(found.corrections))
    assert sizes == {"2023-11-14": (3, 0), "2024-03-09": (3, 2), "2024-10-27": (4, 2)}
    code, _, err = wearcast(
        "book", "export", filled, "--out", tmp_path / "early", "--as-known-on", "2023-11-13"
    )
    assert (code, "Nothing was in the book on 2023-11-13; its first import is of 2023-11-14." in err) == (
        2,
        True,
    )
    assert not (tmp_path / "early").exists()


def test_an_export_does_not_mix_with_what_is_there(filled: str, tmp_path: Path, wearcast: Call) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "windows.csv").write_text("x", encoding="utf-8")
    assert wearcast("book", "export", filled, "--out", tmp_path / "out")[0] == 2


def test_history_tells_a_bearing_and_a_reading(filled: str, wearcast: Call) -> None:
    rows = of_bearing(filled, Bearing("Merrow Dain", "ME", "main", "3", "lower"))
    assert [(row.id, row.cells["value"], row.now["value"]) for row in rows] == [
        (2, "7982", "7.982"),
        (5, "7.980", "7.980"),
    ]
    (only,) = of_row(filled, "readings", 2)
    assert (only.came_in, only.added_by, only.added_at[:10]) == (
        "readings.csv, row 2",
        "A. Bell",
        "2023-11-14",
    )
    assert [(one.action, one.by, one.entered_by) for one in only.corrections] == [
        ("replace", "A. Bell", "B. Cole")
    ]
    place = ["--vessel", "Merrow Dain", "--engine", "ME", "--bearing", "main", "--position", "4"]
    code, out, _ = wearcast("book", "history", filled, *place)
    assert (code, "(confirmed)" in out, "readings.csv" in out, "id" in out.split()) == (0, True, True, False)
    assert "readings 3" in wearcast("book", "history", filled, *place, "--ids")[1]
    near = wearcast("book", "history", filled, "--vessel", "Merrow Dane", *place[2:])
    assert near[0] == 2
    assert "Did you mean Merrow Dain?" in near[2]
    assert wearcast("book", "history", filled, "--vessel", "MERROW-DAIN", *place[2:])[1] == out
    assert "upper" not in wearcast("book", "history", filled, *place, "--half", "lower")[1]
    assert "7982 -> 7.982" in wearcast("book", "history", filled, "--id", "2")[1]
    assert wearcast("book", "history", filled, "--id", "99")[0] == 1
    assert wearcast("book", "history", filled, "--vessel", "Merrow Dain")[0] == 2
    assert wearcast("book", "history", filled)[0] == 2


def test_list_names_every_import(filled: str, wearcast: Call) -> None:
    code, out, _ = wearcast("book", "list", filled)
    assert code == 0
    for words in ("2023-11-14", "B. Cole", "2 corrections", verify(filled).digest):
        assert words in out


def test_a_backup_is_the_book(filled: str, tmp_path: Path, wearcast: Call) -> None:
    out = tmp_path / "copy.book"
    assert wearcast("book", "backup", filled, "--out", out)[0] == 0
    assert verify(out, verify(filled).digest).whole
    same_tables(read(filled), read(out))
    with pytest.raises(WrongUse, match="already"):
        backup(filled, out)
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_correction_must_fit_what_stands_there(filled: str, tmp_path: Path, wearcast: Call) -> None:
    cases = [
        (["readings", "2", "value", "7982", "7.983", "replace"], "expected what stands in"),
        (["readings", "9", "value", "7.980", "7.983", "replace"], "expected a row of"),
        (["readings", "3", "value", "7.980", "0", "replace"], "above zero"),
        (["readings", "3", "unit", "mm", "furlong", "replace"], "expected mm, um or in"),
        (["readings", "3", "vessel", "Merrow Dain", "Nobody", "replace"], "expected an engine named"),
    ]
    before = verify(filled)
    for row, expected in cases:
        code, _, err = wearcast(
            "book", "correct", filled, corrections(tmp_path / "x.csv", [row]), "--by", "A. Bell"
        )
        assert code == 1
        assert expected in " ".join(err.split())
        assert "Nothing was added" in err
    assert verify(filled) == before


def test_a_correction_may_name_the_reading_by_its_id(filled: str, tmp_path: Path) -> None:
    named = corrections(tmp_path / "x.csv", [["readings", "3", "value", "7.980", "7.981", "replace"]])
    named.write_text(named.read_text(encoding="utf-8").replace("row", "id", 1), encoding="utf-8")
    assert correct(filled, named, "A. Bell").corrections == 1
    assert "7.981" in read(filled).readings["value_text"].tolist()


def test_a_withdrawn_reading_cannot_be_corrected_again(filled: str, tmp_path: Path) -> None:
    correct(
        filled,
        corrections(tmp_path / "a.csv", [["readings", "4", "value", "7.980", "", "withdraw"]]),
        "A. Bell",
    )
    with pytest.raises(InputRefused, match="a row that still stands"):
        correct(
            filled,
            corrections(tmp_path / "b.csv", [["readings", "4", "value", "7.980", "7.9", "replace"]]),
            "A. Bell",
        )


def test_a_fault_in_a_book_names_its_id_and_the_sheet_it_came_from(
    filled: str, tmp_path: Path, wearcast: Call
) -> None:
    add(filled, readings(tmp_path / "late", [{"date": "2023-01-05", "counter_h": "100"}]), "A. Bell")
    code, out, _ = wearcast("check", filled)
    assert code == 1, "the dial falls"
    assert re.search(r"\bids.* \(came in readings.csv, row 2", " ".join(out.split()))


def test_create_never_overwrites(empty: str, tmp_path: Path, wearcast: Call) -> None:
    assert wearcast("book", "create", empty)[0] == 0
    code, _, err = wearcast("book", "create", empty)
    assert (code, "already" in err) == (2, True)
    (tmp_path / "notes.book").write_text("my notes", encoding="utf-8")
    assert wearcast("book", "create", tmp_path / "notes.book")[0] == 2
    assert (tmp_path / "notes.book").read_text(encoding="utf-8") == "my notes"
    assert wearcast("book", "create", tmp_path / "fleet.db")[0] == 2
    assert wearcast("book", "create", tmp_path / "none" / "fleet.book")[0] == 2


def test_what_is_no_book_is_told_so(tmp_path: Path, wearcast: Call) -> None:
    text = tmp_path / "text.book"
    text.write_text("vessel,engine\n" * 200, encoding="utf-8")
    with closing(sqlite3.connect(tmp_path / "other.book")) as other, other:
        other.execute("CREATE TABLE t (a)")
    (tmp_path / "folder.book").mkdir()
    for name, code in (("text.book", 1), ("other.book", 2), ("none.book", 2), ("folder.book", 2)):
        for command in (["book", "verify"], ["book", "list"], ["forecast"], ["check"]):
            found, _, err = wearcast(*command, tmp_path / name)
            assert found == code, (name, command, err)
            assert "Traceback" not in err
            assert "fault of the program" not in err


def test_the_tables_are_those_of_the_migrations(empty: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext

    create(empty)
    url = empty.replace("postgresql://", "postgresql+psycopg://") if "://" in empty else f"sqlite:///{empty}"
    engine = create_engine(url)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), schema.metadata) == []
        assert migrate.revision_of(connection) == migrate.HEAD == migrate.known_revisions()[-1]
        if url.startswith("sqlite"):
            strict = dict(connection.exec_driver_sql("SELECT name, strict FROM pragma_table_list").fetchall())
            assert all(strict[name] for name in schema.metadata.tables)
            assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "delete"
    engine.dispose()


def test_every_column_of_a_record_set_has_its_place_in_a_book() -> None:
    from wearcast.book.stored import OWN_NAMES

    held = {"readings": {*schema.PLACE, *schema.CIRCUMSTANCES, "value"}}
    held |= {name: {OWN_NAMES.get(one, one) for one in columns} for name, columns in schema.PLAIN.items()}
    assert {
        name: {column.name for column in table.columns} - {*schema.LATER.get(name, ())} | {"more"}
        for name, table in TABLES.items()
    } == held


def test_the_view_shows_readings_whole(filled: str) -> None:
    url = (
        filled.replace("postgresql://", "postgresql+psycopg://") if "://" in filled else f"sqlite:///{filled}"
    )
    engine = create_engine(url)
    with engine.connect() as connection:
        row = connection.exec_driver_sql("SELECT * FROM readings_as_found ORDER BY id").mappings().first()
    engine.dispose()
    assert row is not None
    assert (row["file"], row["row"], row["vessel"], row["value"]) == (
        "readings.csv",
        2,
        "Merrow Dain",
        "7982",
    )


def test_a_book_that_cannot_be_written_to_can_be_read(tmp_path: Path) -> None:
    book = tmp_path / "a.book"
    create(book)
    add(book, readings(engines(tmp_path / "1"), [{}]), "A. Bell")
    if os.geteuid() == 0:
        pytest.skip("as root no folder is closed; see the test on a read-only mount")
    tmp_path.chmod(0o500)
    try:
        assert len(read(book).readings) == 1
        with pytest.raises(OutputFailed, match="cannot be written"):
            add(book, readings(Path("/tmp"), [{}]), "A. Bell")
    finally:
        tmp_path.chmod(0o700)
