"""Gauges and their certificates: u where a reading states none, and use after the calibration was due.

That a gauge is calibrated at planned intervals, and that readings after a missed one are looked at again: ISO 10012,
7.1 and 7.2 (clauses from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build
from wearcast.records.read import read

DAYS = (("2018-05-17", "6000"), ("2020-05-17", "16000"), ("2022-05-17", "26000"))
ROWS = [
    {"date": day, "counter_h": hours, "value": f"{7.99 - 0.004 * k:.3f}", "instrument": "mic 1"}
    for k, (day, hours) in enumerate(DAYS)
]
GAUGE = {"instrument": "MIC-1", "calibrated_on": "2020-01-01", "due_on": "2021-01-01", "u_um": "2"}


@pytest.fixture
def history(record_folder: Callable[..., Path]):
    def make(gauges, rows=ROWS):
        return build(read(record_folder(readings=rows, gauges=gauges)))

    return make


def due(history) -> list:
    return [one for one in doubt(history).queries if one.kind == "gauge_due"]


def test_a_reading_that_states_no_uncertainty_takes_that_of_the_certificate_it_was_taken_under(
    history,
) -> None:
    made = history([GAUGE], [*ROWS[:2], ROWS[2] | {"u_um": "7"}])
    assert made.readings["u_um"].fillna(-1).tolist() == [-1, 2, 7]  # before the calibration none is known


def test_the_certificate_of_the_own_vessel_goes_before_that_of_any(history) -> None:
    of_any = GAUGE | {"u_um": "9", "calibrated_on": "2021-06-01", "due_on": ""}
    assert history([GAUGE | {"vessel": "Alder"}, of_any]).readings["u_um"].tolist()[1:] == [2, 2]
    assert history([GAUGE | {"vessel": "Other"}, of_any]).readings["u_um"].tolist()[2] == 9


def test_a_reading_after_the_due_date_is_asked_about_and_still_counts(history) -> None:
    made = history([GAUGE | {"certificate": "C 12"}])
    (query,) = due(made)
    assert (query.rows, query.vessel, query.engine) == ((4,), "Alder", "1")
    assert "(certificate C 12) was due on 2021-01-01, and 1 reading was taken with it after" in query.text
    assert doubt(made).counted.all()


@pytest.mark.parametrize(
    "change",
    [{"due_on": "2022-05-17"}, {"due_on": ""}, {"instrument": "another"}, {"vessel": "Other"}],
    ids=["on the day itself", "no due date", "another gauge", "another vessel"],
)
def test_nothing_is_asked_where_no_certificate_had_run_out(history, change: dict[str, str]) -> None:
    assert due(history([GAUGE | change])) == []


def test_a_newer_certificate_settles_it(history) -> None:
    newer = GAUGE | {"calibrated_on": "2022-01-05", "due_on": "2023-01-05", "u_um": "3"}
    for order in ([GAUGE, newer], [newer, GAUGE]):
        made = history(order)
        assert due(made) == []
        assert made.readings["u_um"].fillna(-1).tolist() == [-1, 2, 3]
