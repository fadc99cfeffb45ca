"""Carrying a forecast to one date takes over doubts and estimates, and gives what forecasting anew gives."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import wearcast
from wearcast.decide.stand import stand_after
from wearcast.forecasting.run import carried_to


@pytest.fixture(scope="module")
def known(demo_records):
    return wearcast.forecast(demo_records)


def test_the_stand_after_a_forecast_is_that_of_the_records(known, demo) -> None:
    """`demo` forecasts everything anew at the latest counter reading."""
    made = stand_after(known)
    assert made.as_of == demo.as_of
    assert {engine.as_of for engine in known.history.engines.values()} != {made.as_of}
    pd.testing.assert_frame_equal(made.forecast.table, demo.forecast.table, check_exact=True)
    assert made.forecast.queries == demo.forecast.queries
    assert made.forecast.assumptions == demo.forecast.assumptions
    for mine, anew in zip(made.classes, demo.classes, strict=True):
        np.testing.assert_array_equal(mine.hours.curve, anew.hours.curve)


def test_nothing_is_searched_again_where_no_row_is_set_aside(known, demo) -> None:
    made = carried_to(known, demo.as_of)
    assert made.doubts is known.doubts
    assert all(a.screened is b.screened for a, b in zip(made.fits, known.fits, strict=True))
    assert all(
        a.one.readings.shell_tau_now_kh is not b.one.readings.shell_tau_now_kh
        for a, b in zip(made.fits, known.fits, strict=True)
    )


def test_a_date_that_sets_rows_aside_is_forecast_anew(known, demo_records) -> None:
    early = dt.date(2024, 6, 1)
    made, anew = carried_to(known, early), wearcast.forecast(demo_records, early)
    pd.testing.assert_frame_equal(made.table, anew.table, check_exact=True)
    assert len(made.history.readings) < len(known.history.readings)
