"""A part of a record set, to be added to what is known elsewhere."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from wearcast.records.read import read

DAY = date(2026, 11, 25)
READINGS = (
    "vessel,engine,bearing,position,half,quantity,value,unit,date,counter_h\n"
    "Ossel Brae,ME,main,3,lower,wall,7.982,mm,2024-05-17,41200\n"
)


def test_a_part_needs_no_other_table(tmp_path: Path) -> None:
    (tmp_path / "readings.csv").write_text(READINGS)
    whole, part = read(tmp_path, DAY), read(tmp_path, DAY, part=True)
    assert {fault.table for fault in whole.faults} == {"engines", "limits"}
    assert not part.faults
    assert part.readings["value_mm"].tolist() == [7.982]


def test_a_part_without_any_table_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("a,b\n1,2\n")
    (fault,) = read(tmp_path, DAY, part=True).faults
    assert fault.kind == "missing_table"
    assert "notes.csv" in fault.text


def test_a_part_without_any_row_is_refused(tmp_path: Path) -> None:
    (tmp_path / "readings.csv").write_text(READINGS.splitlines()[0] + "\n")
    (fault,) = read(tmp_path, DAY, part=True).faults
    assert "no rows" in fault.text


def test_a_part_may_hold_an_empty_table_beside_a_filled_one(tmp_path: Path) -> None:
    (tmp_path / "readings.csv").write_text(READINGS)
    (tmp_path / "limits.csv").write_text(
        "engine_type,bearing,quantity,shell_size,new_min,new_max,limit,limit_side,unit,limit_source\n"
    )
    assert not read(tmp_path, DAY, part=True).faults
