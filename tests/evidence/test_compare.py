"""Figures compared: within one in a million alike, beyond it named."""

from __future__ import annotations

import json

import pytest

from wearcast.evidence.compare import differences, same
from wearcast.evidence.leaves import Leaf

CSV = "vessel,position,hours,reasons\nAlder,1,12000.5,\nAlder,2,,open\nAlder,2,3,second\n"


def leaf(text=CSV, kind="csv", keys=("vessel", "position")):
    return Leaf("data/a", text, kind, keys)


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("7.9612345", "7.96123451", True),
        ("7.9612345", "7.9612545", False),
        (1e6, 1e6 + 0.9, True),
        (1e6, 1e6 + 1.1, False),
        ("1e-12", "3e-12", True),
        ("1e-6", "2e-6", False),
        ("2026-11-25", "2026-11-26", False),
        ("", "0", False),
        (None, 0.0, False),
        (False, "0", False),
        ("nan", "0", False),
        ([1, 2], [1, 2.000000001], True),
        ([1, 2], [1], False),
    ],
)
def test_cells(one, other, alike):
    assert same(one, other) is alike


def test_a_changed_cell_is_named_by_its_row_and_column():
    (one,) = differences(CSV.replace("12000.5", "12001.5"), leaf())
    assert str(one) == "data/a, Alder 1, hours: recorded 12001.5, worked out again 12000.5"


def test_of_two_rows_of_one_name_the_second_is_told_apart():
    (one,) = differences(CSV.replace("second", "third"), leaf())
    assert (one.row, one.column) == ("Alder 2 (no. 2)", "reasons")


def test_rows_gone_come_and_moved_are_named():
    assert [str(one) for one in differences(CSV.replace("Alder,1", "Birch,1"), leaf())] == [
        "data/a, Birch 1: recorded there, worked out again no such row",
        "data/a, Alder 1: recorded no such row, worked out again there",
    ]
    lines = CSV.splitlines()
    (moved,) = differences("\n".join([lines[0], *lines[2:], lines[1]]) + "\n", leaf())
    assert moved.recomputed == "in another order"


@pytest.mark.parametrize(
    "text",
    [
        CSV.replace("hours", "hours,more").replace("12000.5", "12000.5,9"),
        CSV.replace("Alder,1,12000.5,", "Alder,1"),
    ],
)
def test_columns_come_and_gone_are_differences(text):
    assert differences(text, leaf())


def test_json_rows_compare_as_csv_rows_do():
    rows = [{"vessel": "Alder", "position": "1", "hours": None}]
    made = leaf(json.dumps(rows), "json")
    (one,) = differences(json.dumps([rows[0] | {"hours": 5.0}]), made)
    assert (one.row, one.column, one.recorded, one.recomputed) == ("Alder 1", "hours", "5.0", "")
    for text in ("{}", "[1]", "no json", "[" * 100_000):
        assert differences(text, made)


def test_texts_are_compared_by_words_exactly_and_by_numbers_as_figures():
    made = leaf("The limit falls at 12000.0000 h.", "text", ())
    assert differences("The limit falls at 12000.0001 h.", made) == []
    (one,) = differences("The limit falls at 12001 h.", made)
    assert (one.recorded, one.recomputed) == ("12001", "12000.0000")
    (one,) = differences("The limit never falls at 12000 h.", made)
    assert "never" in one.recorded


def test_of_long_texts_only_where_they_part_is_shown():
    long = "the limit falls before the window of 2027-09-13 with a chance of 97 %, above the accepted 10 %"
    (one,) = differences(CSV.replace("open", long.replace("97", "3")), leaf(CSV.replace("open", long)))
    assert len(one.recorded) < 70
    assert "chance of 3 %" in one.recorded
    assert "chance of 97 %" in one.recomputed
