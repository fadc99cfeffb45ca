"""Eight liners of a marine diesel through the whole chain, against a public data set.

Source: hours and wear of the eight cylinder liners of one marine diesel engine, wear limit 4.0 mm, as used by
Giorgio, Guida & Pulcini (about 2009 to 2015; attribution from memory, paper not seen). No published fit was
found: the expected slopes and hours are least squares recomputed with numpy and scipy outside this project.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import wearcast

TESTS = Path(__file__).parents[1]
EXPECTED = json.loads((TESTS / "reference_data" / "marine_liners.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def table():
    records = wearcast.read(TESTS / "record_sets" / "marine_liners")
    assert records.faults == ()
    return wearcast.forecast(records).table.set_index("position")


@pytest.mark.parametrize("liner", [str(k) for k in range(1, 9)])
def test_own_line_of_each_liner(table, liner) -> None:
    expected, hours = EXPECTED["reference"][liner], EXPECTED["liners"][liner]["hours"]
    row = table.loc[liner]
    assert row["own_rate_um_per_kh"] == pytest.approx(1000 * expected["ols_with_zero_slope"], rel=1e-9)
    hours_left = max(expected["hours_to_4mm_ols"] - row["shell_h"], 0.0)
    assert row["own_hours_p50"] == pytest.approx(hours_left, rel=1e-9, abs=1e-6)
    assert row["own_readings"] == len(hours)  # with the new liner's 0 mm at 0 h


def test_every_liner_stands_at_the_last_counter_reading(table) -> None:
    assert (table["as_of_running_h"] == 37310).all()
    assert (table["shell_h"] == 37310).all()


def test_intervals_hold_the_line_and_are_open_where_the_rate_may_be_zero(table) -> None:
    bounded = table["own_hours_p95"].notna()
    assert (table.loc[bounded, "own_hours_p05"] <= table.loc[bounded, "own_hours_p50"]).all()
    assert (table.loc[bounded, "own_hours_p50"] <= table.loc[bounded, "own_hours_p95"]).all()
    assert (table.loc[~bounded, "own_rate_lo90"] <= 0).all()
