"""CSV files as they come: separators, quotes, encodings, line ends, broken files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from wearcast.queries import Query
from wearcast.records import csv_files
from wearcast.records.plain_csv import plain_columns
from wearcast.records.read import read
from wearcast.records.records import RecordSet

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]

HEADER = "vessel,engine,bearing,position,half,quantity,value,unit,date,counter_h,remark"
ROW = "Alder,1,main,3,lower,wall,7.982,mm,2024-05-17,12000,"


@pytest.fixture
def read_readings(record_folder: Make) -> Callable[[str | bytes], RecordSet]:
    """The record set with these bytes as readings.csv."""

    def read_it(content: str | bytes) -> RecordSet:
        folder = record_folder(readings=[{}])
        (folder / "readings.csv").write_bytes(content.encode() if isinstance(content, str) else content)
        return read(folder, DAY)

    return read_it


Reader = Callable[[str | bytes], RecordSet]


def only_fault(records: RecordSet) -> Query:
    assert len(records.faults) == 1, [str(fault) for fault in records.faults]
    return records.faults[0]


def same_tables(first: RecordSet, second: RecordSet) -> None:
    for name, frame in first.tables.items():
        pd.testing.assert_frame_equal(frame, second.tables[name])


@pytest.mark.parametrize("separator", [";", "\t"])
def test_the_separator_makes_no_difference(record_folder: Make, separator: str) -> None:
    rows = [{"remark": "oil, cold; fore\taft"}, {"position": "4"}]
    comma = read(record_folder(readings=rows), DAY)
    other = read(record_folder(name="other", separator=separator, readings=rows), DAY)
    assert comma.faults == other.faults == ()
    assert other.readings["remark"].tolist() == ["oil, cold; fore\taft", ""]
    same_tables(comma, other)


def test_a_quoted_separator_in_the_header_does_not_fool_the_reader(read_readings: Reader) -> None:
    header = HEADER.replace(
        "remark", '"what; was; seen; by; whom; and; when; and; where; and; how; and; why"'
    )
    assert read_readings(f"{header}\n{ROW}\n").faults == ()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_line_end_will_do(read_readings: Reader, end: str) -> None:
    records = read_readings(end.join([HEADER, ROW, "", ROW.replace("3", "4", 1), ""]))
    assert records.faults == ()
    assert records.readings["row"].tolist() == [2, 4]


def test_a_byte_order_mark_is_no_part_of_the_first_name(read_readings: Reader) -> None:
    assert read_readings(f"\ufeff{HEADER}\n{ROW}\n".encode()).faults == ()


def test_headers_may_have_blanks_and_capitals_and_any_order(read_readings: Reader) -> None:
    names = HEADER.split(",")[::-1]
    header = ",".join(f" {name.upper()} " for name in names)
    records = read_readings(f"{header}\n{','.join(ROW.split(',')[::-1])}\n")
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982]


def test_rows_are_counted_as_a_spreadsheet_shows_them(read_readings: Reader) -> None:
    lines = [HEADER, ROW + '"two\nlines"', "", ",,,,,,,,,,", ROW.replace("7.982", "x")]
    records = read_readings("\n".join(lines))
    assert only_fault(records).rows == (5,)
    assert records.readings["remark"].tolist() == ["two\nlines"]


def test_a_short_row_is_filled_with_empty_cells(read_readings: Reader) -> None:
    assert read_readings(f"{HEADER}\n{ROW.rstrip(',')}\n").readings["remark"].tolist() == [""]


def test_a_row_with_too_many_cells_is_refused_once(read_readings: Reader) -> None:
    records = read_readings(f"{HEADER}\n{ROW}\n{ROW.replace('7.982', '7,982')}x\n{ROW},,\n")
    fault = only_fault(records)
    assert fault.rows == (3,)
    assert 'found "x" beyond the last column name' in fault.text
    assert records.readings["row"].tolist() == [2, 4]


def test_a_cell_under_no_name_is_refused(read_readings: Reader) -> None:
    fault = only_fault(read_readings(f"{HEADER},,\n{ROW},,\n{ROW},x,\n"))
    assert fault.rows == (3,)


def test_a_decimal_comma_is_understood_where_it_is_no_separator(read_readings: Reader) -> None:
    records = read_readings(f"{HEADER}\n{ROW}\n".replace(",", ";").replace("7.982", "7,982"))
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982]
    assert records.readings["value_text"].tolist() == ["7.982"]


def test_a_quoted_decimal_comma_in_a_comma_file_is_refused(read_readings: Reader) -> None:
    row = ROW.replace("7.982", '"7,982"')
    fault = only_fault(read_readings(f"{HEADER}\n{row}\n"))
    assert fault.found == '"7,982"'
    assert "7.982 or 7982" in fault.suggestion


def test_comma_and_point_in_one_file_leave_three_digits_in_doubt(read_readings: Reader) -> None:
    rows = [ROW.replace("12000", "12.000"), ROW.replace("7.982", "7,98"), ROW.replace("7.982", "7,982")]
    text = "\n".join(row.replace(",", ";", 6)[::-1].replace(",", ";", 4)[::-1] for row in rows)
    records = read_readings(HEADER.replace(",", ";") + "\n" + text)
    assert [(fault.rows, fault.column) for fault in records.faults] == [
        ((2,), "value"),
        ((2,), "counter_h"),
        ((4,), "value"),
    ]
    assert "may mean 12.000 or 12000" in records.faults[1].suggestion
    assert records.readings["value"].tolist() == [7.98]


@pytest.mark.parametrize("text", ["41 200", "41\u2009200", "41\u00a0200,0"])
def test_thousands_of_a_dial_may_be_parted_by_a_space(read_readings: Reader, text: str) -> None:
    records = read_readings(f"{HEADER}\n{ROW}\n".replace(",", ";").replace("12000", text))
    assert records.readings["counter_h"].tolist() == [41200]


@pytest.mark.parametrize("text", ["1.041,5", "1.041.200"])
def test_thousands_are_refused_beside_a_decimal_comma(read_readings: Reader, text: str) -> None:
    records = read_readings(f"{HEADER}\n{ROW}\n".replace(",", ";").replace("12000", text))
    assert "without thousands separators" in only_fault(records).expected


def test_a_formula_kept_as_text_is_no_number(read_readings: Reader) -> None:
    assert only_fault(read_readings(f"{HEADER}\n{ROW.replace('7.982', '=7.9')}\n")).column == "value"


UNREADABLE = [
    (b"", "the file is empty"),
    (b" \n\n", "the file is empty"),
    (b"PK\x03\x04rest of it", "this is a workbook"),
    ((HEADER + "\n").encode("utf-16"), "UTF-16"),
    ((HEADER + "\n").encode("utf-16-le"), "zero bytes"),
    (f"{HEADER}\n{ROW}\0\n".encode(), "zero bytes"),
    (f"{HEADER}\n{ROW}Mängel\n".encode("latin-1"), 'line 2 holds a byte that is no UTF-8 text (0xE4 after "'),
    (bytes(range(128, 256)), "no UTF-8 text"),
    (f'{HEADER}\n{ROW}\n{ROW}"open\n{ROW}\n'.encode(), "the quoted cell that opens in row 3 is never closed"),
    (f'{HEADER}\n{ROW}"one" two\n'.encode(), "the quotes in row 2 do not pair"),
    (f"{HEADER}\n{ROW}{'x' * 200_000}\n".encode(), "a cell of row 2 has no end in sight"),
]


@pytest.mark.parametrize(("content", "words"), UNREADABLE, ids=[words for _, words in UNREADABLE])
def test_a_file_that_is_no_table_is_refused_whole(read_readings: Reader, content: bytes, words: str) -> None:
    records = read_readings(content)
    fault = only_fault(records)
    assert (fault.kind, fault.table, fault.file) == ("missing_table", "readings", "readings.csv")
    assert words in fault.text
    assert fault.suggestion
    assert not fault.can_be_left_out
    assert len(records.readings) == 0


def test_an_optional_table_that_cannot_be_read_is_not_left_out(record_folder: Make) -> None:
    folder = record_folder()
    (folder / "events.csv").write_bytes(b"\xff\xfe")
    fault = only_fault(read(folder, DAY))
    assert (fault.kind, fault.table) == ("missing_table", "events")


def test_a_missing_column_is_named_with_those_found(read_readings: Reader) -> None:
    fault = only_fault(read_readings(f"{HEADER.replace('value', 'values')}\n{ROW}\n"))
    assert (fault.kind, fault.column, fault.rows) == ("missing_column", "value", (1,))
    assert "found: vessel, engine, bearing, position, half, quantity, values, unit" in fault.text
    assert fault.suggestion == "Rename values to value if it is the same."
    assert not fault.can_be_left_out


def test_a_header_below_row_one_is_pointed_at(read_readings: Reader) -> None:
    faults = read_readings(f"Wear readings of the fleet\n\n{HEADER}\n{ROW}\n").faults
    assert {fault.kind for fault in faults} == {"missing_column"}
    assert all("found: Wear readings of the fleet" in fault.text for fault in faults)
    assert all("row 3: move them to row 1" in fault.suggestion for fault in faults)


@pytest.mark.parametrize("content", ["\n\n\nx\n", "\nvessel\n", "x", ",,\n1,2,3"])
def test_a_file_without_a_header_misses_its_columns(read_readings: Reader, content: str) -> None:
    kinds = {fault.kind for fault in read_readings(content).faults}
    assert "missing_column" in kinds


def test_a_column_named_twice_is_refused_with_both_letters(read_readings: Reader) -> None:
    fault = only_fault(read_readings(f"{HEADER}, Value \n{ROW},7.9\n"))
    assert fault.kind == "missing_column"
    assert 'columns G and L are both named "value"' in fault.text


def test_unknown_columns_are_kept_and_said(read_readings: Reader) -> None:
    records = read_readings(f"{HEADER},Gang,Gang,row,value_mm\n{ROW},A,B,C,D\n")
    assert records.faults == ()
    frame = records.readings
    assert frame.columns[-4:].tolist() == ["Gang", "Gang (column M)", "row (column N)", "value_mm (column O)"]
    assert frame.iloc[0, -4:].tolist() == ["A", "B", "C", "D"]
    assert frame["row"].tolist() == [2]
    assert any("unknown columns" in note and "Gang" in note for note in records.notes)


def test_two_files_of_one_table_are_refused(record_folder: Make) -> None:
    folder = record_folder()
    (folder / "Readings.CSV").write_text(f"{HEADER}\n{ROW}\n")
    fault = only_fault(read(folder, DAY))
    assert fault.kind == "missing_table"
    assert fault.file == "Readings.CSV and readings.csv"


def test_files_of_other_names_are_not_read_and_that_is_said(record_folder: Make) -> None:
    folder = record_folder()
    (folder / "reading.csv").write_text("x")
    (folder / "old.xlsx").write_bytes(b"x")
    (folder / "README.md").write_text("x")
    (folder / ".hidden.csv").write_text("x")
    (folder / "photos").mkdir()
    records = read(folder, DAY)
    assert records.faults == ()
    assert sorted(note.split(":")[0] for note in records.notes) == ["old.xlsx", "reading.csv"]


def test_an_empty_folder_misses_every_required_table(tmp_path: Path) -> None:
    faults = read(tmp_path, DAY).faults
    assert [(fault.kind, fault.table) for fault in faults] == [
        ("missing_table", name) for name in ("readings", "engines", "limits")
    ]


def test_a_folder_under_the_name_of_a_table_is_refused(record_folder: Make) -> None:
    folder = record_folder(events=None)
    (folder / "events.csv").mkdir()
    fault = only_fault(read(folder, DAY))
    assert (fault.kind, fault.table) == ("missing_table", "events")
    assert "cannot be opened" in fault.text


LONG = [ROW, ROW.replace("7.982", "7.980"), ROW + "  two words ", ROW.replace("3", "04", 1), ROW + "nan"]


def test_the_short_way_reads_what_the_long_way_reads(
    read_readings: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "\r\n".join([HEADER, *LONG, ""])
    long_way = read_readings(text)
    monkeypatch.setattr(csv_files, "LARGE", 0)
    assert plain_columns(text.encode(), ",", 11) is not None
    short_way = read_readings(text)
    assert long_way.faults == short_way.faults == ()
    same_tables(long_way, short_way)
    assert short_way.readings["value_text"].tolist() == ["7.982", "7.980", "7.982", "7.982", "7.982"]


@pytest.mark.parametrize("row", [ROW + '"quoted"', ROW + ",", ROW.rstrip(","), ROW + "a\rb", ""])
def test_the_short_way_is_left_where_a_file_is_not_plain(row: str) -> None:
    assert plain_columns("\n".join([HEADER, ROW, row, ROW]).encode(), ",", 11) is None
