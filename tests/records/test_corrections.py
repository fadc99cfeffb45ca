"""Corrections: applied only where the old text stands, to folders and workbooks alike, nothing overwritten."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wearcast.queries import Query
from wearcast.records.read import read
from wearcast.records.records import RecordSet

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]
READINGS = [{"position": "1"}, {"value": "7982", "position": "2"}, {"value": "7,98", "position": "3"}]
WHY = "(measured again; A. Bell, 2025-01-01)"


@pytest.fixture(params=["folder", "workbook"])
def make(request: pytest.FixtureRequest) -> Make:
    found: Make = request.getfixturevalue(f"record_{request.param}")
    return found


def correction(row: str, old: str, new: str = "", action: str = "replace", **more: str) -> dict[str, str]:
    return {"row": row, "old": old, "new": new, "action": action, **more}


def only_fault(records: RecordSet) -> Query:
    assert len(records.faults) == 1, [str(fault) for fault in records.faults]
    return records.faults[0]


def test_a_cell_is_replaced_and_the_old_text_stays_beside_it(make: Make) -> None:
    rows = [correction("3", "7982", "7.982"), correction("4", "7,98", "7.98")]
    records = read(make(readings=READINGS, corrections=rows), DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982, 7.982, 7.98]
    assert records.readings["value_text"].tolist() == ["7.982", "7.982", "7.98"]
    assert records.readings["old_text"].tolist() == [
        "",
        f"value: 7982 -> 7.982 {WHY}",
        f"value: 7,98 -> 7.98 {WHY}",
    ]
    assert records.readings["confirmed"].tolist() == [False, False, False]
    assert len(records.corrections) == 2
    assert sum("corrected: value" in note for note in records.notes) == 2


@pytest.mark.parametrize("old", ["7982.0", " 7982 ", "7.982e3", "+7982"])
def test_old_is_compared_as_a_number(make: Make, old: str) -> None:
    records = read(make(readings=READINGS[:2], corrections=[correction("3", old, "7.982")]), DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982, 7.982]


def test_old_is_compared_as_a_date_and_as_a_label(record_workbook: Make) -> None:
    def real_cells(workbook: Any) -> None:
        workbook["readings"]["I2"] = dt.date(2024, 5, 17)
        workbook["readings"]["D2"] = 3.0
        workbook["corrections"]["D2"] = dt.datetime(2024, 5, 17)

    rows = [
        correction("2", "", "2024-05-18", column="date"),
        correction("2", "3.0", "4", column="position"),
        correction("2", "MAIN", "big_end", column="bearing"),
    ]
    records = read(record_workbook(change=real_cells, corrections=rows), DAY)
    assert records.faults == ()
    assert str(records.readings["date"].dt.date[0]) == "2024-05-18"
    assert records.readings.loc[0, ["position", "bearing"]].tolist() == ["4", "big_end"]


def test_an_old_text_that_does_not_stand_there_is_refused(make: Make) -> None:
    records = read(make(readings=READINGS[:1], corrections=[correction("2", "7.981", "7.985")]), DAY)
    fault = only_fault(records)
    assert (fault.table, fault.rows, fault.column) == ("corrections", (2,), "old")
    assert '"7.981"' in fault.text
    assert "row 2, value" in fault.text
    assert '"7.982"' in fault.text
    assert records.readings["value"].tolist() == [7.982]
    assert len(records.corrections) == 0


def test_corrections_follow_each_other_in_file_order(make: Make) -> None:
    rows = [
        correction("2", "7.982", "7.985"),
        correction("2", "7.985", "7.986"),
        correction("2", "7.982", "1"),
    ]
    records = read(make(corrections=rows), DAY)
    assert only_fault(records).rows == (4,)
    assert records.readings["value"].tolist() == [7.986]
    assert records.readings["old_text"].tolist() == [
        f"value: 7.982 -> 7.985 {WHY}; value: 7.985 -> 7.986 {WHY}"
    ]


def test_a_withdrawn_row_goes_and_is_listed(make: Make) -> None:
    rows = [correction("4", "7,98", action="withdraw")]
    records = read(make(readings=READINGS, corrections=rows), DAY)
    assert records.faults == ()
    assert records.readings["row"].tolist() == [2, 3]
    assert any("row 4, withdrawn" in note for note in records.notes)


def test_a_withdrawn_row_cannot_be_corrected_any_more(make: Make) -> None:
    rows = [correction("2", "7.982", action="withdraw"), correction("2", "7.982", "7.9")]
    fault = only_fault(read(make(readings=READINGS[:2], corrections=rows), DAY))
    assert (fault.rows, fault.column) == ((3,), "row")
    assert "row 2 has withdrawn it" in fault.expected


def test_a_confirmed_reading_is_marked(make: Make) -> None:
    records = read(make(readings=READINGS[:2], corrections=[correction("2", "7.982", action="confirm")]), DAY)
    assert records.faults == ()
    assert records.readings["confirmed"].tolist() == [True, False]
    assert records.readings["old_text"].tolist() == ["", ""]
    assert any("row 2, confirmed" in note for note in records.notes)


def test_a_reading_changed_after_it_was_confirmed_is_not_confirmed(make: Make) -> None:
    rows = [correction("2", "7.982", action="confirm"), correction("2", "7.982", "7.985")]
    assert read(make(corrections=rows), DAY).readings["confirmed"].tolist() == [False]


def test_a_correction_may_mend_a_row_that_was_not_understood(make: Make) -> None:
    rows = [
        correction("2", "N/A", "7.982"),
        correction("2", "05/06/2024", "2024-06-05", column="date"),
        correction("3", "#REF!", "7.9"),
    ]
    readings = [{"value": "N/A", "date": "05/06/2024"}, {"value": "#REF!"}]
    records = read(make(readings=readings, corrections=rows), DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982, 7.9]


def test_what_a_correction_puts_in_goes_through_the_same_rules(make: Make) -> None:
    fault = only_fault(read(make(corrections=[correction("2", "7.982", "0")]), DAY))
    assert (fault.table, fault.rows, fault.column) == ("readings", (2,), "value")
    assert "put there by corrections" in fault.text or "put there by records.xlsx" in fault.text


def test_events_can_be_corrected(make: Make) -> None:
    rows = [correction("2", "standard", "U25", table="events", column="shell_size")]
    records = read(make(events=[{}], corrections=rows), DAY)
    assert records.events["shell_size"].tolist() == ["U25"]
    assert records.events["old_text"].tolist() == [f"shell_size: standard -> U25 {WHY}"]


def test_a_column_the_file_lacks_can_be_filled(make: Make) -> None:
    records = read(make(corrections=[correction("2", "", "as_left", column="state")]), DAY)
    assert records.faults == ()
    assert records.readings["state"].tolist() == ["as_left"]
    assert records.readings["old_text"].tolist() == [f"state: empty -> as_left {WHY}"]


def test_an_empty_new_text_empties_the_cell(make: Make) -> None:
    records = read(make(readings=[{"u_um": "5"}], corrections=[correction("2", "5", column="u_um")]), DAY)
    assert records.faults == ()
    assert records.readings["u_um"].isna().all()


FAULTY = [
    (correction("9", "7.982", "7.9"), "row", "its rows are 2 to 2"),
    (correction("1", "value", "7.9"), "row", "a number from 2 to 2,147,483,647"),
    (correction("2.5", "7.982", "7.9"), "row", "a whole number"),
    (correction("2", "7.982", "7.9", column="wall"), "column", "a column of"),
    (correction("2", "", "", "withdraw", column=""), "column", "the name of a column"),
    (correction("2", "", "7.9"), "old", '"7.982"'),
    (correction("2", "7.982", "7,985"), "new", "a number with a decimal point"),
    (correction("2", "2024-05-17", "05/06/2024", column="date"), "new", "one way only"),
    (correction("2", "7.982", "7.9", "confirm"), "new", "confirm takes no new value"),
    (correction("2", "7.982", "7.9", "withdraw"), "new", "withdraw takes no new value"),
    (correction("2", "7.982", "7.9", "delete"), "action", "replace, withdraw or confirm"),
    (correction("2", "7.982", "7.9", table="engines"), "table", "readings or events"),
    (correction("2", "x", "y", table="events"), "table", "a table of this record set"),
    (correction("2", "7.982", "7.9", reason=""), "reason", "a text"),
    (correction("2", "7.982", "7.9", by=""), "by", "a text"),
    (correction("2", "7.982", "7.9", date="2026-02-01"), "date", "not after 2026-01-01"),
]


@pytest.mark.parametrize(("row", "column", "expected"), FAULTY)
def test_a_faulty_correction_is_refused_and_not_applied(
    make: Make, row: dict[str, str], column: str, expected: str
) -> None:
    records = read(make(corrections=[row]), DAY)
    fault = only_fault(records)
    assert (fault.table, fault.rows, fault.column) == ("corrections", (2,), column)
    assert expected in fault.expected
    assert records.readings["value"].tolist() == [7.982]
    assert len(records.corrections) == 0


def test_the_notation_of_the_corrections_holds_for_what_they_put_in(record_folder: Make) -> None:
    """A point in a comma-separated corrections file is a decimal point, whatever the readings write."""
    folder = record_folder(separator=";", readings=[{"value": "7,98"}, {"value": "7,979"}])
    (folder / "corrections.csv").write_text(
        "table,row,column,old,new,action,reason,by,date\n"
        "readings,2,value,7.98,7.985,replace,measured again,A. Bell,2025-01-01\n"
    )
    records = read(folder, DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.985, 7.979]
