"""Joint draws: margins those of the forecast, dependence that of the posterior."""

import numpy as np
import pytest

from wearcast.wear.crossing import hours_to_limit
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.draws import joint_draws
from wearcast.wear.priors import Priors

PRIORS = Priors()


def in_service(data):
    """The last shell of every place, and its series."""
    place = data.shell_engine * 1000 + data.shell_position
    last = [np.flatnonzero(place == p).max() for p in np.unique(place)]
    return np.flatnonzero(np.isin(data.series_shell, last))


@pytest.mark.parametrize("points", [1, 3])
def test_margins_are_those_of_the_forecast(make_class, points):
    """Share of 20 000 draws (seed 3) within the stated hours of each shell."""
    data = make_class(engines=2, positions=3, points=points)
    found, series = estimate(data, PRIORS), in_service(data)
    drawn = joint_draws(posterior(data, found, series), found, 20_000, np.random.default_rng(3))
    made = hours_to_limit(posterior(data, found, series))
    np.testing.assert_array_equal(drawn.shell, made.shell)
    assert (drawn.rate_um_per_kh > 0).all()
    for m in range(len(made.shell)):
        for q, h in zip(made.probabilities, made.hours_kh[m], strict=True):
            if h > 0:
                share = (drawn.hours_kh[:, m] <= h).mean()
                assert share == pytest.approx(q, abs=0.012 if points == 1 else 0.02)


def test_dependence_between_shells_is_that_of_full_matrices(make_class, full_model):
    """Levels and rates of shells of one engine and of sisters, untruncated where rates are clear of 0."""
    data = make_class(engines=2, positions=3, points=1, seed=9)
    found, series = estimate(data, PRIORS, averaged_below_engines=0), in_service(data)
    drawn = joint_draws(posterior(data, found, series), found, 60_000, np.random.default_rng(1))
    _, covariance = full_model(data, found.terms, found.sigma, PRIORS).level_and_rate()
    level = covariance[np.ix_(series, [0], series, [0])][:, 0, :, 0]
    expected = level / np.sqrt(np.outer(np.diag(level), np.diag(level)))
    np.testing.assert_allclose(np.corrcoef(drawn.level_um.T), expected, atol=0.06)
    rate = covariance[np.ix_(series, [1], series, [1])][:, 0, :, 0]
    expected = rate / np.sqrt(np.outer(np.diag(rate), np.diag(rate)))
    # Rates above 0 are a little less alike than untruncated ones.
    np.testing.assert_allclose(np.corrcoef(drawn.rate_um_per_kh.T), expected, atol=0.2)


def test_needs_of_one_engine_move_together(make_class):
    """The count of early limits scatters more than independent shells with the same chances would."""
    data = make_class(engines=2, positions=5, points=1, openings=2, seed=2)
    found, series = estimate(data, PRIORS), in_service(data)
    drawn = joint_draws(posterior(data, found, series), found, 20_000, np.random.default_rng(5))
    early = drawn.hours_kh < np.median(drawn.hours_kh[np.isfinite(drawn.hours_kh)])
    chance = early.mean(axis=0)
    assert early.sum(axis=1).var() > 1.2 * (chance * (1 - chance)).sum()


def test_the_same_seed_gives_the_same_draws(make_class):
    data = make_class(engines=2, points=1)
    found, series = estimate(data, PRIORS), in_service(data)
    one, two = (
        joint_draws(posterior(data, found, series), found, 200, np.random.default_rng(8)) for _ in range(2)
    )
    np.testing.assert_array_equal(one.hours_kh, two.hours_kh)


def test_two_shells_of_one_place_are_refused(make_class):
    data = make_class(engines=2, points=1)
    found = estimate(data, PRIORS)
    with pytest.raises(ValueError, match="two shells of one place"):
        joint_draws(posterior(data, found), found, 10, np.random.default_rng(0))


def test_hours_to_the_limit_are_the_first_crossing_of_the_path() -> None:
    """Against `scipy.optimize.brentq` from the first of many steps that stands past the limit."""
    from scipy.optimize import brentq

    from wearcast.wear.pooled.draws import LONGEST_KH, _Path

    rng = np.random.default_rng(21)
    n, limit = 400, 50.0
    path = _Path(
        level=rng.uniform(0, 52, n),
        rate=rng.uniform(0.05, 2.0, n),
        alpha=rng.choice([0.0, 1.0], n) * rng.normal(3, 4, n),
        uneven=rng.normal(0, 1.0, n),
        scale=1.0,
    )
    found = path.hours_to(np.full(n, limit))
    steps = np.r_[0.0, np.geomspace(1e-6, LONGEST_KH, 4000)]
    several = 0
    for k in range(n):
        one = path.some(np.arange(n) == k)
        short = path.some(np.full(len(steps), k)).wear(steps) < limit
        crossings = np.flatnonzero(np.diff(short.astype(int)))
        if not short[0]:
            assert found[k] == 0.0
        elif short[-1]:
            assert found[k] == np.inf
        elif len(crossings) > 1:
            several += 1  # a path that comes back: any of its crossings
            assert one.wear(found[[k]])[0] == pytest.approx(limit, abs=1e-6)
        else:
            low, high = steps[crossings[0]], steps[crossings[0] + 1]
            exact = brentq(lambda h, one=one: one.wear(np.array([h]))[0] - limit, low, high, xtol=1e-12)
            assert found[k] == pytest.approx(exact, abs=5e-10)
    assert several < 0.02 * n
