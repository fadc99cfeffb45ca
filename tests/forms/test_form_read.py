"""A filled form is read back as readings and events; what is half filled or changed is refused in words."""

from __future__ import annotations

import datetime as dt
import io
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wearcast.records.read import read
from wearcast.records.records import RecordSet

DAY = dt.date(2026, 4, 1)
HEAD = {"C9": dt.date(2026, 3, 2), "C10": 56_000, "C11": "A. Bell", "C12": "cold", "C16": "M-1"}
MORE = int(os.environ.get("WEARCAST_EXAMPLES", "0"))

Fill = Callable[[Mapping[str, Mapping[str, Any]]], Path]

FILLED = {
    "Opening": HEAD,
    "Readings": {"E4": 7.98, "E6": 7.95, "L6": "M-2", "E8": 0.28, "N8": "feeler too"},
    "Shells": {"D5": "refitted", "D6": "renewed", "E6": "standard", "H6": "mark 7", "G6": "wiping",
               "D7": "reground", "E7": "U25", "G10": "embedded particles"},
}  # fmt: skip


def check_filled(records: RecordSet) -> None:
    """The readings and events that `FILLED` says."""
    assert not records.faults
    assert records.readings[
        ["bearing", "position", "half", "point", "quantity", "value_mm", "state", "instrument", "row", "from_cell"]
    ].to_numpy().tolist() == [
        ["main", "1", "upper", "crown", "wall", 7.98, "as_found", "M-1", 4, "E4"],
        ["main", "1", "lower", "crown", "wall", 7.95, "as_found", "M-2", 6, "E6"],
        ["main", "1", "", "", "clearance", 0.28, "as_found", "", 8, "E8"],
    ]  # fmt: skip
    assert records.events[
        ["position", "half", "event", "shell_size", "finding", "remark", "row"]
    ].to_numpy().tolist() == [
        ["1", "upper", "refit", "", "", "", 5],
        ["1", "lower", "renewal", "standard", "", "mark 7", 6],
        ["1", "lower", "finding", "", "wiping", "mark 7", 6],
        ["1", "", "regrind", "U25", "", "", 7],
        ["2", "", "finding", "", "embedded particles", "", 10],
    ]  # fmt: skip
    for table in (records.readings, records.events):
        assert set(table["date"].dt.strftime("%Y-%m-%d")) == {"2026-03-02"}
        assert set(table["counter_h"]) == {56_000.0}
        assert set(table["engine"]) == {"1"}
        assert all(vessel.startswith("=HYPERLINK") for vessel in table["vessel"])
    assert set(records.readings["measured_by"]) == {"A. Bell"}
    assert set(records.readings["conditions"]) == {"cold"}


def test_a_filled_form_is_readings_and_events(fill: Fill) -> None:
    check_filled(read(fill(FILLED), DAY, part=True))


def test_a_form_saved_by_libreoffice_reads_the_same(fill: Fill, office: Any, tmp_path: Path) -> None:
    check_filled(read(office(fill(FILLED), "xlsx", tmp_path / "saved"), DAY, part=True))


def test_libreoffice_shows_the_words_beside_each_value(fill: Fill, office: Any, tmp_path: Path) -> None:
    values = {"E4": 7.98, "E5": 8.1, "E6": 7.94, "E7": "worn", "E8": 0.9}
    path = office(
        fill({"Readings": values, "Shells": {"D5": "renewed", "E6": "U25"}}), "xlsx", tmp_path / "saved"
    )
    book = openpyxl.load_workbook(path, data_only=True)
    said = {row: (book["Readings"][f"K{row}"].value or "").strip() for row in (4, 5, 6, 7, 8, 9)}
    outside, past = (
        "Outside the expected range: measure again.",
        "At or past the limit: tell the chief engineer.",
    )
    assert said == {
        4: "", 5: outside, 6: f"{outside} {past}", 7: "A number is needed.", 8: f"{outside} {past}", 9: "",
    }  # fmt: skip
    assert book["Shells"]["F5"].value == "Write the size."
    assert book["Shells"]["F6"].value == "Say what was done."


def test_libreoffice_prints_every_page(form: bytes, office: Any, tmp_path: Path) -> None:
    (tmp_path / "form.xlsx").write_bytes(form)
    printed = office(tmp_path / "form.xlsx", "pdf", tmp_path / "printed").read_bytes()
    assert printed.startswith(b"%PDF")
    assert printed.count(b"/Type/Page\n") + printed.count(b"/Type/Page/") >= 3


@pytest.mark.parametrize(
    ("sheet", "cells", "where", "words"),
    [
        (
            "Readings",
            {"N4": "oily"},
            "sheet Readings, row 4, value (column E)",
            'remark "oily" without a value',
        ),
        (
            "Readings",
            {"L4": "M-9"},
            "sheet Readings, row 4, value (column E)",
            'instrument "M-9" without a value',
        ),
        (
            "Readings",
            {"E4": "OK"},
            "sheet Readings, row 4, value (column E)",
            'found "OK"; expected a number',
        ),
        ("Readings", {"E4": 0}, "sheet Readings, row 4, value (column E)", "a wall thickness above zero"),
        ("Readings", {"E4": "=E5+1"}, "sheet Readings, row 4, value (column E)", "without a saved result"),
        ("Shells", {"D5": "renewed"}, "sheet Shells, row 5, shell_size (column E)", "the size put in"),
        ("Shells", {"E5": "U25"}, "sheet Shells, row 5, event (column D)", "beside the size"),
        (
            "Shells",
            {"D5": "reground"},
            "sheet Shells, row 5, event (column D)",
            "expected refitted or renewed",
        ),
        ("Shells", {"D7": "renewed"}, "sheet Shells, row 7, event (column D)", "expected reground"),
        ("Shells", {"D5": "refited"}, "sheet Shells, row 5, event (column D)", 'found "refited"'),
        ("Shells", {"H5": "dark"}, "sheet Shells, row 5, finding (column G)", "what was done or seen"),
    ],
)
def test_a_half_filled_row_is_refused_by_its_cell(
    fill: Fill, sheet: str, cells: dict[str, Any], where: str, words: str
) -> None:
    faults = read(fill({"Opening": HEAD, sheet: cells}), DAY, part=True).faults
    (fault,) = [one for one in faults if "no value" not in one.text]
    assert fault.where == f"filled.xlsx, {where}"
    assert words in fault.text


@pytest.mark.parametrize(
    ("head", "where", "words"),
    [
        ({"C10": 56_000}, "sheet Opening, row 9, date (cell C9)", "expected the date of the opening"),
        ({"C9": dt.date(2026, 3, 2)}, "sheet Opening, row 10, counter_h (cell C10)", "the hours the counter showed"),
        ({"C9": "02/03/2026", "C10": 56_000}, "sheet Readings, row 4, date (cell C9 of Opening)", "in one way only"),
        ({"C9": dt.date(2027, 3, 2), "C10": 56_000}, "sheet Readings, row 4, date (cell C9 of Opening)", "not after"),
    ],
)  # fmt: skip
def test_an_opening_must_be_dated(fill: Fill, head: dict[str, Any], where: str, words: str) -> None:
    (fault,) = read(fill({"Opening": head, "Readings": {"E4": 7.98}}), DAY, part=True).faults
    assert fault.where == f"filled.xlsx, {where}"
    assert words in fault.text


def test_an_empty_form_is_said_to_be_empty(fill: Fill) -> None:
    (fault,) = read(fill({"Opening": HEAD}), DAY, part=True).faults
    assert "no value and nothing done or seen" in fault.text


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"Opening": {"C3": "Birch"}}, 'found "Birch" in cell C3'),
        ({"Opening": {"A16": "clearance"}}, 'expected "wall thickness"'),
        ({"Readings": {"A4": "main 2"}}, 'found "main 2" in cell A4; expected "main 1": the form was changed'),
        ({"Readings": {"F4": "um"}}, 'found "um" in cell F4; expected "mm"'),
        ({"Readings": {"D4": "as left"}}, 'expected "as found"'),
        ({"Shells": {"B5": "lower"}}, 'found "lower" in cell B5; expected "upper"'),
        ({"form facts": {"B1": "3"}}, "of version 3; expected 2"),
        ({"form facts": {"B1": None}}, "of version unknown; expected 2"),
        ({"form facts": {"A1": "another"}}, "its first cell is not that of a form"),
        ({"form facts": {"C2": "Birch"}}, "the hidden facts are not those"),
        ({"form facts": {"H9": "in"}}, "the hidden facts are not those"),
    ],
)  # fmt: skip
def test_a_changed_form_is_refused_whole(fill: Fill, cells: dict[str, Any], words: str) -> None:
    records = read(fill({"Opening": HEAD, "Readings": {"E4": 7.98}} | cells), DAY, part=True)
    (fault,) = records.faults
    assert words in fault.text
    assert "Make the form again" in fault.suggestion or "make the form again" in fault.suggestion
    assert not len(records.readings)


def test_a_row_put_in_between_is_found_out(form: bytes, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(form))
    book["Readings"].insert_rows(5)
    book["Readings"]["E4"] = 7.98
    book.save(tmp_path / "moved.xlsx")
    (fault,) = read(tmp_path / "moved.xlsx", DAY, part=True).faults
    assert "row 5" in fault.where
    assert "the form was changed" in fault.text


def test_a_sheet_taken_out_is_named(form: bytes, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(form))
    del book["Shells"]
    book.save(tmp_path / "short.xlsx")
    (fault,) = read(tmp_path / "short.xlsx", DAY, part=True).faults
    assert "there is no sheet Shells" in fault.text


def test_a_form_alone_is_no_whole_record_set(fill: Fill) -> None:
    records = read(fill(FILLED), DAY)
    assert {fault.table for fault in records.faults} == {"engines", "limits"}


_cell = st.one_of(
    st.none(), st.integers(-10, 10**9), st.floats(allow_nan=False), st.text(max_size=12), st.booleans(),
    st.sampled_from(["=1/0", "renewed", "reground", "standard", "7,98", dt.date(2026, 3, 2), dt.time(3, 4)]),
)  # fmt: skip
_place = st.tuples(
    st.sampled_from(["Opening", "Readings", "Shells"]), st.sampled_from("ABCDEFGHKLM"), st.integers(1, 20)
)


@settings(
    max_examples=MORE or 20,
    deadline=None,
    derandomize=not MORE,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(written=st.lists(st.tuples(_place, _cell), max_size=6))
def test_whatever_is_written_gives_rows_or_words(form: bytes, tmp_path: Path, written: list[Any]) -> None:
    book = openpyxl.load_workbook(io.BytesIO(form))
    for (sheet, column, row), value in written:
        cell = book[sheet][f"{column}{row}"]
        if type(cell).__name__ != "MergedCell" and not (isinstance(value, str) and not value.isprintable()):
            cell.value = value
    book.save(tmp_path / "any.xlsx")
    records = read(tmp_path / "any.xlsx", DAY, part=True)
    assert records.faults or len(records.readings) or len(records.events)
    assert all(str(fault).isprintable() and fault.text.endswith(".") for fault in records.faults)
