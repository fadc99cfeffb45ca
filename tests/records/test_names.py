"""Names spelled in several ways are one name, and a reading told by two sheets is one reading."""

from __future__ import annotations

import datetime as dt

import pytest

import wearcast
from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build

RUN = dt.date(2026, 1, 1)
SHIP = {"date": "2024-05-17", "counter_h": "12000", "instrument": "BM-1", "remark": ""}
OFFICE = {"date": "2024-05-17", "counter_h": "12000", "instrument": "", "remark": "light scoring"}


@pytest.fixture
def records_of(record_folder):
    return lambda **tables: wearcast.read(record_folder(**tables), RUN)


def test_names_that_differ_in_case_blanks_or_hyphens_are_one_and_that_is_said(records_of) -> None:
    records = records_of(
        readings=[
            {"vessel": "ALDER "},
            {"vessel": "Al-der", "position": "4"},
            {"vessel": "Alder", "position": "5"},
        ]
    )
    assert not records.faults
    assert set(records.readings["vessel"]) == {"Alder"}
    assert any("vessel Al-der is taken as Alder" in note for note in records.notes)


def test_a_name_that_is_only_near_is_asked_about(records_of) -> None:
    (fault,) = records_of(readings=[{"vessel": "Aldr"}]).faults
    assert fault.kind == "unknown_engine"
    assert "Did you mean Alder?" in fault.suggestion


def test_a_position_of_a_vee_engine_may_have_its_bank_before_or_behind(records_of) -> None:
    rows = [{"bearing": "big_end", "half": "upper", "position": at, "date": day}
            for at, day in (("A1", "2020-05-17"), ("1A", "2021-05-17"), ("A1", "2022-05-17"))]  # fmt: skip
    records = records_of(readings=rows)
    assert not records.faults
    assert set(records.readings["position"]) == {"A1"}


@pytest.mark.parametrize("order", [1, -1])
def test_a_reading_of_ship_and_office_counts_once_with_what_both_say(records_of, order: int) -> None:
    records = records_of(readings=[SHIP, OFFICE][::order])
    assert records.readings["instrument"].tolist() == ["BM-1", "BM-1"]
    assert records.readings["remark"].tolist() == ["light scoring"] * 2
    assert any("with and without a gauge" in note for note in records.notes)
    doubts = doubt(build(records))
    assert doubts.counted.sum() == 1
    assert [query.kind for query in doubts.queries] == ["duplicate"]


def test_another_value_without_a_gauge_leaves_neither_to_count(records_of) -> None:
    doubts = doubt(build(records_of(readings=[SHIP, OFFICE | {"value": "7.980"}])))
    assert doubts.counted.sum() == 0
    assert "different values" in doubts.queries[0].text


def test_two_gauges_stay_two_readings_and_the_one_without_goes_to_its_value(records_of) -> None:
    second = SHIP | {"instrument": "BM-2", "value": "7.985"}
    records = records_of(readings=[SHIP, second, OFFICE | {"value": "7.985"}])
    assert records.readings["instrument"].tolist() == ["BM-1", "BM-2", "BM-2"]


def test_an_opening_told_twice_is_asked_about_once(records_of) -> None:
    rows = [SHIP | {"position": str(n), "value": f"{7.98 - n / 1000:.3f}"} for n in range(1, 8)]
    doubts = doubt(build(records_of(readings=[*rows, *(row | {"instrument": ""} for row in rows)])))
    (query,) = [one for one in doubts.queries if one.kind == "duplicate"]
    assert "7 readings of the opening of 2024-05-17 are written twice" in query.text
    assert doubts.counted.sum() == 7
