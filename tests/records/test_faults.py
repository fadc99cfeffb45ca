"""Every fault a record set may have: refused with its place, the text found, what was expected, what to do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wearcast.queries import KINDS, Query
from wearcast.records.cells import visible
from wearcast.records.read import read
from wearcast.records.records import RecordSet
from wearcast.records.tables import TABLES

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]


@pytest.fixture(params=["folder", "workbook"])
def make(request: pytest.FixtureRequest) -> Make:
    found: Make = request.getfixturevalue(f"record_{request.param}")
    return found


CASES: dict[str, list[dict[str, Any]]] = {}
"""Faulty rows by table: each test asks for the faults of its own row, so that one reading serves many tests."""


def case(table: str, row: dict[str, Any]) -> int:
    """Put a row into the shared record set; its row number (row 2 is a sound one)."""
    rows = CASES.setdefault(table, [])
    rows.append(row)
    return len(rows) + 2


@pytest.fixture(scope="module", params=["folder", "workbook"])
def shared(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> RecordSet:
    write = request.getfixturevalue(f"write_{request.param}")
    path = tmp_path_factory.mktemp("cases") / ("cases.xlsx" if request.param == "workbook" else "cases")
    sound: dict[str, dict[str, Any]] = {"readings": {"point": "crown"}}
    return read(write(path, **{name: [sound.get(name, {}), *rows] for name, rows in CASES.items()}), DAY)


def fault_of(records: RecordSet, table: str, row: int) -> Query:
    """The one fault of a row, which is not among the understood ones."""
    found = [fault for fault in records.faults if fault.table == table and row in fault.rows]
    assert len(found) == 1, [str(fault) for fault in found]
    rows = records.tables[table]["row"]
    assert row not in rows.tolist()
    assert 2 in rows.tolist()
    return found[0]


def only_fault(records: RecordSet) -> Query:
    assert len(records.faults) == 1, [str(fault) for fault in records.faults]
    return records.faults[0]


def place(fault: Query) -> tuple[str, tuple[int, ...], str]:
    assert fault.file
    return fault.table, fault.rows, fault.column


NO_NUMBERS = [
    ("7,982", "may mean 7.982 or 7982"),
    ("7,98", "Write 7.98 if the comma is a decimal comma"),
    ("7.982 mm", "Write 7.982 here; a unit belongs in its own column"),
    ("7982um", "Write 7982 here"),
    ('0.31"', "a unit belongs in its own column"),
    ("N/A", "never read as zero"),
    ("-", "never read as zero"),
    ("OK", "never read as zero"),
    ("#REF!", "Mend the formula"),
    ("#N/A", "Mend the formula"),
    ("inf", "a finite number"),
    ("-Infinity", "a finite number"),
    ("nan", "a finite number"),
    ("1e999", "a finite number"),
    ("41 200", "without thousands separators"),
    ("41\u00a0200", "without thousands separators"),
    ("41'200", "without thousands separators"),
    ("1,041,200", "without thousands separators"),
    ("1.041.200", "without thousands separators"),
    ("1_000", "never read as zero"),
    ("0x10", "a number"),
    ("7.", "a number"),
    ("٧", "a number"),
    ("7..9", "a number"),
    ("", "Fill it in"),
    ("   ", "Fill it in"),
]


@pytest.mark.parametrize(
    ("text", "words", "row"),
    [pytest.param(*found, case("readings", {"value": found[0]}), id=found[0]) for found in NO_NUMBERS],
)
def test_what_is_no_number_is_refused(shared: RecordSet, text: str, words: str, row: int) -> None:
    fault = fault_of(shared, "readings", row)
    assert (fault.kind, fault.column) == ("not_understood", "value")
    assert visible(text.strip()) in fault.found
    assert words in f"{fault.expected} {fault.suggestion}"
    assert fault.vessel == "Alder"


@pytest.mark.parametrize("text", ["7.982", "+7.982", "7.982e0", " 7.982 ", "007.982", "7.9820"])
def test_a_number_with_a_point_is_understood(make: Make, text: str) -> None:
    records = read(make(readings=[{"value": text}]), DAY)
    assert records.faults == ()
    assert records.readings["value"].tolist() == [7.982]
    assert records.readings["value_text"].tolist() == [text.strip()]


@pytest.mark.parametrize("text", ["-0.03", "\u22120.03", "-.03"])
def test_a_deflection_may_be_negative(make: Make, text: str) -> None:
    row = {"quantity": "web_deflection", "half": "", "bearing": "big_end", "point": "port", "value": text}
    assert read(make(readings=[row]), DAY).readings["value"].tolist() == [-0.03]


NO_DATES = [
    ("05/06/2024", "may mean 2024-06-05 or 2024-05-06"),
    ("05.06.2024", "may mean 2024-06-05 or 2024-05-06"),
    ("17.05.2024", "Write 2024-05-17"),
    ("05/17/2024", "Write 2024-05-17"),
    ("5/5/2024", "Write 2024-05-05"),
    ("2024/05/17", "Write 2024-05-17"),
    ("2024-5-7", "Write 2024-05-07"),
    ("20240517", "Write 2024-05-17"),
    ("17.05.24", "several ways"),
    ("24-05-17", "several ways"),
    ("17 May 2024", "year, month and day"),
    ("2024-W20-5", "year, month and day"),
    ("45429", "day number for 2024-05-17"),
    ("2024-02-30", "no such day"),
    ("2023-02-29", "no such day"),
    ("2024-13-01", "no such day"),
    ("31.02.2024", "no such day"),
    ("2024-05-17 14:30", "without a time of day"),
    ("2024-05-17T14:30:00Z", "without a time of day"),
    ("2026-01-02", "not after 2026-01-01, the date of this run"),
    ("2204-05-17", "between the years 1950 and 2100"),
    ("0024-05-17", "between the years 1950 and 2100"),
    ("#VALUE!", "Mend the formula"),
    ("N/A", "year, month and day"),
    ("", "Fill it in"),
]


@pytest.mark.parametrize(
    ("text", "words", "row"),
    [pytest.param(*found, case("readings", {"date": found[0]}), id=found[0]) for found in NO_DATES],
)
def test_what_is_no_date_or_could_be_two_is_refused(
    shared: RecordSet, text: str, words: str, row: int
) -> None:
    fault = fault_of(shared, "readings", row)
    assert (fault.kind, fault.column) == ("not_understood", "date")
    assert visible(text.strip()) in fault.found
    assert words in f"{fault.expected} {fault.suggestion}"


@pytest.mark.parametrize("text", ["2024-05-17", "2024-05-17T00:00:00", "2024-05-17 00:00", "2026-01-01"])
def test_an_iso_date_is_understood_up_to_the_day_of_the_run(make: Make, text: str) -> None:
    records = read(make(readings=[{"date": text}]), DAY)
    assert records.faults == ()
    assert records.readings["date"].dt.date.astype(str).tolist() == [text[:10]]


def test_events_may_not_lie_in_the_future_but_windows_may(make: Make) -> None:
    records = read(make(events=[{"date": "2027-05-01"}], windows=[{"date": "2027-05-01"}]), DAY)
    assert place(only_fault(records)) == ("events", (2,), "date")
    assert len(records.windows) == 1


QUANTITY_FAULTS: list[tuple[dict[str, Any], str, str]] = [
    ({"value": "0"}, "value", "a wall thickness above zero"),
    ({"value": "-7.982"}, "value", "a wall thickness above zero"),
    ({"value": "-0.0"}, "value", "a wall thickness above zero"),
    ({"quantity": "clearance", "half": "", "value": "0"}, "value", "a clearance above zero"),
    ({"quantity": "clearance", "half": "", "value": "-0.1"}, "value", "a clearance above zero"),
    ({"quantity": "journal_diameter", "half": "", "value": "0.0"}, "value", "a journal diameter above zero"),
    ({"quantity": "wear", "half": "", "value": "-0.1"}, "value", "wear not below zero"),
    ({"half": ""}, "half", "upper or lower for a wall thickness"),
    ({"half": "both"}, "half", "upper or lower"),
    ({"quantity": "clearance"}, "half", "nothing: a clearance has no half"),
    ({"quantity": "clearance", "half": "", "point": "crown"}, "point", "nothing: a clearance has no points"),
    ({"point": "top"}, "point", "crown, crown_fore"),
    ({"quantity": "journal_diameter", "half": "", "point": "crown"}, "point", "v1, v2, v3, h1, h2 or h3"),
    ({"quantity": "web_deflection", "half": "", "bearing": "big_end"}, "point", "bottom_p, port, top"),
    ({"quantity": "web_deflection", "half": "", "point": "top"}, "bearing", "big_end for a web deflection"),
    ({"quantity": "thickness"}, "quantity", "wall, clearance"),
    ({"bearing": "mains"}, "bearing", "main, big_end"),
    ({"unit": "MM"}, "unit", "mm, um or in"),
    ({"unit": "µm"}, "unit", "mm, um or in"),
    ({"unit": ""}, "unit", "mm, um or in"),
    ({"state": "found"}, "state", "as_found or as_left"),
    ({"position": ""}, "position", "a number or label"),
    ({"vessel": " "}, "vessel", "a text"),
    ({"counter_h": "-1"}, "counter_h", "a number from 0 to 1,000,000"),
    ({"u_um": "0"}, "u_um", "a number from 0.01 to 10,000"),
    ({"u_um": "6 um"}, "u_um", "a number alone"),
    ({"temperature_c": "warm"}, "temperature_c", "a number with a decimal point"),
    ({"instrument": "#REF!"}, "instrument", "a value"),
]


@pytest.mark.parametrize(
    ("column", "expected", "row"),
    [pytest.param(*found[1:], case("readings", found[0]), id=str(found[0])) for found in QUANTITY_FAULTS],
)
def test_a_cell_that_its_row_does_not_allow_is_refused(
    shared: RecordSet, column: str, expected: str, row: int
) -> None:
    fault = fault_of(shared, "readings", row)
    assert (fault.kind, fault.column) == ("not_understood", column)
    assert expected in fault.expected


def test_a_column_that_only_some_rows_need_is_missed_once(make: Make) -> None:
    row = {"quantity": "web_deflection", "half": "", "bearing": "big_end"}
    fault = only_fault(read(make(readings=[{}, row, row]), DAY))
    assert (fault.kind, fault.column) == ("missing_column", "point")


def test_all_faults_of_all_tables_come_together(make: Make) -> None:
    records = read(
        make(
            readings=[{"value": "x", "date": "y"}, {"unit": "z"}],
            engines=[{}, {"engine": "2", "numbered_from": "middle"}],
            limits=[{"limit_source": ""}],
            spares=[{"on_hand": "1.5"}],
        ),
        DAY,
    )
    assert [place(fault) for fault in records.faults] == [
        ("readings", (2,), "value"),
        ("readings", (2,), "date"),
        ("readings", (3,), "unit"),
        ("engines", (3,), "numbered_from"),
        ("limits", (2,), "limit_source"),
        ("spares", (2,), "on_hand"),
    ]


def test_the_same_text_in_a_column_is_one_fault_with_all_its_rows(make: Make) -> None:
    fault = only_fault(read(make(readings=[{"value": "N/A"}, {}, {"value": "N/A"}]), DAY))
    assert fault.rows == (2, 4)


@pytest.mark.parametrize("table", ["readings", "engines", "limits"])
def test_a_missing_table_is_named(make: Make, table: str) -> None:
    fault = only_fault(read(make(**{table: None}), DAY))
    assert (fault.kind, fault.table) == ("missing_table", table)
    assert "found:" in fault.text
    assert not fault.can_be_left_out


@pytest.mark.parametrize("table", ["readings", "engines", "limits"])
def test_a_required_table_without_rows_is_refused(make: Make, table: str) -> None:
    faults = read(make(**{table: []}), DAY).faults
    assert any(
        fault.table == table and fault.kind == "not_understood" and "no rows" in fault.text
        for fault in faults
    )


def test_an_optional_table_may_be_without_rows(make: Make) -> None:
    assert read(make(events=[], windows=[], spares=[], corrections=[]), DAY).faults == ()


def test_a_reading_of_an_unknown_engine_is_refused_with_the_engines_there_are(make: Make) -> None:
    fault = only_fault(read(make(readings=[{}, {"engine": "2"}, {"engine": "2", "position": "4"}]), DAY))
    assert fault.kind == "unknown_engine"
    assert fault.rows == (3, 4)
    assert "Engines of Alder are: 1" in fault.suggestion


def test_a_misspelt_vessel_is_refused_with_the_nearest(make: Make) -> None:
    fault = only_fault(read(make(readings=[{"vessel": "Aldr"}]), DAY))
    assert fault.kind == "unknown_engine"
    assert "Did you mean Alder?" in fault.suggestion


def test_events_and_windows_of_an_unknown_engine_are_refused(make: Make) -> None:
    records = read(
        make(events=[{"engine": "9"}], windows=[{"engine": ""}, {"vessel": "Elm", "engine": ""}]), DAY
    )
    assert [(fault.kind, fault.table, fault.rows) for fault in records.faults] == [
        ("unknown_engine", "events", (2,)),
        ("unknown_engine", "windows", (3,)),
    ]
    assert records.windows["engine"].tolist() == [""]


def test_an_engine_named_twice_takes_its_readings_with_it(make: Make) -> None:
    records = read(make(engines=[{}, {"numbered_from": "flywheel"}, {"engine": "2"}]), DAY)
    assert [(fault.kind, fault.table, fault.rows) for fault in records.faults] == [
        ("unknown_engine", "readings", (2,)),
        ("not_understood", "engines", (2, 3)),
    ]
    assert records.engines["engine"].tolist() == ["2"]


def test_deflections_need_the_sign_convention_of_their_engine(make: Make) -> None:
    row = {"quantity": "web_deflection", "half": "", "bearing": "big_end", "point": "top", "value": "0.02"}
    records = read(make(readings=[{}, row], engines=[{"deflection_sign": ""}]), DAY)
    fault = only_fault(records)
    assert fault.rows == (3,)
    assert "deflection_sign" in fault.text
    assert "row 2" in fault.text
    assert records.readings["row"].tolist() == [2]


def test_a_position_spelled_two_ways_is_refused_where_it_is_rarer(make: Make) -> None:
    rows = [{}, {}, {"position": "03"}, {"bearing": "big_end", "position": "03"}]
    records = read(make(readings=rows, events=[{"position": "0 3"}]), DAY)
    assert [(fault.table, fault.rows, fault.column) for fault in records.faults] == [
        ("readings", (4,), "position"),
        ("events", (2,), "position"),
    ]
    assert 'which is also written "3"' in records.faults[0].expected
    assert records.readings["row"].tolist() == [2, 3, 5]


def test_a_number_beyond_the_engines_bearings_is_a_note(make: Make) -> None:
    rows = [{"position": "7"}, {"position": "8"}, {"position": "0"}, {"bearing": "big_end", "position": "7"}]
    records = read(make(readings=rows), DAY)
    assert records.faults == ()
    assert [note.split(": ")[1].split(";")[0] for note in records.notes] == [
        "main 8 of Alder engine 1",
        "main 0 of Alder engine 1",
        "big_end 7 of Alder engine 1",
    ]


def test_a_type_that_no_engine_has_is_a_note(make: Make) -> None:
    records = read(make(limits=[{}, {"engine_type": "Hexb"}], spares=[{"engine_type": "Octo"}]), DAY)
    assert records.faults == ()
    assert any("Hexb" in note and "Did you mean Hexa?" in note for note in records.notes)
    assert any("Octo" in note for note in records.notes)


LIMIT_FAULTS: list[tuple[dict[str, Any], str, str, str]] = [
    ({"limit_source": ""}, "limit_source", "not_understood", "a text"),
    ({"limit": "0.05"}, "limit", "limit_as_wear", "not the wear allowed"),
    ({"limit": "8.05"}, "limit", "limit_side", "a min limit below new_min"),
    ({"limit": "7.990"}, "limit", "limit_side", "a min limit below new_min"),
    ({"limit_side": "max", "limit": "8.05"}, "limit_side", "limit_side", "min: a wall thickness passes"),
    ({"limit": "0"}, "limit", "not_understood", "a wall thickness above zero"),
    ({"new_min": "-7.985"}, "new_min", "not_understood", "a wall thickness above zero"),
    ({"new_min": "8.01"}, "new_min", "not_understood", "a number not above new_max"),
    ({"half": ""}, "half", "not_understood", "upper or lower"),
    ({"point": "top"}, "point", "not_understood", "crown, crown_fore"),
    ({"limit_side": "low"}, "limit_side", "not_understood", "min or max"),
    ({"shell_size": ""}, "shell_size", "not_understood", "a text"),
    ({"renew_at_h": "0"}, "renew_at_h", "not_understood", "a number from 1 to 1,000,000"),
]
CLEARANCE = {
    "quantity": "clearance",
    "half": "",
    "new_min": "0.22",
    "new_max": "0.25",
    "limit": "0.33",
    "limit_side": "max",
}
AXIAL = CLEARANCE | {"quantity": "axial_clearance", "bearing": "thrust"}
LIMIT_FAULTS += [
    (CLEARANCE | {"limit": "0.08"}, "limit", "limit_as_wear", "not the growth allowed"),
    (CLEARANCE | {"limit": "0.24"}, "limit", "limit_side", "a max limit above new_max"),
    (CLEARANCE | {"half": "upper"}, "half", "not_understood", "a clearance has no half"),
    (
        AXIAL | {"limit": "0.20", "limit_side": "min"},
        "limit_side",
        "limit_side",
        "max: an axial clearance passes",
    ),
]


@pytest.mark.parametrize(
    ("column", "kind", "expected", "row"),
    [
        pytest.param(*found[1:], case("limits", {"shell_size": f"S{index}"} | found[0]), id=str(found[0]))
        for index, found in enumerate(LIMIT_FAULTS)
    ],
)
def test_a_faulty_limit_is_refused(
    shared: RecordSet, column: str, kind: str, expected: str, row: int
) -> None:
    fault = fault_of(shared, "limits", row)
    assert (fault.kind, fault.column) == (kind, column)
    assert expected in fault.expected


def test_a_second_side_makes_a_two_sided_limit(make: Make) -> None:
    records = read(make(limits=[{}, AXIAL, AXIAL | {"limit": "0.20", "limit_side": "min"}]), DAY)
    assert records.faults == ()
    assert len(records.limits) == 3


def test_two_limits_of_one_key_and_side_are_both_refused(make: Make) -> None:
    records = read(make(limits=[{}, {"half": "upper"}, {"limit": "7.94"}]), DAY)
    assert only_fault(records).rows == (2, 4)
    assert records.limits["row"].tolist() == [3]


def test_growth_from_nothing_is_a_sound_limit(make: Make) -> None:
    row = {
        "bearing": "other",
        "quantity": "wear",
        "half": "",
        "new_min": "0",
        "new_max": "0",
        "limit": "4",
        "limit_side": "max",
    }
    assert read(make(limits=[row]), DAY).faults == ()


CHANGE = {
    "event": "counter_change",
    "bearing": "",
    "position": "",
    "half": "",
    "shell_size": "",
    "new_counter_h": "0",
}
EVENT_FAULTS: list[tuple[dict[str, Any], str, str]] = [
    ({"event": "renewed"}, "event", "fitted, renewal"),
    ({"event": ""}, "event", "fitted, renewal"),
    ({"shell_size": ""}, "shell_size", "the shell size"),
    ({"event": "fitted", "shell_size": ""}, "shell_size", "the shell size"),
    ({"event": "regrind", "half": "", "shell_size": ""}, "shell_size", "the shell size"),
    ({"half": ""}, "half", "upper or lower"),
    ({"bearing": ""}, "bearing", "main, big_end"),
    ({"event": "refit", "position": ""}, "position", "the position"),
    ({"date": ""}, "date", "the date of the event"),
    ({"event": "finding"}, "finding", "what was found"),
    ({"new_value": "7.99"}, "unit", "the unit of new_value"),
    ({"new_value": "0", "unit": "mm"}, "new_value", "a number from 1e-06 to 10,000,000"),
    ({"new_counter_h": "0"}, "new_counter_h", "only a counter_change"),
    (CHANGE | {"new_counter_h": ""}, "new_counter_h", "the first reading of the new dial"),
    (CHANGE | {"counter_h": ""}, "counter_h", "the dial at the event"),
    (CHANGE | {"date": ""}, "date", "the date of the event"),
    (CHANGE | {"bearing": "main"}, "bearing", "a counter_change is of the whole engine"),
    (CHANGE | {"half": "upper"}, "half", "a counter_change is of the whole engine"),
]


@pytest.mark.parametrize(
    ("column", "expected", "row"),
    [pytest.param(*found[1:], case("events", found[0]), id=str(found[0])) for found in EVENT_FAULTS],
)
def test_an_event_says_what_its_kind_needs(shared: RecordSet, column: str, expected: str, row: int) -> None:
    fault = fault_of(shared, "events", row)
    assert (fault.kind, fault.column) == ("not_understood", column)
    assert expected in fault.expected


SOUND_EVENTS: list[dict[str, Any]] = [
    {},
    CHANGE,
    {"event": "fitted", "date": "", "counter_h": ""},
    {"event": "refit", "half": "", "shell_size": ""},
    {"event": "regrind", "half": ""},
    {"event": "finding", "finding": "bond failure", "shell_size": ""},
    {"event": "opened", "half": "", "shell_size": ""},
    {"bearing": "thrust", "half": ""},
    {"new_value": "7.99", "unit": "mm"},
]


@pytest.mark.parametrize("row", SOUND_EVENTS)
def test_sound_events_are_understood(make: Make, row: dict[str, Any]) -> None:
    records = read(make(events=[row]), DAY)
    assert records.faults == ()
    assert len(records.events) == 1


def test_a_new_wall_keeps_its_digits(make: Make) -> None:
    records = read(make(events=[{"new_value": "7.990", "unit": "mm"}, {"position": "4"}]), DAY)
    assert records.events["new_value_text"].tolist() == ["7.990", ""]
    assert records.events["new_value_mm"].tolist()[0] == 7.99


def test_a_renewal_says_which_half_where_readings_tell_the_halves_apart(make: Make) -> None:
    records = read(
        make(
            readings=[{"bearing": "thrust", "position": "7"}],
            events=[{"bearing": "thrust", "position": "7", "half": ""}, {"bearing": "thrust", "half": ""}],
        ),
        DAY,
    )
    assert place(only_fault(records)) == ("events", (2,), "half")


def test_every_fault_reads_as_place_found_expected_and_what_to_do(make: Make) -> None:
    records = read(make(readings=[{}, {"value": "7.982 mm"}]), DAY)
    sheet = ", sheet readings" if records.source.endswith(".xlsx") else ""
    file = Path(records.source).name if sheet else "readings.csv"
    assert str(records.faults[0]) == (
        f'{file}{sheet}, row 3, value: found "7.982 mm"; expected a number alone. '
        "Write 7.982 here; a unit belongs in its own column."
    )


def test_a_long_text_is_clipped_and_control_signs_are_shown(make: Make) -> None:
    fault = only_fault(read(make(readings=[{"value": "x\ty" + "z" * 500}]), DAY))
    assert "x\\ty" in fault.found
    assert len(fault.found) < 80


def test_kinds_of_faults_are_kinds_of_the_list(make: Make) -> None:
    records = read(make(readings=[{"value": "x", "engine": "5"}], limits=[{"limit": "0.05"}]), DAY)
    assert {fault.kind for fault in records.faults} <= set(KINDS)
    assert all(fault.stops_run for fault in records.faults)


@pytest.mark.parametrize("table", [name for name in TABLES if name != "corrections"])
@pytest.mark.parametrize("text", ["1e308", "-1e308", "1e-320", "1000000001"])
def test_every_number_beyond_what_its_quantity_can_have_is_refused(
    record_folder: Callable[..., Path], table: str, text: str
) -> None:
    for column in TABLES[table].columns:
        if column.cell == "number":
            found = read(record_folder(**{table: [{column.name: text}]}), DAY).faults
            if column.name != "unit_cost" or text[-1] != "1":
                assert any(fault.column == column.name for fault in found), column.name


def test_a_window_of_long_ago_is_refused(record_folder: Callable[..., Path]) -> None:
    found = read(record_folder(windows=[{"date": "1999-12-31"}]), DAY).faults
    assert [fault.expected for fault in found] == ["a date between the years 2000 and 2100"]
