"""Workbooks as they come: cells that are not what they look like, merged cells, hidden sheets, broken files."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wearcast.queries import Query
from wearcast.records.read import read
from wearcast.records.records import RecordSet

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]
VALUE, DATE, COUNTER = "G", "I", "J"


def only_fault(records: RecordSet) -> Query:
    assert len(records.faults) == 1, [str(fault) for fault in records.faults]
    return records.faults[0]


def put(cell: str, value: Any, number_format: str = "") -> Callable[[Any], None]:
    """A change of one cell of readings."""

    def change(workbook: Any) -> None:
        workbook["readings"][cell] = value
        if number_format:
            workbook["readings"][cell].number_format = number_format

    return change


def rewrite(path: Path, name: str, change: Callable[[bytes], bytes]) -> None:
    """Change one part of a saved workbook."""
    with zipfile.ZipFile(path) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    parts[name] = change(parts[name])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        (7.982, "", "7.982"),
        (7.9, "0.000", "7.900"),
        (7.9, '0.000" mm"', "7.900"),
        (8, "0.000", "8.000"),
        (7.982000000000001, "", "7.982"),
        (7.982000000000001, "0.0000", "7.9820"),
        (7.9824, "0.00", "7.9824"),  # a rounded display is no rounded reading
        (7982.5, "#,##0.00", "7982.50"),
        (8, "", "8"),
    ],
)
def test_a_number_has_the_digits_a_person_sees(
    record_workbook: Make, value: float, number_format: str, text: str
) -> None:
    records = read(record_workbook(change=put(f"{VALUE}2", value, number_format)), DAY)
    assert records.faults == ()
    assert records.readings["value_text"].tolist() == [text]
    assert records.readings["value"].tolist() == [float(text)]


@pytest.mark.parametrize(
    ("value", "number_format", "words"),
    [
        (True, "", "TRUE and FALSE are no measurements"),
        (dt.datetime(2024, 7, 9), "yyyy-mm-dd", "turned it into a date"),
        (dt.time(7, 58), "h:mm", "formatted as a time"),
        (dt.timedelta(hours=30), "[h]:mm", "formatted as a time"),
        (0.0799, "0.0%", "another figure than it holds"),
        (7982, "0.0,", "another figure than it holds"),
        ("#REF!", "", "Mend the formula"),
        ("7,982", "", "may mean 7.982 or 7982"),
        ("=7.9+0.082", "", "let it calculate, and save it"),
    ],
)
def test_a_cell_that_is_no_plain_number_is_refused(
    record_workbook: Make, value: Any, number_format: str, words: str
) -> None:
    fault = only_fault(read(record_workbook(change=put(f"{VALUE}2", value, number_format)), DAY))
    assert (fault.sheet, fault.rows, fault.column) == ("readings", (2,), "value")
    assert words in fault.suggestion


@pytest.mark.parametrize("value", [dt.date(2024, 5, 17), dt.datetime(2024, 5, 17), "2024-05-17"])
def test_a_date_cell_is_a_date(record_workbook: Make, value: Any) -> None:
    records = read(record_workbook(change=put(f"{DATE}2", value)), DAY)
    assert records.faults == ()
    assert str(records.readings["date"].dt.date[0]) == "2024-05-17"


@pytest.mark.parametrize(
    ("value", "number_format", "words"),
    [
        (45429, "", "day number for 2024-05-17"),
        (45429, "0.00", "day number for 2024-05-17"),
        (dt.datetime(2024, 5, 17, 14, 30), "", "Write 2024-05-17"),
        (dt.datetime(2027, 5, 17), "", "what is recorded has happened"),
        (dt.datetime(1904, 5, 17), "", "Correct the year"),
        (dt.time(12, 0), "", "Format the cell as a date"),
        (True, "", "Format the cell as a date"),
        (3e9, "yyyy-mm-dd", "Mend the formula"),
        ("=TODAY()", "yyyy-mm-dd", "let it calculate"),
    ],
)
def test_a_cell_that_is_no_date_is_refused(
    record_workbook: Make, value: Any, number_format: str, words: str
) -> None:
    fault = only_fault(read(record_workbook(change=put(f"{DATE}2", value, number_format)), DAY))
    assert fault.column == "date"
    assert words in fault.suggestion


def test_day_numbers_are_counted_from_the_workbooks_own_year(record_workbook: Make) -> None:
    """2024-05-17 is day 45429 from 1900 and, 1462 days less, 43967 from 1904 (ECMA-376 part 1, 18.17.4.1)."""
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    def old_calendar(workbook: Any) -> None:
        workbook.epoch = CALENDAR_MAC_1904
        workbook["readings"]["I2"] = dt.date(2024, 5, 17)
        workbook["readings"]["I3"] = 43967

    records = read(record_workbook(change=old_calendar, readings=[{}, {}]), DAY)
    assert only_fault(records).rows == (3,)
    assert "day number for 2024-05-17" in records.faults[0].suggestion
    assert str(records.readings["date"].dt.date[0]) == "2024-05-17"


def test_numbers_serve_as_labels(record_workbook: Make) -> None:
    def numbers(workbook: Any) -> None:
        workbook["readings"]["B2"], workbook["readings"]["D2"] = 1.0, 3.0

    records = read(record_workbook(change=numbers), DAY)
    assert records.faults == ()
    assert records.readings.loc[0, ["engine", "position"]].tolist() == ["1", "3"]


def test_a_formula_that_was_saved_with_its_result_counts_as_the_result(record_workbook: Make) -> None:
    path = record_workbook(change=put(f"{VALUE}2", "=7.9+0.08"))
    rewrite(
        path,
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"<f>7.9+0.08</f><v />", b"<f>7.9+0.08</f><v>7.98</v>").replace(
            b"<f>7.9+0.08</f><v></v>", b"<f>7.9+0.08</f><v>7.98</v>"
        ),
    )
    records = read(path, DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.98]


def test_merged_header_cells_are_refused(record_workbook: Make) -> None:
    def merge(workbook: Any) -> None:
        workbook["readings"].merge_cells("G1:H1")

    faults = read(record_workbook(change=merge), DAY).faults
    assert any("merged cells G1:H1" in fault.text for fault in faults)
    assert {fault.kind for fault in faults} == {"missing_column"}


def test_merged_cells_of_rows_are_refused_with_their_rows(record_workbook: Make) -> None:
    def merge(workbook: Any) -> None:
        workbook["readings"].merge_cells("A3:A4")

    records = read(record_workbook(change=merge, readings=[{}, {}, {}, {}]), DAY)
    fault = only_fault(records)
    assert fault.rows == (3, 4)
    assert "unmerge" in fault.suggestion
    assert records.readings["row"].tolist() == [2, 5]


def test_merged_cells_beside_or_below_the_table_do_no_harm(record_workbook: Make) -> None:
    def merge(workbook: Any) -> None:
        workbook["readings"]["L2"] = "a note"
        workbook["readings"].merge_cells("L2:M3")
        workbook["readings"].merge_cells("A8:C9")

    records = read(record_workbook(change=merge), DAY)
    assert records.faults == ()
    assert records.readings["column L"].tolist() == ["a note"]


def test_a_header_below_a_merged_title_is_pointed_at(record_workbook: Make) -> None:
    def title(workbook: Any) -> None:
        sheet = workbook["readings"]
        sheet.insert_rows(1, 2)
        sheet["A1"] = "Readings of the fleet"
        sheet.merge_cells("A1:J1")

    faults = read(record_workbook(change=title), DAY).faults
    assert {fault.kind for fault in faults} == {"missing_column"}
    assert all("row 3: move them to row 1" in fault.suggestion for fault in faults)


def test_sheet_names_may_have_capitals_and_hidden_sheets_are_read(record_workbook: Make) -> None:
    def rename(workbook: Any) -> None:
        workbook["readings"].title = "Readings "
        workbook["limits"].sheet_state = "hidden"
        workbook["engines"].sheet_state = "veryHidden"
        workbook.create_sheet("Notes")

    records = read(record_workbook(change=rename), DAY)
    assert records.faults == ()
    assert len(records.readings) == len(records.limits) == 1
    text = "\n".join(records.notes)
    assert "sheet limits: the sheet is hidden; it was read" in text
    assert "sheet engines: the sheet is hidden; it was read" in text
    assert "sheet Notes: no table" in text


def test_two_sheets_of_one_table_are_refused(record_workbook: Make) -> None:
    def double(workbook: Any) -> None:
        workbook.create_sheet("readings ").append(["vessel"])

    fault = only_fault(read(record_workbook(change=double), DAY))
    assert (fault.kind, fault.sheet) == ("missing_table", "readings and readings ")


def test_a_column_named_twice_is_refused(record_workbook: Make) -> None:
    fault = only_fault(read(record_workbook(change=put("K1", " VALUE ")), DAY))
    assert 'columns G and K are both named "value"' in fault.text


def test_row_numbers_are_those_of_the_sheet(record_workbook: Make) -> None:
    def holes(workbook: Any) -> None:
        workbook["readings"].insert_rows(2, 3)
        workbook["readings"]["A6"] = "  "

    assert read(record_workbook(change=holes), DAY).readings["row"].tolist() == [5]


def test_a_stray_cell_far_away_costs_one_fault_and_little_time(record_workbook: Make) -> None:
    records = read(record_workbook(change=put("ALL1048576", "x")), DAY)
    fault = only_fault(records)
    assert fault.rows == (1048576,)
    assert "none of the required cells filled" in fault.text
    assert len(records.readings) == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(512), "locked with a password"),
        (b"vessel,engine\n", "no whole .xlsx workbook"),
        (b"PK\x03\x04", "no whole .xlsx workbook"),
    ],
    ids=["empty", "locked", "text", "stub"],
)
def test_a_file_that_is_no_workbook_is_one_fault(tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "fleet.xlsx"
    path.write_bytes(data)
    fault = only_fault(read(path, DAY))
    assert (fault.kind, fault.file) == ("missing_table", "fleet.xlsx")
    assert words in fault.text
    assert not fault.can_be_left_out


@pytest.mark.parametrize("part", [0.3, 0.6, 0.99])
def test_a_truncated_workbook_is_one_fault(record_workbook: Make, part: float) -> None:
    path = record_workbook()
    data = path.read_bytes()
    path.write_bytes(data[: int(part * len(data))])
    assert "no whole .xlsx workbook" in only_fault(read(path, DAY)).text


def test_an_archive_of_another_kind_is_one_fault(tmp_path: Path) -> None:
    path = tmp_path / "fleet.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "hello")
    assert "no whole .xlsx workbook" in only_fault(read(path, DAY)).text


def test_a_damaged_sheet_is_named(record_workbook: Make) -> None:
    path = record_workbook(events=[{}])
    rewrite(path, "xl/worksheets/sheet4.xml", lambda xml: xml[: len(xml) // 2])
    fault = only_fault(read(path, DAY))
    assert (fault.kind, fault.table, fault.sheet) == ("missing_table", "events", "events")


def test_rows_out_of_order_are_refused_and_not_lost(record_workbook: Make) -> None:
    path = record_workbook(readings=[{}, {}])
    rewrite(path, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'<row r="3"', b'<row r="1"'))
    fault = only_fault(read(path, DAY))
    assert (fault.kind, fault.table) == ("missing_table", "readings")
