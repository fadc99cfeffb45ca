"""One event, this place before this date, has one chance whatever day one asks on and whichever command."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from walk_chances import disagreements, walk_chances

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


WINDOWS = [{"date": day} for day in ("2020-09-15", "2021-09-15", "2023-09-15")]


def _worn(position, *ages, rate=1.0):
    return [
        {"position": str(position), "date": f"{2012 + age // 5000}-01-15", "counter_h": str(age),
         "value": f"{7.9925 - rate * age / 1e6:.4f}"}
        for age in ages
    ]  # fmt: skip


AGES = (10_000, 20_000, 30_000, 40_000)
FLEETS = {
    "read months ago": [row for p in range(1, 6) for row in _worn(p, *AGES, rate=0.6 + 0.1 * p)],
    "a doubted last reading": [
        *(row for p in range(1, 6) for row in _worn(p, *AGES, rate=0.5)),
        *_worn(6, *AGES[:-1], rate=0.5),
        {**_worn(6, 40_000)[0], "value": "7.9580"},
    ],
}


@pytest.mark.parametrize("name", [*FLEETS, "demo"])
def test_commands_and_pages_tell_one_chance_of_one_event(name, record_folder, demo_records) -> None:
    records = demo_records
    if name in FLEETS:
        folder = record_folder(readings=FLEETS[name], windows=WINDOWS)
        records = wearcast.read(folder, dt.date(2020, 6, 30))
    walk, told = walk_chances(records)
    assert {one.where for one in told} == {"forecast", "at the day of the run", "plan", "openings", "page"}
    assert {row.key for row in walk.forecast.rows if row.next_window and not row.damaged} <= {
        one.place for one in told if one.where in ("plan", "page")
    }
    assert disagreements(told) == []


def test_the_walk_sees_a_chance_that_differs(demo_records) -> None:
    _, told = walk_chances(demo_records)
    k = next(
        k
        for k, one in enumerate(told)
        if one.where == "plan"
        and any(other.place == one.place and other.before == one.before for other in told[:k])
    )
    told[k] = replace(told[k], chance="48 %")
    assert disagreements(told)
