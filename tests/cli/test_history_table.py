"""The record of a place as one table."""

from __future__ import annotations

from wearcast.book.history import Correction, Told
from wearcast.cli.history_table import csv_of, lines_of


def told(table: str, number: int, corrections: tuple[Correction, ...] = (), **cells: str) -> Told:
    return Told(
        table, number, cells, f"{table}.csv, row {number}", 1, "A. Bell", "2024-01-01T00:00:00Z", corrections
    )


WALL = {"half": "lower", "point": "crown", "quantity": "wall", "unit": "mm", "counter_h": "12000"}
SLIP = Correction(1, "replace", "value", "7982", "7.982", "slip", "B", "2024-01-02", "B", "2024")
ROWS = (
    told("readings", 2, **WALL, value="7.960", date="2020-05-17", state="as_found", instrument="BM-1",
         measured_by="2/E"),
    told("events", 1, event="renewal", shell_size="standard", half="lower", date="2020-05-17"),
    told("readings", 3, **WALL, value="7.994", date="2020-05-17", state="as_left"),
    told("readings", 4, (SLIP,), **WALL, value="7982", date="2022-05-17"),
)  # fmt: skip


def test_each_reading_is_a_line_with_its_shell_value_gauge_and_origin() -> None:
    lines = lines_of(ROWS, ids=False)
    assert lines[0] == (
        "2020-05-17",
        "12000",
        "1",
        "lower crown",
        "as found",
        "7.960 mm",
        "BM-1",
        "2/E",
        "readings.csv, row 2",
    )
    assert [line[2] for line in lines] == ["1", "", "2", "2"], "a renewal begins the next shell"
    assert lines[1][5] == "renewal standard"
    assert lines[3][5] == "7.982 mm (value was 7982)"


def test_the_same_stands_in_csv_with_ids_on_demand() -> None:
    assert csv_of(ROWS, ids=True).splitlines()[:2] == [
        "id,date,hours,shell,where,state,value,gauge,by,from",
        'readings 2,2020-05-17,12000,1,lower crown,as found,7.960 mm,BM-1,2/E,"readings.csv, row 2"',
    ]
