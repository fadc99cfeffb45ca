"""Whatever stands in the files, reading gives a record set or a refusal in words, never an exception."""

from __future__ import annotations

import csv
import datetime as dt
import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from wearcast.quantities import QUANTITIES
from wearcast.records import csv_files
from wearcast.records.read import read
from wearcast.records.records import RecordSet
from wearcast.records.tables import TABLES

DAY = dt.date(2026, 1, 1)
Make = Callable[..., Path]
MORE = int(os.environ.get("WEARCAST_EXAMPLES", "0"))
"""Set it for a long search with fresh examples; without it the same few are tried each time."""

QUICK = settings(
    max_examples=MORE or 25,
    deadline=None,
    derandomize=not MORE,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def sound(records: RecordSet) -> None:
    """What holds of every result: known kinds, sentences, and no row both refused and understood."""
    for fault in records.faults:
        assert fault.stops_run
        assert fault.text.endswith(".")
        assert str(fault).isprintable()
    assert set(records.tables) == set(TABLES)
    for table in ("readings", "engines", "limits", "events"):
        refused = {row for fault in records.faults if fault.table == table for row in fault.rows}
        assert not refused & set(records.tables[table]["row"].tolist())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, write_folder: Make) -> Path:
    return write_folder(tmp_path_factory.mktemp("any") / "records")


HEADER = "vessel,engine,bearing,position,half,quantity,value,unit,date,counter_h"


@QUICK
@given(data=st.binary(max_size=300), table=st.sampled_from(sorted(TABLES)), headed=st.booleans())
@example(data=b"\r", table="readings", headed=False)
@example(data=b'"', table="readings", headed=True)
def test_any_bytes_as_a_csv_file(folder: Path, data: bytes, table: str, headed: bool) -> None:
    path = folder / f"{table}.csv"
    before = path.read_bytes() if path.exists() else None
    names = ",".join(column.name for column in TABLES[table].columns)
    path.write_bytes((names.encode() + b"\n" if headed else b"") + data)
    try:
        sound(read(folder, DAY))
    finally:
        path.unlink() if before is None else path.write_bytes(before)


@QUICK
@given(data=st.binary(max_size=400), head=st.sampled_from([b"", b"PK\x03\x04", b"PK\x05\x06" + bytes(18)]))
def test_any_bytes_as_a_workbook(tmp_path: Path, data: bytes, head: bytes) -> None:
    path = tmp_path / "any.xlsx"
    path.write_bytes(head + data)
    records = read(path, DAY)
    assert records.faults
    sound(records)


@pytest.fixture(scope="module")
def workbook(tmp_path_factory: pytest.TempPathFactory, write_workbook: Make) -> bytes:
    return write_workbook(tmp_path_factory.mktemp("sound") / "sound.xlsx").read_bytes()


@QUICK
@given(data=st.data())
def test_a_workbook_with_damaged_bytes(tmp_path: Path, workbook: bytes, data: st.DataObject) -> None:
    path = tmp_path / "damaged.xlsx"
    content = bytearray(workbook)
    for _ in range(data.draw(st.integers(1, 4))):
        part = data.draw(st.floats(0, 1))  # of a file whose length varies with the clock
        content[int(part * (len(content) - 1))] = data.draw(st.integers(0, 255))
    path.write_bytes(content)
    sound(read(path, DAY))


@QUICK
@given(data=st.data())
def test_a_workbook_with_damaged_xml(tmp_path: Path, workbook: bytes, data: st.DataObject) -> None:
    path = tmp_path / "damaged.xlsx"
    with zipfile.ZipFile(io.BytesIO(workbook)) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    name = data.draw(st.sampled_from(sorted(parts)))
    content = parts[name]
    start = int(data.draw(st.floats(0, 1)) * len(content))
    parts[name] = (
        content[:start] + data.draw(st.binary(max_size=8)) + content[start + data.draw(st.integers(0, 20)) :]
    )
    with zipfile.ZipFile(path, "w") as archive:
        for part, saved in parts.items():
            archive.writestr(part, saved)
    sound(read(path, DAY))


WORDS = [
    "", "Alder", "1", "3.0", "main", "lower", "wall", "web_deflection", "mm", "um", "7.982", "7,982", "0", "-1",
    "2024-05-17", "05/06/2024", "45429", "fitted", "renewal", "counter_change", "standard", "min", "max", "#REF!",
    "readings", "replace", "withdraw", "value", "2", "\x00", "\r\n", '"', "7.982 mm", "1e999", "nan", "N/A",
]  # fmt: skip
CELL = st.one_of(st.sampled_from(WORDS), st.text(max_size=12))
ANY_TABLE = st.sampled_from(sorted(TABLES)).flatmap(
    lambda table: st.tuples(
        st.just(table),
        st.lists(
            st.dictionaries(
                st.sampled_from([*(c.name for c in TABLES[table].columns), "row ", "Gang"]), CELL
            ),
            max_size=4,
        ),
    )
)


@QUICK
@given(
    tables=st.lists(ANY_TABLE, max_size=3), separator=st.sampled_from([",", ";", "\t"]), plain=st.booleans()
)
def test_any_cells_in_a_folder(
    tmp_path_factory: pytest.TempPathFactory,
    write_folder: Make,
    tables: list[tuple[str, list[dict[str, str]]]],
    separator: str,
    plain: bool,
) -> None:
    cells = {
        name: [{key: cell.encode("utf-8", "replace").decode() for key, cell in row.items()} for row in rows]
        for name, rows in tables
    }
    path = write_folder(tmp_path_factory.mktemp("cells") / "records", separator=separator, **cells)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_files, "LARGE", 0 if plain else 10**9)
        sound(read(path, DAY))


SHEET_CELL = st.one_of(
    CELL.filter(lambda text: not openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.search(text)),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(allow_nan=False, allow_infinity=False),
    st.datetimes(dt.datetime(1900, 3, 1), dt.datetime(2200, 1, 1)),
    st.times(),
    st.sampled_from(["=1+1", "=A1"]),
)


@QUICK
@given(
    cells=st.dictionaries(st.tuples(st.integers(1, 5), st.integers(1, 12)), SHEET_CELL, max_size=12),
    table=st.sampled_from(["readings", "engines", "limits"]),
    number_format=st.sampled_from(
        ["General", "0.000", "0%", "yyyy-mm-dd", "[h]:mm", "0,", '"', "[", "0.0E+0"]
    ),
    merged=st.sampled_from(["", "A1:B1", "A2:C3", "D2:D4", "L1:M9"]),
)
def test_any_cells_in_a_sheet(
    tmp_path: Path,
    write_workbook: Make,
    cells: dict[tuple[int, int], Any],
    table: str,
    number_format: str,
    merged: str,
) -> None:
    def change(workbook: Any) -> None:
        for (row, column), value in cells.items():
            cell = workbook[table].cell(row, column)
            cell.value = value
            cell.number_format = number_format
        if merged:
            workbook[table].merge_cells(merged)

    sound(read(write_workbook(tmp_path / "cells.xlsx", change=change, readings=[{}, {}]), DAY))


@st.composite
def valid_reading(draw: st.DrawFn) -> dict[str, str]:
    quantity = QUANTITIES[draw(st.sampled_from(sorted(QUANTITIES)))]
    deflection = quantity.name == "web_deflection"
    value = draw(st.integers(-500 if quantity.negative_allowed else 1, 99_999))
    points = quantity.points if deflection else ("", *quantity.points)
    halves = {"required": ("upper", "lower"), "optional": ("", "upper", "lower"), "none": ("",)}[
        quantity.half
    ]
    return {
        "bearing": "big_end" if deflection else draw(st.sampled_from(["main", "other", "thrust"])),
        "position": draw(st.sampled_from(["1", "2", "A3", "12"])),
        "half": draw(st.sampled_from(halves)),
        "point": draw(st.sampled_from(points)) if points else "",
        "quantity": quantity.name,
        "value": f"{value / 1000:.3f}",
        "unit": draw(st.sampled_from(["mm", "um", "in"])),
        "date": draw(st.dates(dt.date(1950, 1, 1), DAY)).isoformat(),
        "counter_h": str(draw(st.integers(0, 300_000))),
        "state": draw(st.sampled_from(["", "as_found", "as_left"])),
        "u_um": draw(st.sampled_from(["", "5", "12.5"])),
        "remark": draw(st.sampled_from(["", "oil, cold", 'so-called "new"', "two\nlines", "Öl; ±2 µm"])),
    }


READINGS = st.lists(valid_reading(), min_size=1, max_size=6)


@QUICK
@given(rows=READINGS, separator=st.sampled_from([",", ";", "\t"]))
def test_what_was_written_is_what_is_read(
    tmp_path_factory: pytest.TempPathFactory, write_folder: Make, rows: list[dict[str, str]], separator: str
) -> None:
    path = write_folder(tmp_path_factory.mktemp("round") / "records", separator=separator, readings=rows)
    records = read(path, DAY)
    assert records.faults == ()
    frame = records.readings
    assert frame["value"].tolist() == [float(row["value"]) for row in rows]
    assert frame["value_text"].tolist() == [row["value"] for row in rows]
    assert frame["date"].dt.strftime("%Y-%m-%d").tolist() == [row["date"] for row in rows]
    assert frame["row"].tolist() == list(range(2, len(rows) + 2))
    for name in ("bearing", "position", "half", "quantity", "unit", "state", "remark"):
        assert frame[name].tolist() == [row[name] for row in rows]


@QUICK
@given(rows=READINGS)
def test_what_is_read_can_be_written_and_read_again(
    tmp_path_factory: pytest.TempPathFactory, write_folder: Make, rows: list[dict[str, str]]
) -> None:
    path = write_folder(tmp_path_factory.mktemp("again") / "records", readings=rows)
    first = read(path, DAY)
    names = [column.name for column in TABLES["readings"].columns]
    first.readings[names].to_csv(path / "readings.csv", index=False)
    second = read(path, DAY)
    assert second.faults == ()
    pd.testing.assert_frame_equal(first.readings[names], second.readings[names])


@QUICK
@given(rows=READINGS, data=st.data())
def test_the_order_of_rows_and_columns_makes_no_difference(
    tmp_path_factory: pytest.TempPathFactory,
    write_folder: Make,
    rows: list[dict[str, str]],
    data: st.DataObject,
) -> None:
    path = write_folder(tmp_path_factory.mktemp("order") / "records", readings=rows)
    first = read(path, DAY).readings
    records = list(csv.reader(io.StringIO((path / "readings.csv").read_text(encoding="utf-8"), newline="")))
    order = data.draw(st.permutations(range(1, len(records))))
    columns = data.draw(st.permutations(range(len(records[0]))))
    with (path / "readings.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[records[i][j] for j in columns] for i in [0, *order]])
    second = read(path, DAY)
    assert second.faults == ()
    expected = first.iloc[[i - 1 for i in order]].reset_index(drop=True).drop(columns="row")
    pd.testing.assert_frame_equal(second.readings.drop(columns="row"), expected)


@QUICK
@given(rows=READINGS)
def test_a_workbook_reads_as_the_folder_does(
    tmp_path_factory: pytest.TempPathFactory,
    write_folder: Make,
    write_workbook: Make,
    rows: list[dict[str, str]],
) -> None:
    place = tmp_path_factory.mktemp("both")
    folder = read(write_folder(place / "records", readings=rows), DAY)
    workbook = read(write_workbook(place / "records.xlsx", readings=rows), DAY)
    assert folder.faults == workbook.faults == ()
    without = ["file", "sheet"]
    pd.testing.assert_frame_equal(
        folder.readings.drop(columns=without), workbook.readings.drop(columns=without)
    )
