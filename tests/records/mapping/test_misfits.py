"""A sheet that is not of the mapping's shape is named, with its cells; nothing of it is read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from wearcast.records.mapping.draft import draft
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.read import read

HEADS = ["Bearing", "Upper (mm)", "Lower (mm)"]


def sheet(
    path: Path, rows: list[list[object]], title: str = "Main bearings", heads: list[str] | None = None
) -> Path:
    book = openpyxl.Workbook()
    top = [
        ["Vessel", "Alder"],
        ["Engine", 1],
        ["Date", "2024-05-17"],
        ["Hours", 41200],
        [],
        [title],
        heads or HEADS,
    ]
    for row in (*top, *rows):
        book.active.append(row)
    book.save(path)
    return path


@pytest.fixture
def shape(tmp_path: Path) -> Mapping:
    return draft([sheet(tmp_path / "first.xlsx", [[1, 7.99, 7.985], [2, 7.991, 7.98]])], {}).mapping


def faults(path: Path, mapping: Mapping) -> str:
    records = read(path, part=True, mapping=mapping)
    assert records.readings.empty or not records.faults
    return "\n".join(map(str, records.faults))


def test_the_next_sheet_of_the_shape_may_have_more_rows(shape: Mapping, tmp_path: Path) -> None:
    path = sheet(tmp_path / "next.xlsx", [[n, 7.99, 7.98] for n in range(1, 8)])
    assert len(read(path, part=True, mapping=shape).readings) == 14


@pytest.mark.parametrize(
    ("rows", "title", "heads", "words"),
    [
        ([[1, 7.99, 7.98]], "Big end bearings", None, '"Big end bearings" in A6, which the mapping does not have'),
        ([[1, 7.99, 0.24]], "Main bearings", [*HEADS[:2], "Clearance (mm)"], '"Clearance (mm)", which the mapping'),
        ([[1, 7.99, "worn"]], "Main bearings", None, '"worn" where a number stands in C8'),
        ([[1, 7.99, 7.98], [1, 7.98, 7.97]], "Main bearings", None, "several values of one place in B8 and B9"),
        ([[1, 7.99, 7.98], [], [450, "torque", 3]], "Main bearings", None, "numbers that no text explains"),
    ],
)  # fmt: skip
def test_a_sheet_of_another_shape_is_named(
    shape: Mapping, tmp_path: Path, rows: list[list[object]], title: str, heads: list[str] | None, words: str
) -> None:
    said = faults(sheet(tmp_path / "other.xlsx", rows, title, heads), shape)
    assert words in said
    assert "other.xlsx, sheet Sheet" in said


def test_nothing_is_read_while_a_question_is_open(shape: Mapping, tmp_path: Path) -> None:
    said = faults(tmp_path / "first.xlsx", replace(shape, unanswered=("unit",)))
    assert "questions not answered yet: unit" in said


def test_a_sheet_without_its_ship_is_refused_and_not_given_another(shape: Mapping, tmp_path: Path) -> None:
    path = sheet(tmp_path / "first.xlsx", [[1, 7.99, 7.985]])
    book = openpyxl.load_workbook(path)
    book.active["A1"] = None
    book.save(path)
    assert "no cell says the ship of B8:C8" in faults(path, shape)
