"""Sheets as other people keep them, of clearly different shapes (all invented), and a mapping for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import openpyxl
import pytest

Write = Callable[[Path], Path]


@dataclass(frozen=True)
class Shape:
    """A sheet, its mapping, and what is read: (position, half, point, quantity, value_mm, date, row, cell)."""

    name: str
    write: Write
    mapping: str
    readings: Sequence[tuple[Any, ...]]


def workbook(path: Path, rows: Sequence[Sequence[Any]], title: str, merged: Sequence[str] = ()) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for block in merged:
        sheet.merge_cells(block)
    book.create_sheet("remarks of the yard").append(["nothing to be read here"])
    book.save(path)
    return path


def _long(folder: Path) -> Path:
    path = folder / "wear log.csv"
    path.write_text(
        "Vaardagen;;;;;;;\n"
        "Schip;Datum;Draaiuren;Lager;Nr;Schaal;Dikte [mm];Meetklok\n"
        "Alder;17.05.2024;41200;HL;3;onder;7,982;M-1\n"
        "Alder;17.05.2024;41200;HL;3;boven;7,991;M-1\n"
        ";;;;;;;\n"
        "Alder;17.05.2024;41200;DL;2;boven;6,488;M-1\n",
        encoding="utf-8",
    )
    return path


LONG = Shape(
    "long, decimal comma, days first, own words",
    _long,
    """
mapping = 1
header_row = 2
decimal = ","
date_order = "day month year"
[columns]
vessel = "Schip"
date = "Datum"
counter_h = "Draaiuren"
bearing = "Lager"
position = "Nr"
half = "Schaal"
value = "dikte [MM]"
instrument = "Meetklok"
[constants]
engine = "1"
quantity = "wall"
unit = "mm"
[words.bearing]
HL = "main"
DL = "big_end"
[words.half]
onder = "lower"
boven = "upper"
""",
    [
        ("3", "lower", "crown", "wall", 7.982, "2024-05-17", 3, ""),
        ("3", "upper", "crown", "wall", 7.991, "2024-05-17", 4, ""),
        ("2", "upper", "crown", "wall", 6.488, "2024-05-17", 6, ""),
    ],
)


def _wide(folder: Path) -> Path:
    rows = [
        ["Alder, port engine", None, None, None, None],
        ["Opened", "Hours", "MB 1", "MB 2", "MB 3", "seen by"],
        ["2022-03-01", 30100, 7.985, "n/m", 7.979, "A. Bell"],
        ["2024-05-17", 41200, 7.98, 7.981, None, "A. Bell"],
        ["least", None, 7.95, 7.95, 7.95, None],
    ]
    return workbook(folder / "mains.xlsx", rows, "lower shells")


WIDE = Shape(
    "wide: one column a position",
    _wide,
    """
mapping = 1
sheet = "Lower shells"
header_row = 2
last_row = 4
empty = ["n/m"]
[columns]
date = "Opened"
counter_h = "Hours"
measured_by = "seen by"
[constants]
vessel = "Alder"
engine = 1
bearing = "main"
half = "lower"
quantity = "wall"
unit = "mm"
[[values]]
heading = "MB {position}"
""",
    [
        ("1", "lower", "crown", "wall", 7.985, "2022-03-01", 3, "C3"),
        ("3", "lower", "crown", "wall", 7.979, "2022-03-01", 3, "E3"),
        ("1", "lower", "crown", "wall", 7.98, "2024-05-17", 4, "C4"),
        ("2", "lower", "crown", "wall", 7.981, "2024-05-17", 4, "D4"),
    ],
)


def _two_headers(folder: Path) -> Path:
    rows = [
        ["Ship", "Alder", None, None, None, None],
        ["Date", "2024-05-17", "Hours", 41200, None, None],
        [],
        ["Bearing", "Lower", None, "Upper", None, "Clearance"],
        [None, "C", "P", "C", "P", None],
        ["Main 1", 7982, 7978, 7991, None, 310],
        ["Main 2", 7975, 7979, 7988, 7990, None],
    ]
    merged = ("A4:A5", "B4:C4", "D4:E4", "F4:F5")
    return workbook(folder / "opening.xlsx", rows, "2024-05", merged)


TWO_HEADERS = Shape(
    "points: two header rows, facts in cells above, in um",
    _two_headers,
    """
mapping = 1
sheet = "2024-05"
header_row = [4, 5]
[cells]
vessel = "B1"
date = "B2"
counter_h = "D2"
[columns]
position = "Bearing"
[constants]
engine = "1"
bearing = "main"
unit = "um"
[words.position]
"Main 1" = "1"
"Main 2" = "2"
[words.point]
C = "crown"
P = "p45"
[[values]]
heading = "{half} / {point}"
quantity = "wall"
[[values]]
heading = "Clearance"
quantity = "clearance"
""",
    [
        ("1", "lower", "crown", "wall", 7.982, "2024-05-17", 6, "B6"),
        ("1", "lower", "p45", "wall", 7.978, "2024-05-17", 6, "C6"),
        ("1", "upper", "crown", "wall", 7.991, "2024-05-17", 6, "D6"),
        ("1", "", "", "clearance", 0.31, "2024-05-17", 6, "F6"),
        ("2", "lower", "crown", "wall", 7.975, "2024-05-17", 7, "B7"),
        ("2", "lower", "p45", "wall", 7.979, "2024-05-17", 7, "C7"),
        ("2", "upper", "crown", "wall", 7.988, "2024-05-17", 7, "D7"),
        ("2", "upper", "p45", "wall", 7.99, "2024-05-17", 7, "E7"),
    ],
)


def _blocks(folder: Path) -> Path:
    path = folder / "by bearing.csv"
    path.write_text(
        "Alder port\n"
        "Main bearing 1,,\n"
        "Date,Hours,upper,lower\n"
        "2022-03-01,30100,7.99,7.985\n"
        "2024-05-17,41200,,7.98\n"
        "\n"
        "Main bearing 2,,\n"
        "Date,Hours,lower,upper\n"
        "2024-05-17,41200,7.977,7.992\n",
        encoding="utf-8",
    )
    return path


BLOCKS = Shape(
    "one block a bearing",
    _blocks,
    """
mapping = 1
[block]
title = "Main bearing {position}"
[columns]
date = "Date"
counter_h = "Hours"
[constants]
vessel = "Alder"
engine = "1"
bearing = "main"
quantity = "wall"
unit = "mm"
[[values]]
heading = "Upper"
half = "upper"
[[values]]
heading = "Lower"
half = "lower"
""",
    [
        ("1", "upper", "crown", "wall", 7.99, "2022-03-01", 4, "C4"),
        ("1", "lower", "crown", "wall", 7.985, "2022-03-01", 4, "D4"),
        ("1", "lower", "crown", "wall", 7.98, "2024-05-17", 5, "D5"),
        ("2", "lower", "crown", "wall", 7.977, "2024-05-17", 9, "C9"),
        ("2", "upper", "crown", "wall", 7.992, "2024-05-17", 9, "D9"),
    ],
)


def _turned(folder: Path) -> Path:
    rows = [
        ["Opening", 1, 2],
        ["Day", "2022-03-01", "2024-05-17"],
        ["Counter", 30100, 41200],
        ["Lower main 1", 7.985, 7.98],
        ["Lower main 2", None, 7.977],
        ["Axial", 0.31, 0.34],
    ]
    return workbook(folder / "turned.xlsx", rows, "wear")


TURNED = Shape(
    "turned: one column an opening",
    _turned,
    """
mapping = 1
sheet = "wear"
header_column = "A"
[columns]
date = "Day"
counter_h = "row 3"
[constants]
vessel = "Alder"
engine = "1"
unit = "mm"
[[values]]
heading = "{half} main {position}"
bearing = "main"
quantity = "wall"
[[values]]
heading = "Axial"
bearing = "thrust"
position = "7"
quantity = "axial_clearance"
""",
    [
        ("1", "lower", "crown", "wall", 7.985, "2022-03-01", 4, "B4"),
        ("7", "", "", "axial_clearance", 0.31, "2022-03-01", 6, "B6"),
        ("1", "lower", "crown", "wall", 7.98, "2024-05-17", 4, "C4"),
        ("2", "lower", "crown", "wall", 7.977, "2024-05-17", 5, "C5"),
        ("7", "", "", "axial_clearance", 0.34, "2024-05-17", 6, "C6"),
    ],
)

SHAPES = (LONG, WIDE, TWO_HEADERS, BLOCKS, TURNED)


@pytest.fixture(params=SHAPES, ids=lambda shape: shape.name)
def shape(request: pytest.FixtureRequest) -> Shape:
    """Every shape in turn."""
    found: Shape = request.param
    return found


@pytest.fixture
def shapes() -> dict[str, Shape]:
    """Shapes by the first word of their name."""
    return {shape.name.split()[0].strip(",:"): shape for shape in SHAPES}
