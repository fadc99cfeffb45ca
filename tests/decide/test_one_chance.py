"""One event, this place before this date, has one chance whatever day one asks on and whichever command."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

import wearcast
from wearcast.decide.stand import stand_of
from wearcast.decide.steps import engine_steps, horizon_from


@pytest.fixture(scope="module")
def known(demo_records):
    return wearcast.forecast(demo_records)


def test_decisions_stand_at_the_day_of_the_run(known) -> None:
    assert stand_of(known).as_of == known.history.records.run_date


@pytest.mark.parametrize("later", [dt.timedelta(0), dt.timedelta(days=40), dt.timedelta(days=800)])
def test_a_chance_before_a_date_does_not_hang_on_the_day_one_asks(known, later) -> None:
    asked = known.at(known.decides_at + later)
    for then, now in zip(known.classes, asked.classes, strict=True):
        event = 4.0 * np.ones((len(then.lives), 1))  # years from the last counter readings
        np.testing.assert_allclose(
            now.chance_within(event - now.carried_years[:, None]), then.chance_within(event), rtol=1e-12
        )
    dates = {row.key: row.dates for row in known.rows}
    assert {row.key: row.dates for row in asked.rows} == dates


def test_steps_of_the_plan_and_rows_of_the_forecast_tell_the_same(known) -> None:
    stand = stand_of(known)
    rows = {row.key: row for row in known.rows}
    compared = 0
    for engine in engine_steps(stand, horizon_from(stand.as_of, 10.0)):
        for shell in (one for shells in engine.shells.values() for one in shells):
            row = rows[stand.row_of_life[shell.life].key]
            pairs = (
                (row.next_window, row.p_limit_before_next_window),
                (row.following_window, row.p_limit_before_following_window),
            )
            for on, chance in pairs:
                if on in engine.ends:
                    assert shell.wear[0, engine.ends.index(on) + 1] == pytest.approx(
                        chance, rel=1e-12, nan_ok=True
                    )
                    compared += 1
    assert compared > 100
