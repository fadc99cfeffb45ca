"""Changes of wear solved together, and carried to other readings of a class, are those of one at a time."""

from dataclasses import replace

import numpy as np
import pytest
from changed_fleets import TRUTHS, draw_class

from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.clock import Clock, Kind, Part, Scope, clocked
from wearcast.wear.pooled.clock_carried import carried_to
from wearcast.wear.pooled.clock_scores import series_rates
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.layout import build_layout, spread
from wearcast.wear.pooled.problem import Problem
from wearcast.wear.priors import Priors

PRIORS = Priors()
STEP = Clock(Part(Kind.STEP, Scope.ENGINE, label=1, date=4), np.log(2.0))
AGE = Clock(Part(Kind.AGE), np.log(1.3))


@pytest.fixture(scope="module")
def readings():
    return draw_class(TRUTHS["ordinary"], np.random.default_rng(3)).readings


def test_several_clocks_in_one_layout_are_as_likely_as_each_alone(readings):
    terms, positions = mode_only(readings, PRIORS).terms, np.unique(readings.shell_position)
    worn = [clocked(readings, clock)[0] for clock in (STEP, AGE)]
    which = np.array([0, 0, 1])
    x = np.random.default_rng(1).normal(0, 0.5, (3, len(terms.variances)))
    together = Problem(terms, spread(build_layout(readings, terms, positions, worn), which)).with_gradient(x)
    for k, number in enumerate(which):
        alone = Problem(terms, build_layout(worn[number], terms, positions)).with_gradient(x[[k]])
        for one, other in zip(together, alone, strict=True):
            np.testing.assert_allclose(one[k], other[0], rtol=1e-9, atol=1e-9)


def test_posterior_of_several_clocks_is_that_of_each(readings):
    found = estimate(readings, PRIORS)
    depth = Clock(Part(Kind.DEPTH, depth=0.4), np.log(2.0), series_rates(readings, found.terms, found.sigma))
    clocks, n = (STEP, AGE, depth), len(found.weights)
    mixed = replace(
        found,
        clocks=clocks,
        set_clock=np.repeat(np.arange(3), n),
        sigma_points=np.tile(found.sigma_points, (3, 1)),
        weights=np.tile(found.weights / 3, 3),
    )
    rows = np.arange(0, readings.n_series, 5)
    whole = posterior(readings, mixed, rows)
    for k, clock in enumerate(clocks):
        alone = posterior(readings, replace(found, clocks=(clock,), set_clock=np.zeros(n, dtype=int)), rows)
        for name in ("mean", "covariance", "wall_mean", "class_pull", "sigma_b"):
            mine = getattr(whole, name)[k * n : (k + 1) * n]
            np.testing.assert_allclose(mine, getattr(alone, name), rtol=1e-8, atol=1e-10, err_msg=name)


def test_a_change_is_carried_by_day_and_engine_not_by_number(readings):
    """A year later another engine comes first and other days are looked at: the change stays where it was found."""
    before = readings.calendar
    found = replace(mode_only(readings, PRIORS), clocks=(STEP,))
    later = replace(
        before,
        years=np.r_[before.years[0] - 1.0, before.years],
        engines=np.arange(len(before.engines) + 1),
        hours_kh=np.pad(before.hours_kh, ((1, 0), (1, 0))),
        vessel=np.r_[0, before.vessel + 1],
        recorded=np.r_[False, before.recorded],
        touches=np.pad(before.touches, ((1, 0), (1, 0))),
        positions=(),
    )
    now = replace(readings, shell_engine=readings.shell_engine + 1, calendar=later)
    carried = carried_to(found, before, now, before.engines + 1)
    assert carried is not None
    assert carried.clocks[0].part == replace(STEP.part, label=2, date=5)
    np.testing.assert_allclose(
        clocked(now, carried.clocks[0])[0].tau_kh, clocked(readings, STEP)[0].tau_kh, rtol=1e-12
    )
    other = replace(now, calendar=replace(later, years=later.years + 0.3))
    assert carried_to(found, before, other, before.engines + 1) is None
