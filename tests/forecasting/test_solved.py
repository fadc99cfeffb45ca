"""A forecast made again from fits that were written down: the same table, nothing searched."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import wearcast

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


@pytest.fixture(scope="module")
def made():
    return wearcast.forecast(wearcast.read(LINERS, dt.date(2026, 1, 1)))


def masks(one):
    return {name: getattr(one.screened, name) for name in ("left_out", "towards", "quickened")}


def test_the_same_fits_give_the_same_table(made):
    held = [one.held_at(one.theta, masks(one), made.settings.priors) for one in made.classes]
    pd.testing.assert_frame_equal(replace(made, classes=tuple(held)).table, made.table, check_exact=True)


def test_other_fits_give_another_table(made):
    one = made.classes[0]
    wider = replace(one.theta, sigma_points=1.5 * one.theta.sigma_points)
    again = one.held_at(wider, masks(one), made.settings.priors)
    other = replace(made, classes=(again, *made.classes[1:]))
    assert (other.table["estimate_u_um"] != made.table["estimate_u_um"]).all()
