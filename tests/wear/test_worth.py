"""The worth of a reading in closed form, against reading it many times over."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from simulate import FleetPlan, draw_fleet

from wearcast.wear.known import Known
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.priors import Priors
from wearcast.wear.worth import worth_of_opening

RISK = 0.10


@pytest.fixture(scope="module")
def known() -> Known:
    """A fleet with its standard deviations plugged in, so that everything is normal."""
    priors = Priors()
    readings = draw_fleet(
        FleetPlan(n_engines=3, fewest_readings=3), priors, np.random.default_rng(5)
    ).readings
    plugged = mode_only(readings, priors, estimate(readings, priors))
    current = np.array([np.flatnonzero((readings.shell_engine == e) & (readings.shell_position == p))[-1]
                        for e in range(3) for p in range(7)])  # fmt: skip
    asked = np.flatnonzero(np.isin(readings.series_shell, current))
    known = Known(readings, plugged, asked)
    known.__dict__["posterior"] = posterior(readings, plugged, asked, rates_above_zero=False)
    return known


def test_the_chance_that_a_reading_changes_the_plan(known: Known) -> None:
    """Draw level and rate, a reading of the level at the window, and condition on it: a plain second way."""
    years, until = np.full(21, 1.0), np.full(21, 2.5)
    found = worth_of_opening(known, known.hours, np.full(21, 5.0), years, until, RISK)
    mean, covariance = known.posterior.moments()
    sigma_b = float(known.posterior.sigma_b[0, 0])
    noise = float(known.posterior.error_sd[0] ** 2 + known.posterior.opening_sd[0] ** 2)
    rng, n = np.random.default_rng(2), 60_000
    for k in range(0, 21, 4):
        level, rate, _ = rng.multivariate_normal(mean[k], covariance[k], n).T
        at_window = level + rate * 5.0 + rng.normal(0, sigma_b * np.sqrt(5.0), n)
        reading = at_window + rng.normal(0, np.sqrt(noise), n)
        later = at_window + rate * 7.5 + rng.normal(0, sigma_b * np.sqrt(7.5), n)
        joint = np.cov(later, reading)
        told = later.mean() + joint[0, 1] / joint[1, 1] * (reading - reading.mean())
        left = np.sqrt(joint[0, 0] - joint[0, 1] ** 2 / joint[1, 1])
        calls = norm.sf((known.posterior.limit_um[k] - told) / left) > RISK
        assert found.calls[k] == pytest.approx(calls.mean(), abs=0.02)


def test_a_reading_never_widens_and_is_worth_nothing_where_it_cannot_be_taken(known: Known) -> None:
    years = np.full(21, 1.0)
    years[3] = np.nan
    found = worth_of_opening(known, known.hours, np.full(21, 5.0), years, np.full(21, 2.0), RISK)
    assert np.isnan(found.narrows[3])
    assert np.isnan(found.calls[3])
    rest = np.delete(found.narrows, 3)
    assert ((rest > 0) & (rest < 1)).all()
