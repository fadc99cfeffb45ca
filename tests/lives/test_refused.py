"""A fault of one engine is that engine's: it goes whole, the others are as if it had never been there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from wearcast import read
from wearcast.errors import InputRefused
from wearcast.lives.build import build
from wearcast.lives.history import History

RUN = dt.date(2026, 1, 1)
ENGINES = [{"engine": name} for name in ("1", "2", "3")]
OPENINGS = [("2016-05-01", 10_000, 7.985), ("2019-05-01", 25_000, 7.975)]


def rows(*engines: str, **change: object) -> list[dict[str, object]]:
    made = [
        {"engine": name, "date": on, "counter_h": hours, "value": mm, "position": 1}
        for name in engines
        for on, hours, mm in OPENINGS
    ]
    made[-1] |= change
    return made


@pytest.fixture
def history_of(record_folder: Callable[..., Path]) -> Callable[..., History]:
    made = iter(range(99))

    def make(**tables: object) -> History:
        tables = {"engines": ENGINES, **tables}
        return build(read(record_folder(f"records{next(made)}", **tables), RUN))

    return make


FAULTS = [
    {"readings": rows("1", "2", "3", counter_h=2500)},
    {"readings": rows("1", "2", "3", value="worn")},
    {"readings": rows("1", "2", "3", counter_h=900_000)},
    {"readings": rows("1", "2", "3"), "events": [{"engine": "3", "date": "2018-02-30", "event": "renewal"}]},
    {"readings": rows("1", "2", "3"), "engines": [*ENGINES[:2], {"engine": "3", "hours_per_year": "many"}]},
    {"readings": rows("1", "2", "3"), "events": [{"engine": "3", "date": "2017-05-01", "counter_h": 15_000,
                                                  "position": 1, "event": "renewal", "shell_size": "U50"}]},
]  # fmt: skip


@pytest.mark.parametrize("tables", FAULTS, ids=["dial", "value", "a day", "date", "engines", "size"])
def test_the_others_are_as_if_the_refused_engine_were_not_there(
    history_of: Callable[..., History], tables: dict[str, object]
) -> None:
    made = history_of(**tables)
    alone = history_of(readings=rows("1", "2"), engines=ENGINES[:2])
    assert [engine for _, engine in made.refused] == ["3"]
    assert made.left_out
    assert made.lives == alone.lives
    kept = [name for name in alone.readings.columns if name != "file"]
    pd.testing.assert_frame_equal(made.readings[kept], alone.readings[kept])
    assert any("refused until its faults are mended" in said for said in made.assumptions)


def test_one_fault_of_two_engines_refuses_both(history_of: Callable[..., History]) -> None:
    readings = rows("1", "2", value="worn") + rows("3", value="worn")
    assert [engine for _, engine in history_of(readings=readings).refused] == ["2", "3"]


def test_where_no_engine_is_left_all_is_refused(history_of: Callable[..., History]) -> None:
    with pytest.raises(InputRefused):
        history_of(readings=rows("3", value="worn"))


def test_a_row_of_an_unknown_engine_may_be_any_engines(history_of: Callable[..., History]) -> None:
    with pytest.raises(InputRefused):
        history_of(readings=rows("1", "2", "4"))


def test_another_date_forgets_no_refusal(history_of: Callable[..., History]) -> None:
    made = history_of(readings=rows("1", "2", "3", counter_h=2500))
    again = build(made.records, dt.date(2019, 1, 1))
    assert again.refused == made.refused
    assert again.left_out == made.left_out
