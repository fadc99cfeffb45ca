"""What a book is told again with a difference is taken down or refused, never dropped in silence."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest
from books import corrections, engines, readings, write

from wearcast.book.add import add
from wearcast.book.address import address_of
from wearcast.book.connect import reading as connected
from wearcast.book.correct import correct
from wearcast.book.export import export
from wearcast.book.heads import heads_of
from wearcast.book.read import read
from wearcast.book.verify import verify
from wearcast.errors import InputRefused, WrongUse

BY = "A. Bell"
SPARES = ["engine_type", "bearing", "half", "shell_size", "on_hand", "lead_time_days", "unit_cost"]


def spares(folder: Path, *rows: list[str]) -> Path:
    folder.mkdir(exist_ok=True)
    write(folder / "spares.csv", [SPARES, *rows])
    return folder


def row(on_hand: str, half: str = "lower", cost: str = "236.220") -> list[str]:
    return ["Bramble Six", "main", half, "standard", on_hand, "90", cost]


def on_hand(book: str) -> list[float]:
    return read(book).tables["spares"]["on_hand"].tolist()


def one_correction(path: Path, old: str, new: str, reason: str, by: str, date: str = "2024-06-01") -> Path:
    header = ["table", "row", "column", "old", "new", "action", "reason", "by", "date"]
    write(path, [header, ["readings", "2", "value", old, new, "replace", reason, by, date]])
    return path


def test_a_correction_back_and_forth_holds_in_its_order(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "r"), [{"value": "8.00"}]), BY)
    told = [("8.00", "8.01", "typed wrongly", "A. Bell"), ("8.01", "8.00", "it was right", "B. Coe"),
            ("8.00", "8.01", "the log says so", "C. Dee")]  # fmt: skip
    for number, one in enumerate(told):
        done = correct(book, one_correction(tmp_path / f"{number}.csv", *one), BY)
        assert done.corrections == 1
    assert read(book).readings["value"].tolist() == [8.01]
    again = correct(book, tmp_path / "2.csv", BY)
    assert (again.import_id, again.already) == (None, 1)


def test_a_count_set_back_by_the_same_file_holds_again(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "r"), [{}]), BY)
    two, one = spares(tmp_path / "two", row("2")), spares(tmp_path / "one", row("1"))
    for folder, held in ((two, 2.0), (one, 1.0), (two, 2.0), (one, 1.0)):
        add(book, folder, BY)
        assert on_hand(book) == [held]


def test_the_same_rows_in_another_order_or_as_a_workbook_are_no_change(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "r"), [{}]), BY)
    rows = [row("2"), row("3", "upper")]
    add(book, spares(tmp_path / "s", *rows), BY)
    assert add(book, spares(tmp_path / "t", *rows[::-1]), BY).import_id is None
    workbook = openpyxl.Workbook()
    workbook.active.title = "spares"
    for cells in [SPARES, *[[*one[:4], *map(float, one[4:])] for one in rows]]:
        workbook.active.append(cells)
    workbook.save(tmp_path / "s.xlsx")
    assert add(book, tmp_path / "s.xlsx", BY).import_id is None
    assert add(book, spares(tmp_path / "u", row("2"), row("3", "upper", "236.23")), BY).rows == {"spares": 2}


def test_the_same_reading_at_another_counter_is_refused(book: str, tmp_path: Path) -> None:
    add(book, readings(engines(tmp_path / "r"), [{"counter_h": "24000"}]), BY)
    assert add(book, readings(tmp_path / "s", [{"counter_h": "24000.0"}]), BY).import_id is None
    with pytest.raises(
        InputRefused, match=r"row 2, counter_h: this reading stands in .*, readings id 2, with another"
    ):
        add(book, readings(tmp_path / "t", [{"counter_h": "24500"}]), BY)
    correct(
        book,
        corrections(tmp_path / "c.csv", [["readings", "2", "counter_h", "24000", "24500", "replace"]]),
        BY,
    )
    assert add(book, tmp_path / "t", BY).import_id is None
    assert add(book, tmp_path / "s", BY).import_id is None


def test_times_never_go_back_and_the_clock_is_told(
    book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1717200000")
    add(book, readings(engines(tmp_path / "r"), [{}]), BY)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    added = add(book, readings(tmp_path / "s", [{"position": "4"}]), BY)
    done = correct(
        book, one_correction(tmp_path / "c.csv", "7.980", "7.981", "read again", BY, "2023-01-01"), BY
    )
    for said in (added.said, done.said):
        assert said[-1].startswith(
            "The clock of this machine says 2023-11-14T22:13:20Z, before the last import"
        )
    with connected(address_of(book)) as connection:
        assert {head.at for head in heads_of(connection)} == {"2024-06-01T00:00:00Z"}
    assert verify(book).whole


@pytest.mark.parametrize("name", ["A\x1b[2JB", "A\u202eB", "A\ud800", "A\x00B"])
def test_a_signer_of_signs_that_are_not_seen_is_refused(book: str, tmp_path: Path, name: str) -> None:
    with pytest.raises(WrongUse, match="cannot be seen"):
        add(book, readings(engines(tmp_path / "r"), [{}]), name)


def test_a_file_whose_name_is_no_text_is_refused(book: str, tmp_path: Path) -> None:
    folder = engines(tmp_path / "r")
    strange = folder.rename(tmp_path / "r\udcff")
    with pytest.raises(WrongUse, match="rename it"):
        add(book, strange, BY)
    shutil.rmtree(strange)


def test_a_folder_with_corrections_is_kept_as_it_came(book: str, tmp_path: Path) -> None:
    folder = readings(engines(tmp_path / "r"), [{"value": "7.980"}, {"position": "4"}])
    corrections(folder / "corrections.csv", [["readings", "2", "value", "7.980", "7.981", "replace"]])
    assert add(book, folder, BY).rows["corrections"] == 1
    assert "7.980" in export(book)["readings.csv"].splitlines()[1]
    assert read(book).readings["value"].tolist() == [7.981, 7.980]
