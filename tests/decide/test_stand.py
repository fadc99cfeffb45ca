"""Carrying a forecast to one date takes over doubts and estimates, and gives what forecasting anew gives."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import wearcast
from wearcast.decide.stand import stand_of


@pytest.fixture(scope="module")
def known(demo_records):
    return wearcast.forecast(demo_records)


def test_a_forecast_carried_to_a_date_is_that_of_the_records_at_that_date(known, demo_records) -> None:
    made = stand_of(known)
    assert {engine.as_of for engine in known.history.engines.values()} != {made.as_of}
    anew = wearcast.forecast(demo_records, made.as_of)
    pd.testing.assert_frame_equal(made.forecast.table, anew.table, check_exact=True)
    assert made.forecast.queries == anew.queries
    assert made.forecast.assumptions == anew.assumptions
    for mine, theirs in zip(made.forecast.classes, anew.classes, strict=True):
        np.testing.assert_array_equal(mine.hours.curve, theirs.hours.curve)


def test_nothing_is_carried_where_the_engines_stand_already(known, demo) -> None:
    made = known.at(demo.as_of)
    assert made is known.at(demo.as_of)
    assert made.at(demo.as_of) is made


def test_nothing_is_searched_again_where_no_row_is_set_aside(known, demo) -> None:
    made = known.at(demo.as_of)
    assert made.doubts is known.doubts
    assert all(a.screened is b.screened for a, b in zip(made.classes, known.classes, strict=True))
    assert all(
        a.one.readings.shell_tau_now_kh is not b.one.readings.shell_tau_now_kh
        for a, b in zip(made.classes, known.classes, strict=True)
    )


def test_a_date_that_sets_rows_aside_is_forecast_anew(known, demo_records) -> None:
    early = dt.date(2024, 6, 1)
    made, anew = known.at(early), wearcast.forecast(demo_records, early)
    pd.testing.assert_frame_equal(made.table, anew.table, check_exact=True)
    assert len(made.history.readings) < len(known.history.readings)
