"""`wearcast mapping draft` and `show`, and reports of hours, from sheet to book."""

from __future__ import annotations

import sys
from pathlib import Path

import openpyxl
import pytest
from known_sheets import FOLDER

from wearcast.book.add import add_all
from wearcast.book.create import create
from wearcast.cli.main import run
from wearcast.sources import read


@pytest.fixture
def call(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def called(*arguments: object) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            run()
        streams = capsys.readouterr()
        return int(stop.value.code or 0), streams.out + streams.err

    return called


def test_a_draft_asks_with_the_cells_and_takes_the_answers(call, tmp_path: Path) -> None:
    sheet, out = FOLDER / "no_unit.xlsx", tmp_path / "shape.toml"
    code, said = call("mapping", "draft", sheet, "--out", out)
    assert code == 0
    assert "no text says the unit of B6:B12 of Wear" in said
    assert "Eccentricity" in said
    assert 'unit = "?"' in out.read_text(encoding="utf-8")
    code, said = call(
        "mapping", "draft", sheet, "--out", out, "--answer", "unit=mm", "--answer", "Eccentricity=nothing"
    )
    assert (code, "Question" in said, "?" in out.read_text(encoding="utf-8").split("[texts]")[1]) == (
        0,
        False,
        False,
    )
    assert call("mapping", "draft", sheet, "--answer", "unit")[0] == 2
    assert call("mapping", "draft", tmp_path / "none.xlsx")[0] == 2


def test_the_page_shows_each_cell_with_what_it_became_and_why(call, tmp_path: Path) -> None:
    sheet, mapping, page = FOLDER / "rows_unit_in_head.xlsx", tmp_path / "shape.toml", tmp_path / "page.html"
    call("mapping", "draft", sheet, "--out", mapping)
    code, said = call("mapping", "show", sheet, "--mapping", mapping, "--out", page)
    text = page.read_text(encoding="utf-8")
    assert (code, "20 rows as they would stand" in said) == (0, True)
    assert "main 1 upper crown wall: 7.970 mm" in text
    assert "passed over: nothing measured" in text
    assert "passed over: &#34;Mean&#34;" in text
    assert "<script" not in text
    assert 'content="default-src &#39;none&#39;' in text


def test_what_is_not_answered_yet_is_shown_as_asked_and_no_row_stands(call, tmp_path: Path) -> None:
    mapping, page = tmp_path / "shape.toml", tmp_path / "page.html"
    call("mapping", "draft", FOLDER / "no_unit.xlsx", "--out", mapping)
    _, said = call("mapping", "show", FOLDER / "no_unit.xlsx", "--mapping", mapping, "--out", page)
    assert "0 rows as they would stand" in said
    assert "? unit" in page.read_text(encoding="utf-8")


def test_text_of_a_sheet_cannot_act_in_the_page(call, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(FOLDER / "rows_unit_in_head.xlsx")
    book.active["E7"] = "<img src=x onerror=alert(1)>"
    book.save(tmp_path / "sheet.xlsx")
    call("mapping", "draft", tmp_path / "sheet.xlsx", "--out", tmp_path / "shape.toml")
    call(
        "mapping",
        "show",
        tmp_path / "sheet.xlsx",
        "--mapping",
        tmp_path / "shape.toml",
        "--out",
        tmp_path / "p.html",
    )
    assert "<img" not in (tmp_path / "p.html").read_text(encoding="utf-8")


def test_a_sheet_of_monthly_hours_becomes_events_through_its_mapping(
    call, tmp_path: Path, record_folder
) -> None:
    hours = tmp_path / "hours.csv"
    hours.write_text("Ship;Engine;Date;Running hours\nAlder;1;31.01.2025;15.100\nAlder;1;28.02.2025;15.640\n")
    create(tmp_path / "fleet.book")
    add_all(tmp_path / "fleet.book", [record_folder()], "A. Bell")
    code, said = call("mapping", "draft", hours, "--out", tmp_path / "hours.toml")
    assert (code, "2 dials" in said) == (0, True)
    code, said = call(
        "book", "add", tmp_path / "fleet.book", hours, "--mapping", tmp_path / "hours.toml", "--by", "A. Bell"
    )
    assert (code, "2 events" in " ".join(said.split())) == (0, True)
    events = read(tmp_path / "fleet.book").events
    assert events[["event", "counter_h"]].to_numpy().tolist() == [["counter", 15100], ["counter", 15640]]


def test_hours_of_several_engines_side_by_side_become_an_event_each(
    call, tmp_path: Path, record_folder
) -> None:
    book, hours, shape = tmp_path / "fleet.book", tmp_path / "hours.csv", tmp_path / "hours.toml"
    rows = ["Month;ME 1;ME 2;DG", "31.01.2025;15.100;15.900;7.000", "28.02.2025;15.640;16.420;7.300"]
    hours.write_text("\n".join(["Monthly running hours;;;", "Vessel;Alder;;", *rows]) + "\n")
    create(book)
    engines = [{"engine": "ME 1"}, {"engine": "ME 2"}]
    add_all(
        book, [record_folder(engines=engines, readings=[{"engine": "ME 1"}, {"engine": "ME 2"}])], "A. Bell"
    )
    answers = [f"ME {k}=counter_h" for k in (1, 2)]
    code, said = call("mapping", "draft", hours, "--out", shape)
    assert code == 0
    assert "counter_h if it is an engine" in " ".join(said.split())
    told = [part for one in (*answers, "DG=nothing") for part in ("--answer", one)]
    code, said = call("mapping", "draft", hours, "--out", shape, *told)
    assert (code, "4 dials" in said, "Question" in said) == (0, True, False)
    code, said = call("book", "add", book, hours, "--mapping", shape, "--by", "A. Bell")
    assert code == 0, said
    events = read(book).events[["engine", "counter_h"]].to_numpy().tolist()
    assert sorted(events) == [["ME 1", 15100], ["ME 1", 15640], ["ME 2", 15900], ["ME 2", 16420]]


def test_two_columns_of_hours_that_differ_are_no_reading(call, tmp_path: Path) -> None:
    sheet = tmp_path / "list.csv"
    sheet.write_text(
        "Ship;Engine;Date;Hours;Running hrs;Bearing;Half;Wall mm\nAlder;1;2025-01-31;15100;16100;Main 1;upper;7.980\n"
        "Alder;1;2025-01-31;15100;16100;Main 2;upper;7.981\nAlder;1;2025-01-31;15100;16100;Main 3;upper;7.983\n"
    )
    _, said = call("mapping", "draft", sheet, "--out", tmp_path / "shape.toml")
    assert "contradict each other" in " ".join(said.split())
