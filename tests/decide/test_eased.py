"""Every change by hand that moves a forecast away from action is told, with what would be without it (invented)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wearcast.decide.eased import SETTING, changes_by_hand
from wearcast.decide.eased_words import NOBODY, changes_said, said
from wearcast.forecasting.run import forecast
from wearcast.records.read import read
from wearcast.settings import Settings

RUN = dt.date(2026, 1, 1)
OPENINGS = (
    ("2018-05-17", "10000"),
    ("2020-05-17", "20000"),
    ("2022-05-17", "30000"),
    ("2024-05-17", "40000"),
)
ROWS = [
    {
        "position": str(place),
        "date": day,
        "counter_h": hours,
        "value": f"{7.99 - 0.004 * k - 0.0005 * (place % 3):.4f}",
    }
    for place in range(1, 6)
    for k, (day, hours) in enumerate(OPENINGS)
]
LOW = ROWS.index(next(row for row in ROWS if row["position"] == "3" and row["date"] == "2024-05-17"))
FITTED = [
    {"position": str(p), "event": "fitted", "date": "2016-05-17", "counter_h": "0"} for p in range(1, 6)
]


def correction(row: int, action: str, **more: str) -> dict[str, str]:
    return {
        "row": str(row + 2),
        "action": action,
        "reason": "felt wrong",
        "by": "B. Cole",
        "date": "2025-02-03",
    } | more


@pytest.fixture
def made(record_folder: Callable[..., Path]):
    def make(corrections=None, rows=ROWS, events=FITTED):
        folder = record_folder(readings=rows, events=events, corrections=corrections)
        return forecast(read(folder, RUN))

    return make


def eased(forecast):
    return changes_by_hand(forecast).eased


@pytest.fixture
def lower() -> list[dict[str, str]]:
    """Main 3 has lost 12 µm more at its last opening."""
    rows = [dict(row) for row in ROWS]
    rows[LOW]["value"] = "7.9650"
    return rows


def test_a_withdrawn_reading_keeps_its_face_and_what_it_would_do_is_told(made, lower) -> None:
    with_it = made(rows=lower)
    without = made([correction(LOW, "withdraw", old="7.9650")], rows=lower)
    (one,) = eased(without)
    assert (one.deed.what, one.deed.row, one.deed.old) == ("reading withdrawn", LOW + 2, "7.9650")
    assert one.deed.about == ("Alder", "1", "main", "3", "lower", "wall")
    assert one.key[3] == "3"
    of_three = {row.key: row for row in with_it.rows}[one.key]
    assert one.hours_p10[0] == pytest.approx(of_three.hours_at(10))  # as if it had never been withdrawn
    assert one.hours_p10[0] < one.hours_p10[1]
    text = said(one)
    assert "Reading withdrawn: Alder 1 main 3 lower wall thickness, readings row" in text
    assert "(felt wrong; by B. Cole on 2025-02-03; approved by: nobody named)" in text
    assert f"by {one.date_p10[0]}, instead of by {one.date_p10[1]}" in text


def test_who_approved_is_named(made, lower) -> None:
    (one,) = eased(made([correction(LOW, "withdraw", old="7.9650", approved_by="C. Dunn")], rows=lower))
    assert "approved by: C. Dunn" in said(one)
    assert NOBODY not in said(one)


def test_a_value_replaced_towards_new_is_told_and_one_replaced_towards_the_limit_is_not(made, lower) -> None:
    (one,) = eased(made([correction(LOW, "replace", old="7.9650", new="7.9780")], rows=lower))
    assert (one.deed.what, one.deed.old, one.deed.new) == ("reading replaced", "7.9650", "7.9780")
    assert eased(made([correction(LOW, "replace", old="7.9780", new="7.9650")])) == ()


def test_two_corrections_of_one_cell_are_one_change_from_the_first_old_to_the_last_new(made, lower) -> None:
    twice = [
        correction(LOW, "replace", old="7.9650", new="7.9700"),
        correction(LOW, "replace", old="7.9700", new="7.9780", by="C. Dunn"),
    ]
    (one,) = eased(made(twice, rows=lower))
    assert (one.deed.old, one.deed.new, one.deed.by) == ("7.9650", "7.9780", "C. Dunn")


def test_a_damage_that_was_withdrawn_is_told(made) -> None:
    finding = {
        "position": "3",
        "event": "finding",
        "date": "2024-05-17",
        "counter_h": "40000",
        "finding": "cracks",
    }
    taken_out = {"table": "events", "column": "finding"} | correction(len(FITTED), "withdraw", old="cracks")
    (one,) = eased(made([taken_out], events=[*FITTED, finding]))
    assert (one.deed.what, one.key[3]) == ("event withdrawn", "3")


def test_of_very_many_changes_those_not_tried_are_told_too(made, lower, monkeypatch) -> None:
    monkeypatch.setattr("wearcast.decide.eased.MOST_TRIED", 1)
    other = correction(0, "replace", old="7.9895", new="7.9890", date="2025-01-01")
    changes = changes_by_hand(made([other, correction(LOW, "withdraw", old="7.9650")], rows=lower))
    assert [one.deed.row for one in changes.eased] == [LOW + 2]  # the later one is tried
    assert [one.row for one in changes.untried] == [2]
    assert "was not worked out" in changes_said(changes)[1]


def test_without_changes_nothing_is_told(made) -> None:
    assert eased(made()) == ()


def test_settings_that_are_not_the_usual_ones_are_changes_too(record_folder) -> None:
    records = read(record_folder(readings=ROWS), RUN)
    (one,) = changes_by_hand(forecast(records, settings=replace(Settings(), risk=0.2))).settings
    assert (one.what, one.column, one.old, one.new) == (SETTING, "risk", "0.1", "0.2")


def test_a_limit_eased_in_a_book_is_told_with_the_date_it_moved(tmp_path, write_folder) -> None:
    from wearcast.book.add import add
    from wearcast.book.create import create
    from wearcast.sources import read as read_any

    book = tmp_path / "fleet.book"
    create(str(book))
    add(str(book), write_folder(tmp_path / "first", readings=ROWS, events=FITTED), "A. Bell")
    honest = forecast(read_any(book, RUN))
    add(
        str(book),
        write_folder(tmp_path / "second", readings=ROWS[:1], limits=[{"limit": "7.940"}]),
        "B. Cole",
    )
    (one,) = eased(forecast(read_any(book, RUN)))
    assert (one.deed.what, one.deed.old, one.deed.new) == ("limit changed", "7.950 mm", "7.940 mm")
    assert one.moved == 5
    row = {row.key: row for row in honest.rows}[one.key]
    assert one.hours_p10[0] == pytest.approx(row.hours_at(10))
    assert one.p_next[0] == pytest.approx(row.p_limit_before_next_window, nan_ok=True)
    assert np.nan_to_num(one.hours_p10[1], nan=2e5) > one.hours_p10[0]
