"""Sheets of every shape become the readings a person reads in them; faults are told by their own cells."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from wearcast.errors import WrongUse
from wearcast.records.mapping import read_mapping
from wearcast.records.read import read
from wearcast.records.records import RecordSet

DAY = date(2026, 1, 1)


def mapped(path: Path, text: str) -> RecordSet:
    mapping = path.with_name("fleet.toml")
    mapping.write_text(text, encoding="utf-8")
    return read(path, DAY, part=True, mapping=read_mapping(mapping))


def test_a_sheet_is_read_as_a_person_reads_it(shape: Any, tmp_path: Path) -> None:
    records = mapped(shape.write(tmp_path), shape.mapping)
    assert not records.faults
    table = records.readings
    found = list(
        zip(
            table["position"], table["half"], table["point"], table["quantity"], table["value_mm"],
            table["date"].dt.strftime("%Y-%m-%d"), table["row"], table["from_cell"], strict=True,
        )
    )  # fmt: skip
    assert found == list(shape.readings)
    assert set(table["vessel"]) == {"Alder"}
    assert len(records.files) == 1


def test_columns_not_used_are_named(shapes: Any, tmp_path: Path) -> None:
    text = shapes["wide"].mapping.replace('measured_by = "seen by"\n', "")
    notes = mapped(shapes["wide"].write(tmp_path), text).notes
    assert any("not used by the mapping fleet.toml: seen by" in note for note in notes)


def test_a_fault_names_sheet_row_and_column_of_the_original(shapes: Any, tmp_path: Path) -> None:
    path = shapes["wide"].write(tmp_path)
    book = openpyxl.load_workbook(path)
    book["lower shells"]["D4"] = "worn"
    book["lower shells"]["E4"] = "worn"
    book.save(path)
    first, second = mapped(path, shapes["wide"].mapping).faults
    assert first.where == "mains.xlsx, sheet lower shells, row 4, value (column D)"
    assert second.where == "mains.xlsx, sheet lower shells, row 4, value (column E)"
    assert '"worn"' in first.text


def test_in_a_turned_sheet_a_fault_names_the_cell(shapes: Any, tmp_path: Path) -> None:
    path = shapes["turned"].write(tmp_path)
    book = openpyxl.load_workbook(path)
    book["wear"]["C5"] = "worn"
    book["wear"]["C2"] = "05/06/2024"
    book.save(path)
    faults = mapped(path, shapes["turned"].mapping).faults
    wheres = [fault.where for fault in faults]
    assert "turned.xlsx, sheet wear, row 5, value (cell C5)" in wheres
    assert any(where.endswith("date (cell C2)") for where in wheres)


def test_a_wrong_constant_is_told_by_the_mapping(shapes: Any, tmp_path: Path) -> None:
    text = shapes["wide"].mapping.replace('unit = "mm"', 'unit = "mils"')
    (fault,) = mapped(shapes["wide"].write(tmp_path), text).faults
    assert fault.column == "unit (fleet.toml)"
    assert "expected mm, um or in" in fault.text


@pytest.mark.parametrize("unit", ['unit = ""', ""])
def test_a_unit_is_never_guessed(shapes: Any, tmp_path: Path, unit: str) -> None:
    text = shapes["wide"].mapping.replace('unit = "mm"', unit)
    (fault,) = mapped(shapes["wide"].write(tmp_path), text).faults
    assert fault.kind == "missing_column"
    assert "does not say where unit comes from" in fault.text


def test_a_heading_that_is_not_there_is_named_with_those_that_are(shapes: Any, tmp_path: Path) -> None:
    text = shapes["long"].mapping.replace('"Draaiuren"', '"Draaiuur"')
    (fault,) = mapped(shapes["long"].write(tmp_path), text).faults
    assert '"Draaiuur" for counter_h stands nowhere' in fault.text
    assert '"Draaiuren"' in fault.text
    assert "Did you mean Draaiuren?" in fault.suggestion


def test_a_heading_that_stands_twice_is_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "twice.csv"
    path.write_text("Date,Wear,Wear\n2024-05-17,0.1,0.2\n")
    text = 'mapping = 1\n[columns]\ndate = "Date"\nvalue = "Wear"\n'
    faults = mapped(path, text).faults
    (double,) = [fault for fault in faults if '"Wear" for value' in fault.text]
    assert "in column B and column C" in double.text
    assert '"column D"' in double.suggestion


def test_a_sheet_that_is_not_there_is_named_with_those_that_are(shapes: Any, tmp_path: Path) -> None:
    text = shapes["wide"].mapping.replace("Lower shells", "Lower shell")
    (fault,) = mapped(shapes["wide"].write(tmp_path), text).faults
    assert "no sheet Lower shell; the sheets are lower shells, remarks of the yard" in fault.text
    assert "Did you mean lower shells?" in fault.suggestion


def test_several_sheets_and_none_named_is_refused(shapes: Any, tmp_path: Path) -> None:
    text = shapes["wide"].mapping.replace('sheet = "Lower shells"\n', "")
    (fault,) = mapped(shapes["wide"].write(tmp_path), text).faults
    assert "2 sheets" in fault.text


def test_one_sheet_an_engine_is_read_by_a_pattern(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for index, position in enumerate(("1", "2")):
        sheet = book.active if index == 0 else book.create_sheet()
        sheet.title = f"Main {position}"
        sheet.append(["Date", "Hours", "Lower"])
        sheet.append(["2024-05-17", 41200, 7.98 if position == "1" else "?"])
    book.save(tmp_path / "mains.xlsx")
    text = """
mapping = 1
sheet = "Main {position}"
columns = { date = "Date", counter_h = "Hours", value = "Lower" }
constants = { vessel = "Alder", engine = "1", bearing = "main", half = "lower", quantity = "wall", unit = "mm" }
"""
    records = mapped(tmp_path / "mains.xlsx", text)
    assert records.readings[["sheet", "row", "position"]].to_numpy().tolist() == [["Main 1", 2, "1"]]
    (fault,) = records.faults
    assert fault.where == "mains.xlsx, sheet Main 2, row 2, value (column C)"


def test_merged_places_are_carried_only_where_the_mapping_says(tmp_path: Path) -> None:
    path = tmp_path / "carry.csv"
    path.write_text("Date,Hours,Main,Half,Wall\n2024-05-17,41200,1,lower,7.98\n,,,upper,7.99\n")
    text = """
mapping = 1
columns = { date = "Date", counter_h = "Hours", position = "Main", half = "Half", value = "Wall" }
constants = { vessel = "Alder", engine = "1", bearing = "main", quantity = "wall", unit = "mm" }
"""
    assert {fault.column for fault in mapped(path, text).faults} == {
        "date (column A)", "counter_h (column B)", "position (column C)",
    }  # fmt: skip
    carried = mapped(path, 'carry = ["date", "counter_h", "position"]\n' + text)
    assert not carried.faults
    assert carried.readings["position"].tolist() == ["1", "1"]


def test_a_date_with_days_first_needs_the_mapping_to_say_so(shapes: Any, tmp_path: Path) -> None:
    path = shapes["long"].write(tmp_path)
    path.write_text(path.read_text().replace("17.05.2024", "05.06.2024"))
    said = mapped(path, shapes["long"].mapping)
    assert set(said.readings["date"].dt.strftime("%Y-%m-%d")) == {"2024-06-05"}
    unsaid = mapped(path, shapes["long"].mapping.replace('date_order = "day month year"', ""))
    assert "may mean 2024-06-05 or 2024-05-06" in unsaid.faults[0].suggestion


def test_a_decimal_comma_in_a_workbook_needs_the_mapping_to_say_so(shapes: Any, tmp_path: Path) -> None:
    path = shapes["wide"].write(tmp_path)
    book = openpyxl.load_workbook(path)
    book["lower shells"]["D4"] = "7,981"
    book.save(path)
    assert "may mean 7.981 or 7981" in mapped(path, shapes["wide"].mapping).faults[0].suggestion
    said = mapped(path, 'decimal = ","\n' + shapes["wide"].mapping)
    assert not said.faults
    assert 7.981 in said.readings["value_mm"].tolist()


def test_events_are_mapped_too(tmp_path: Path) -> None:
    path = tmp_path / "renewals.csv"
    path.write_text("Fitted,At hours,Where,Which\n2024-05-17,41200,3,lower\n")
    text = """
mapping = 1
table = "events"
columns = { date = "Fitted", counter_h = "At hours", position = "Where", half = "Which" }
constants = { vessel = "Alder", engine = "1", bearing = "main", event = "renewal", shell_size = "standard" }
"""
    records = mapped(path, text)
    assert not records.faults
    assert records.events[["position", "event", "row"]].to_numpy().tolist() == [["3", "renewal", 2]]


def test_a_folder_is_no_file_to_map(shapes: Any, tmp_path: Path) -> None:
    (tmp_path / "fleet.toml").write_text(shapes["long"].mapping)
    with pytest.raises(WrongUse, match=r"expected one .xlsx workbook or .csv file"):
        read(tmp_path, DAY, part=True, mapping=read_mapping(tmp_path / "fleet.toml"))
