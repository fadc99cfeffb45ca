"""Damage, sizes missing from the store and overloaded mains; and the demo's stories by name."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build
from wearcast.records.read import read

FINDING = {"event": "finding", "finding": "bond failure", "date": "2021-01-01", "counter_h": "8000"}
RENEWAL = {"event": "renewal", "date": "2021-01-01", "counter_h": "8000"}


@pytest.mark.parametrize(
    ("events", "asked"),
    [
        ([FINDING], True),
        ([FINDING, RENEWAL], False),  # of the shell taken out
        ([FINDING, RENEWAL | {"date": "2022-01-01", "counter_h": "9000"}], False),
        ([FINDING, RENEWAL | {"date": "2020-01-01", "counter_h": "7000"}], True),
        ([FINDING, RENEWAL | {"half": "upper"}], True),
        ([FINDING | {"half": ""}, RENEWAL], False),
    ],
)  # fmt: skip
def test_damage_on_a_shell_in_service(doubted, events, asked) -> None:
    found = doubted([{"state": "as_left"}], events)
    assert ("damage_noted" in found) == asked


def store(size: str, on_hand: str, on_order: str = "") -> dict[str, str]:
    return {"shell_size": size, "on_hand": on_hand, "on_order": on_order}


@pytest.mark.parametrize(
    ("spares", "asked"),
    [
        ([store("standard", "2"), store("U50", "0")], True),
        ([store("standard", "2")], True),
        ([store("standard", "2"), store("U50", "1")], False),
        ([store("standard", "2"), store("U50", "0", "1")], False),
        ([store("standard", "0"), store("U50", "0")], False),  # an empty store holds no wrong shell
        ([], False),
    ],
)
def test_an_undersize_shell_and_a_store_of_standard_ones(record_folder, spares, asked) -> None:
    events = [{"event": "regrind", "half": "", "shell_size": "U50"}, {"shell_size": "U50"}]
    limits = [{}, {"shell_size": "U50", "new_min": "8.235", "new_max": "8.250", "limit": "8.200"}]
    tables = {"spares": spares} if spares else {}
    engines = [{"hours_per_year": "2830"}]  # as the dial shows
    folder = record_folder(
        readings=[{"value": "8.240"}], events=events, limits=limits, engines=engines, **tables
    )
    kinds = [query.kind for query in doubt(build(read(folder))).queries]
    assert kinds == (["spares_size"] if asked else [])


@pytest.fixture(scope="module")
def demo() -> tuple[list, dict]:
    folder = Path(__file__).parents[2] / "sample_data"
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    return list(doubt(build(read(folder))).queries), truth


STORIES = {
    "F": ("unit_slip", "decimal_slip"),
    "H": ("walls_clearance",),
    "B": ("spares_size",),
    "D": ("alignment_query",),
    "J": ("damage_noted",),
}
"""Stories told without a fitted model, and the kinds that name them."""


@pytest.mark.parametrize("letter", STORIES)
def test_the_stories_of_the_demo_are_found_by_name(demo, letter) -> None:
    queries, truth = demo
    stories = [story for story in truth["stories"] if story["story"] == letter]
    for story in stories:
        rows = {row for group in story["rows"].values() for row in group}
        told = [q for q in queries if q.kind in STORIES[letter] and rows & set(q.rows)]
        assert told, story["text"]
        assert all(not query.vessel or query.vessel == story["vessel"] for query in told)


def test_the_clean_part_of_the_demo_raises_nothing(demo) -> None:
    queries, truth = demo
    tables: dict[str, set[int]] = {}
    for story in truth["stories"]:
        for group, rows in story["rows"].items():
            tables.setdefault(_table(group), set()).update(rows)
    walls = next(story for story in truth["stories"] if story["story"] == "H")["rows"]["readings"]
    for query in queries:
        at = set(query.rows)
        near = (
            {row + k for row in walls for k in (-2, -1, 0, 1, 2)}
            if query.kind == "walls_clearance"
            else set()
        )
        assert at <= tables[query.table] | near, query


def _table(group: str) -> str:
    return group if group in ("events", "spares") else "readings"
