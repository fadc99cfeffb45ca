"""Drafted corrections: read back, they do what they say, once somebody has signed them."""

from __future__ import annotations

import csv

import pytest

from wearcast.doubts.doubt import doubt
from wearcast.doubts.drafts import COLUMNS, draft_corrections
from wearcast.errors import InputRefused
from wearcast.lives.build import build
from wearcast.records.read import read
from wearcast.records.tables import TABLES


def drafts(history):
    return draft_corrections(doubt(history).queries, history)


def test_the_columns_are_those_of_the_corrections_table() -> None:
    assert tuple(column.name for column in TABLES["corrections"].columns) == COLUMNS


@pytest.mark.parametrize(
    ("value", "unit", "new"),
    [("7982", "mm", "7.982"), ("7.982", "um", "7982"), ("79.82", "mm", "7.982"), ("0.3142520", "mm", "7.982"),
     ("7.982", "in", "0.31425")],
)  # fmt: skip
def test_a_slip_is_drafted_in_the_unit_as_written(history_of, value, unit, new) -> None:
    (row,) = drafts(history_of([{"value": value, "unit": unit}]))
    assert (row["column"], row["old"], row["new"], row["action"]) == ("value", value, new, "replace")
    assert row["by"] == row["date"] == ""


def test_what_only_the_user_knows_stays_empty(history_of) -> None:
    (row,) = drafts(history_of([{"value": "9.300"}]))
    assert (row["old"], row["new"], row["action"]) == ("9.300", "", "")


def test_equal_duplicates_are_withdrawn_but_the_first(history_of) -> None:
    (row,) = drafts(history_of([{}, {}]))
    assert (row["row"], row["action"]) == (3, "withdraw")
    first, second = drafts(history_of([{}, {"value": "7.972"}]))
    assert (first["action"], second["action"]) == ("", "")


def test_two_dates_become_one(history_of) -> None:
    rows = [{"position": "1"}, {"position": "2", "date": "2024-05-20"}]
    (row,) = drafts(history_of(rows))
    assert (row["row"], row["column"], row["old"], row["new"]) == (3, "date", "2024-05-20", "2024-05-17")


def test_nothing_doubted_drafts_nothing(history_of) -> None:
    assert drafts(history_of([{}])) == []


def signed(folder, rows) -> None:
    with (folder / "corrections.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)


def test_a_draft_is_refused_until_signed_and_then_settles_the_query(record_folder) -> None:
    folder = record_folder(readings=[{"value": "7982"}, {"position": "4"}, {"position": "4"}])
    rows = drafts(build(read(folder)))
    signed(folder, rows)
    with pytest.raises(InputRefused):
        build(read(folder))
    signed(folder, [row | {"by": "A. Bell", "date": "2025-01-01"} for row in rows])
    history = build(read(folder))
    assert doubt(history).queries == ()
    assert sorted(history.readings["value_mm"]) == [7.982, 7.982]
