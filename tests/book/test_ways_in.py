"""Forms filled on board and sheets of another layout come into a book by the same door."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest
from books import engines, readings

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.cli.main import run
from wearcast.sources import original_files, read

MAPPING = """
mapping = 2
[given]
engine = "ME"
bearing = "main"
half = "lower"
quantity = "wall"
unit = "mm"
[texts]
"Ship" = "vessel"
"Opened" = "date"
"Hours" = "counter_h"
"MB {position}" = "main"
"""


@pytest.fixture
def fleet(tmp_path: Path) -> Path:
    """A book on a fleet with two years of readings."""
    rows = [
        {"position": str(p), "half": half, "value": f"{7.99 - 0.005 * year:.3f}", "date": f"{2018 + year}-05-04",
         "counter_h": str(6000 * (year + 1)), "instrument": "BM-1"}
        for year in range(3) for p in range(1, 4) for half in ("lower",)
    ]  # fmt: skip
    create(tmp_path / "fleet.book")
    add(tmp_path / "fleet.book", readings(engines(tmp_path / "in"), rows), "A. Bell")
    return tmp_path / "fleet.book"


def test_a_form_written_from_a_book_is_added_to_it(
    fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    form = tmp_path / "form.xlsx"
    _call(
        monkeypatch,
        "form",
        fleet,
        "--vessel",
        "Merrow Dain",
        "--engine",
        "ME",
        "--opening",
        "2021-05-04",
        "--out",
        form,
    )
    workbook = openpyxl.load_workbook(form)
    for cell, value in {"C9": dt.date(2021, 5, 6), "C10": 24_100, "C11": "A. Bell", "C16": "BM-1"}.items():
        workbook["Opening"][cell] = value
    workbook["Readings"]["E4"] = 7.976
    workbook["Readings"]["E6"] = 7.97
    workbook.save(form)
    added = add(fleet, form, "B. Cole")
    assert added.rows == {"readings": 2}
    last = read(fleet).readings.tail(2)
    assert last["position"].tolist() == ["1", "3"]
    assert last["from_cell"].tolist() == ["E4", "E6"]
    assert read(fleet).origins["readings"].words([11, 12]) == "form.xlsx, sheet Readings, rows 4 and 6"
    assert verify(fleet).whole
    assert original_files(fleet)["0002/form.xlsx"] == form.read_bytes()
    assert add(fleet, form, "B. Cole").import_id is None


def test_a_sheet_of_another_layout_is_added_through_its_mapping(book: str, tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "lower shells"
    for row in (["Ship", "Merrow Dain"], ["Opened", "Hours", "MB 1", "MB 2"], ["2019-05-04", 12000, 7.985, 7.98],
                ["2021-05-04", 24000, 7.98, 7.97]):  # fmt: skip
        sheet.append(row)
    workbook.save(tmp_path / "mains.xlsx")
    (tmp_path / "fleet.toml").write_text(MAPPING, encoding="utf-8")
    add(book, engines(tmp_path / "in"), "A. Bell")
    added = add(book, tmp_path / "mains.xlsx", "A. Bell", mapping=tmp_path / "fleet.toml")
    assert added.rows == {"readings": 4}
    found = read(book)
    assert list(zip(found.readings["position"], found.readings["from_cell"], strict=True)) == [
        ("1", "C3"), ("2", "D3"), ("1", "C4"), ("2", "D4"),
    ]  # fmt: skip
    assert found.origins["readings"].words([2, 3, 4]) == "mains.xlsx, sheet lower shells, rows 3 and 4"
    kept = original_files(book)
    assert kept["0002/mapping/fleet.toml"] == (tmp_path / "fleet.toml").read_bytes()
    assert add(book, tmp_path / "mains.xlsx", "A. Bell", mapping=tmp_path / "fleet.toml").import_id is None
    assert verify(book).whole
    (tmp_path / "fleet.toml").write_text(MAPPING.replace('unit = "mm"', 'unit = "um"'), encoding="utf-8")
    other = add(book, tmp_path / "mains.xlsx", "A. Bell", mapping=tmp_path / "fleet.toml")
    assert other.differing == {"readings": 4}, "read in another way the same sheet says something else"


def _call(monkeypatch: pytest.MonkeyPatch, *arguments: object) -> None:
    monkeypatch.setattr("sys.argv", ["wearcast", *map(str, arguments)])
    with pytest.raises(SystemExit) as stop:
        run()
    assert not stop.value.code
