"""Hours of dates on which nobody read the dial: straight between readings, and how well they are known."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.lives.dated_hours import hours_on_dates
from wearcast.lives.hours import Use

YEAR = 365.25
USE = Use(5000.0, 500.0, 4.0, "")


def test_hours_and_their_spread_agree_with_drawn_years() -> None:
    """Four years of use drawn year by year and tied to what the dial showed at both ends."""
    draws = np.random.default_rng(20261128).normal(5000.0, 500.0, size=(200_000, 4))
    total = draws.sum(axis=1)
    tied = draws[:, :1].sum(axis=1) - 0.25 * (
        total - 20_000.0
    )  # the regression on the sum takes its part out
    hours, sd = hours_on_dates(np.array([365]), np.array([0, 1461]), np.array([0.0, 20_000.0]), np.nan, USE)
    assert hours[0] == pytest.approx(tied.mean(), rel=0.002)
    assert sd[0] == pytest.approx(tied.std(), rel=0.02)


def test_a_date_with_a_dial_reading_has_its_hours() -> None:
    hours, sd = hours_on_dates(np.array([10, 20]), np.array([10, 20]), np.array([5.0, 240.0]), np.nan, USE)
    assert hours.tolist() == [5.0, 240.0]
    assert sd.tolist() == [0.0, 0.0]


def test_before_the_first_reading_hours_begin_in_service() -> None:
    known = (np.array([1461]), np.array([20_000.0]))
    assert np.isnan(hours_on_dates(np.array([730]), *known, np.nan, USE)[0]).all()
    hours, sd = hours_on_dates(np.array([730]), *known, 0.0, USE)
    assert hours[0] == pytest.approx(20_000.0 * 730 / 1461)
    assert sd[0] > 0


def test_beyond_the_last_reading_no_hours_are_made_up() -> None:
    hours, _ = hours_on_dates(np.array([1500]), np.array([0, 1461]), np.array([0.0, 20_000.0]), 0.0, USE)
    assert np.isnan(hours).all()


def test_without_a_yearly_use_a_tenth_of_the_use_in_the_gap_is_its_spread() -> None:
    unknown = Use(np.nan, np.nan, np.nan, "")
    _, sd = hours_on_dates(np.array([730]), np.array([0, 1461]), np.array([0.0, 20_000.0]), np.nan, unknown)
    assert sd[0] == pytest.approx(500.0 * np.sqrt(4 * 0.25), rel=0.01)
