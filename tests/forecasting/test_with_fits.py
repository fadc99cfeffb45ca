"""A forecast made again from fits that were written down: the same table, nothing searched."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import wearcast
from wearcast.forecasting.run import with_fits
from wearcast.wear.pooled import Theta, estimate_at

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


@pytest.fixture(scope="module")
def made():
    return wearcast.forecast(wearcast.read(LINERS, dt.date(2026, 1, 1)))


def test_the_same_fits_give_the_same_table(made):
    fits = []
    for fit in made.fits:
        kept = fit.one.readings.only(~fit.screened.left_out)
        again = estimate_at(kept, made.settings.priors, Theta.of(fit.screened.estimate))
        fits.append(replace(fit, screened=replace(fit.screened, estimate=again)))
    pd.testing.assert_frame_equal(with_fits(made, tuple(fits)).table, made.table, check_exact=True)


def test_other_fits_give_another_table(made):
    fit = made.fits[0]
    theta = Theta.of(fit.screened.estimate)
    wider = replace(theta, sigma_points=1.5 * theta.sigma_points)
    kept = fit.one.readings.only(~fit.screened.left_out)
    again = estimate_at(kept, made.settings.priors, wider)
    other = with_fits(made, (replace(fit, screened=replace(fit.screened, estimate=again)), *made.fits[1:]))
    assert (other.table["estimate_u_um"] != made.table["estimate_u_um"]).all()
