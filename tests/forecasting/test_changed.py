"""Wear that does not go on as it went, from record set to forecast, query and evidence."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from wearcast import read
from wearcast.evidence.theta import Recorded, recorded_from, recorded_json, thetas_of
from wearcast.forecasting.run import Forecast, forecast
from wearcast.lives.build import build
from wearcast.settings import Settings

CHANGED = date(2021, 3, 1)
OPENED = (date(2016, 3, 1), date(2018, 3, 1), date(2020, 3, 1), date(2022, 3, 1), date(2024, 3, 1))


def hours(day: date) -> float:
    return (day - date(2014, 3, 1)).days / 365.25 * 5000


def tables(factor: float, recorded: bool) -> dict[str, list[dict[str, str]]]:
    """Three sisters of five bearings, 0.4 µm/kh until the date and that much more after it (invented)."""
    rng = np.random.default_rng(4)
    readings, vessels = [], ("Alder", "Birch", "Cedar")
    for vessel in vessels:
        for position in range(1, 6):
            rate = 0.4 * np.exp(0.2 * rng.normal())
            for day in OPENED:
                late = max(hours(day) - hours(CHANGED), 0.0)
                worn = rate * (hours(day) + (factor - 1) * late) / 1000 + 2.0
                value = 7.9925 - (worn + rng.normal(0, 2.0)) / 1000
                readings.append({"vessel": vessel, "position": str(position), "value": f"{value:.3f}",
                                 "date": str(day), "counter_h": f"{hours(day):.0f}"})  # fmt: skip
    change = {"engine": "", "bearing": "", "position": "", "half": "", "date": str(CHANGED), "counter_h": "",
              "event": "change", "shell_size": "", "finding": "fuel"}  # fmt: skip
    events = [{"vessel": v, "position": str(p), "date": "2014-03-01", "counter_h": "0", "event": "fitted"}
              for v in vessels for p in range(1, 6)]  # fmt: skip
    events += [change | {"vessel": vessel} for vessel in vessels] * recorded
    return {"readings": readings, "engines": [{"vessel": v} for v in vessels], "events": events}


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory, write_folder) -> dict[bool, Forecast]:
    made = {}
    for recorded in (True, False):
        folder = tmp_path_factory.mktemp("changed")
        write_folder(folder, **tables(3.0, recorded))
        made[recorded] = forecast(read(folder), settings=Settings(follow_changes=True))
    return made


@pytest.mark.parametrize("recorded", [True, False])
def test_wear_three_times_as_fast_is_asked_about_with_date_and_factor(changed, recorded: bool) -> None:
    asked = [query for query in changed[recorded].queries if query.kind == "rate_changed"]
    assert len(asked) == 1
    said = changed[recorded].classes[0].changed[0]
    assert said.factor_p05 < 3.0 < said.factor_p95
    assert (asked[0].vessel, asked[0].engine) == ("", "")
    if recorded:
        assert "2021-03-01 (fuel)" in asked[0].text
    # The readings since the change, of every sister.
    since = {k + 2 for k, row in enumerate(tables(3.0, recorded)["readings"]) if row["date"] > str(CHANGED)}
    assert set(asked[0].rows) == since


def test_forecast_follows_the_change(changed, tmp_path: Path, write_folder) -> None:
    write_folder(tmp_path, **tables(3.0, True))
    plain = forecast(read(tmp_path), settings=Settings(follow_changes=False))
    for one, other in zip(changed[True].classes[0].rate[0], plain.classes[0].rate[0], strict=True):
        assert one > 1.2 * other
    early, late = (made.table["hours_to_limit_p50"].mean() for made in (changed[True], plain))
    assert early < 0.9 * late
    assert set(changed[True].table["rests_on"]) == {"changed rate"}
    assert changed[True].table["reasons"].str.contains("the forecast follows a changed rate").all()
    assert "changed rate" not in set(plain.table["rests_on"])


def test_clocks_written_into_the_evidence_come_back(changed) -> None:
    made = thetas_of(changed[False])
    back = recorded_from(json.dumps(recorded_json(Recorded(made, made)))).forecast
    for one, other in zip(made, back, strict=True):
        assert [c.part for c in one.theta.clocks] == [c.part for c in other.theta.clocks]
        np.testing.assert_array_equal(one.theta.set_clock, other.theta.set_clock)
        assert one.theta.judged == other.theta.judged


def test_a_change_of_the_whole_vessel_needs_no_engine_and_no_counter(tmp_path: Path, write_folder) -> None:
    write_folder(tmp_path, **tables(1.0, True))
    history = build(read(tmp_path))
    assert [(one.vessel, one.engine, one.finding) for one in history.changes] == [
        (vessel, "", "fuel") for vessel in ("Alder", "Birch", "Cedar")
    ]
    assert all(event.kind != "change" for event in history.events)
