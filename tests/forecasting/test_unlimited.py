"""What has no limit is trended by its own readings, keeps its row, and moves nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from wearcast import Forecast, forecast
from wearcast.forecasting.words import said_in_words

OPENINGS = [("2016-05-01", 10_000, 7.985), ("2019-05-01", 25_000, 7.975), ("2022-05-01", 40_000, 7.966)]
WALLS = [{"date": on, "counter_h": h, "value": mm, "position": 1} for on, h, mm in OPENINGS]
CAMSHAFT = {"bearing": "camshaft", "half": "", "point": "", "quantity": "clearance", "u_um": 10}
CLEARANCES = [
    {**CAMSHAFT, "date": on, "counter_h": h, "value": value, "position": 1}
    for (on, h, _), value in zip(OPENINGS, (0.12, 0.15, 0.16), strict=True)
] + [{**CAMSHAFT, "date": "2022-05-01", "counter_h": 40_000, "value": 0.13, "position": 2}]
USE = [{"hours_per_year": 5000}]


def test_clearance_without_a_limit_has_its_line_and_leaves_the_walls_alone(
    record_folder: Callable[..., Path],
) -> None:
    alone: Forecast = forecast(record_folder("walls", readings=WALLS, engines=USE))
    both: Forecast = forecast(record_folder("both", readings=WALLS + CLEARANCES, engines=USE))
    pd.testing.assert_frame_equal(both.table.iloc[: len(alone.table)], alone.table)
    trended, once = both.rows[len(alone.rows) :]

    hours_kh, value_um = np.array([10.0, 25.0, 40.0]), np.array([120.0, 150.0, 160.0])
    design = np.vander(hours_kh, 2)
    covariance = np.linalg.inv(design.T @ design) * 10.0**2  # known u of 10 µm, weighted least squares
    slope, start = np.linalg.lstsq(design, value_um, rcond=None)[0]
    at = np.array([40.0, 1.0])
    assert np.isclose(trended.wear_rate_um_per_kh, slope)
    assert np.isclose(trended.wear_rate_u_um_per_kh, np.sqrt(covariance[0, 0]))
    assert np.isclose(trended.estimate_mm, (slope * 40 + start) / 1000)
    assert np.isclose(trended.estimate_u_um, np.sqrt(at @ covariance @ at))
    assert (trended.statement, trended.rests_on, trended.readings) == ("no limit given", "own readings", 3)
    assert np.isnan([trended.limit_mm, *trended.hours, trended.p_by_now, trended.borrowed]).all()
    assert trended.dates == (None,) * 3
    assert trended.open_at is None
    assert "trended, never forecast" in str(trended.reasons[0])

    assert (once.estimate_mm, once.statement, once.rests_on) == (0.13, "no limit given", "few own readings")
    assert np.isnan(once.wear_rate_um_per_kh)
    assert said_in_words(once) == "no limit given: 0.130 mm, few own readings"
    assert said_in_words(trended) == "no limit given: 0.163 mm, wears 1.33 µm per 1000 h"
