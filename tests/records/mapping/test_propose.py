"""A proposed mapping is one that can be read, never guesses a unit, and, filled in, reads the sheet."""

from __future__ import annotations

import os
import re
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wearcast.errors import InputRefused, WrongUse
from wearcast.records.mapping import read_mapping
from wearcast.records.mapping.propose import propose
from wearcast.records.read import read

DAY = date(2026, 1, 1)
MORE = int(os.environ.get("WEARCAST_EXAMPLES", "0"))


def mapping_of(text: str, folder: Path) -> Any:
    path = folder / "draft.toml"
    path.write_text(text, encoding="utf-8")
    return read_mapping(path)


def test_a_proposal_is_a_mapping_and_leaves_the_unit_open(shape: Any, tmp_path: Path) -> None:
    text = propose(shape.write(tmp_path))
    mapping = mapping_of(text, tmp_path)
    assert mapping.constants["unit"] == ""
    assert not re.search(r'^unit = "\w', text, re.MULTILINE)


def test_a_unit_in_a_heading_is_told_and_not_taken(shapes: Any, tmp_path: Path) -> None:
    assert 'unit = ""  # fill in: mm, um or in; a heading says mm' in propose(shapes["long"].write(tmp_path))


FILLED = {
    "wide": {"vessel": "Alder", "engine": "1", "bearing": "main", "unit": "mm", "quantity": "wall", "half": "lower"},
    "one": {"vessel": "Alder", "engine": "1", "bearing": "main", "unit": "mm", "quantity": "wall"},
    "turned": {"vessel": "Alder", "engine": "1", "bearing": "main", "unit": "mm", "quantity": "wall"},
}  # fmt: skip
EXTRA = {"wide": 'empty = ["n/m"]\nlast_row = 4\n', "one": "", "turned": ""}


@pytest.mark.parametrize("name", sorted(FILLED))
def test_filled_in_it_reads_the_sheet(shapes: Any, tmp_path: Path, name: str) -> None:
    shape = shapes[name]
    path = shape.write(tmp_path)
    text = propose(path)
    for column, value in FILLED[name].items():
        text = re.sub(rf'^{column} = "".*$', f'{column} = "{value}"', text, flags=re.MULTILINE)
    if (
        name == "turned"
    ):  # the line that numbers the openings is none of values; the thrust is its own bearing
        before, opening, after = re.split(r'(\[\[values\]\][^\[]*heading = "Opening"[^\[]*)', text)
        assert opening
        text = (before + after).replace('bearing = "main"\n', "")
        text = text.replace(
            'heading = "Lower main {position}"', 'heading = "Lower main {position}"\nbearing = "main"'
        )
        text = text.replace('heading = "Axial"', 'heading = "Axial"\nbearing = "thrust"')
        text = text.replace('position = ""', 'position = "7"')
    mapping = mapping_of(EXTRA[name] + text, tmp_path)
    records = read(path, DAY, part=True, mapping=mapping)
    assert not records.faults
    found = records.readings[["position", "half", "quantity", "value_mm", "row"]].to_numpy().tolist()
    assert found == [[one[0], one[1], one[3], one[4], one[6]] for one in shape.readings]


def test_two_rows_of_headings_and_facts_above_are_recognised(shapes: Any, tmp_path: Path) -> None:
    mapping = mapping_of(propose(shapes["points"].write(tmp_path)), tmp_path)
    assert mapping.header == (4, 5)
    assert mapping.cells == {"vessel": (1, 2), "date": (2, 2), "counter_h": (2, 4)}


def test_blocks_are_recognised(shapes: Any, tmp_path: Path) -> None:
    mapping = mapping_of(propose(shapes["one"].write(tmp_path)), tmp_path)
    assert mapping.block.title == "Main bearing {position}"


def test_days_first_and_decimal_commas_are_asked_about(shapes: Any, tmp_path: Path) -> None:
    text = propose(shapes["long"].write(tmp_path))
    assert 'date_order = ""  # fill in' in text
    assert 'decimal = ""  # fill in' in text


def test_a_sheet_that_is_not_there_is_said(shapes: Any, tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="no sheet upper; the sheets are lower shells, remarks of the yard"):
        propose(shapes["wide"].write(tmp_path), "upper")


def test_nothing_to_map_is_said(tmp_path: Path) -> None:
    openpyxl.Workbook().save(tmp_path / "empty.xlsx")
    with pytest.raises(WrongUse, match="nothing stands in it"):
        propose(tmp_path / "empty.xlsx")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\x03\x04")
    with pytest.raises(InputRefused):
        propose(tmp_path / "broken.xlsx")


_texts = st.one_of(
    st.sampled_from(["Date", "Hours", "MB 1", "MB 2", "Wall [mm]", "17.05.2024", "2024-05-17", "7,98", "7.98",
                     "Main bearing 1", "{half}", '"quoted"', "= 1", "tab\tin it", "Bearing", "HL", "", "\x7f", "\x85"]),
    st.text(max_size=6),
)  # fmt: skip


@settings(
    max_examples=MORE or 60,
    deadline=None,
    derandomize=not MORE,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(rows=st.lists(st.lists(_texts, min_size=1, max_size=5), min_size=1, max_size=8))
def test_a_proposal_for_any_sheet_is_a_mapping(tmp_path: Path, rows: list[list[str]]) -> None:
    import csv

    path = tmp_path / "any.csv"
    with path.open("w", encoding="utf-8", errors="replace", newline="") as file:
        csv.writer(file).writerows(rows)
    try:
        text = propose(path)
    except (WrongUse, InputRefused):
        return
    records = read(path, DAY, part=True, mapping=mapping_of(text, tmp_path))
    assert records.faults  # the unit is never known
