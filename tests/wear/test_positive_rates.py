"""That all rates are above 0 at once: against draws from full matrices that are thrown away where one is not."""

import numpy as np
import pytest
from scipy import stats
from simulate import FleetPlan, draw_fleet

from wearcast.wear.chances import probability_beyond
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.positive_rates import positive_rates
from wearcast.wear.priors import Priors

PRIORS = Priors()


def test_independent_rates_multiply():
    """Loadings 0: the chance is the product, and the class rate stays standard normal."""
    rate, variance = np.array([[0.5, -0.2, 1.0]]), np.array([[1.0, 0.5, 2.0]])
    found = positive_rates(rate, variance, np.zeros((1, 3)), np.ones(1))
    expected = stats.norm.cdf(rate / np.sqrt(variance)).prod()
    assert np.exp(found.log_chance[0]) == pytest.approx(expected, rel=1e-9)
    np.testing.assert_allclose(found.mean, 0.0, atol=1e-9)
    np.testing.assert_allclose(found.sd, 1.0, rtol=1e-6)


@pytest.mark.parametrize("loading", [0.3, 0.9])
def test_rates_that_hang_on_the_class_rate_alone(loading):
    """Equicorrelated rates about 0: the orthant by scipy, and the tilt of the class rate by quadrature."""
    m = 5
    with_class = np.full((1, m), loading)
    found = positive_rates(np.zeros((1, m)), np.ones((1, m)), with_class, np.ones(1))
    correlation = np.full((m, m), loading**2) + (1 - loading**2) * np.eye(m)
    orthant = stats.multivariate_normal(np.zeros(m), correlation, seed=1).cdf(np.zeros(m))
    assert np.exp(found.log_chance[0]) == pytest.approx(orthant, rel=2e-3)
    f = np.linspace(-8, 8, 4001)
    density = stats.norm.pdf(f) * stats.norm.cdf(loading * f / np.sqrt(1 - loading**2)) ** (m - 1)
    density /= density.sum()
    assert found.mean[0, 0] == pytest.approx(density @ f, rel=1e-6)
    assert found.sd[0, 0] ** 2 == pytest.approx(density @ f**2 - (density @ f) ** 2, rel=1e-6)


def test_young_sisters_wear_faster_than_each_alone_would_say(full_model):
    """Chances of the limit given that no rate is negative, against 400 000 draws of all levels and rates.

    Eight shells read once or twice: with each shell's own truncation alone the chances fall short by nine
    points on average, with the class rate tilted they are one off.
    """
    plan = FleetPlan(
        n_engines=2, n_positions=4, n_openings=2, most_readings=2, renewal_share=0.0, measured_new_share=0.0
    )
    fleet = draw_fleet(plan, PRIORS, np.random.default_rng(7))
    data = fleet.readings
    found = estimate(data, PRIORS, averaged_below_engines=0)
    mean, covariance = full_model(data, found.terms, found.sigma, PRIORS).level_and_rate()
    n = data.n_series
    rng = np.random.default_rng(1)
    draws = rng.multivariate_normal(
        mean.ravel(), covariance.reshape(2 * n, 2 * n), 400_000, method="cholesky"
    ).reshape(-1, n, 2)
    draws = draws[(draws[:, :, 1] > 0).all(axis=1)]
    assert 5_000 < len(draws) < 390_000
    limit = np.full((n, 1), 50.0)
    sigma_b = found.sigma[found.terms.index("uneven_wear")]
    off_all, off_alone = [], []
    for h in (20.0, 40.0, 80.0):
        hours = np.full((n, 1), h)
        path = sigma_b * np.sqrt(h) * rng.normal(size=draws.shape[:2])
        wear = draws[:, :, 0] + draws[:, :, 1] * h + path
        # What is left of running-in after these hours is taken by the posterior alone: under 0.1 µm.
        expected = (wear >= 50.0).mean(axis=0)
        off_all.append(probability_beyond(posterior(data, found), hours, limit)[:, 0] - expected)
        alone = posterior(data, found, rates_above_zero=False)
        off_alone.append(probability_beyond(alone, hours, limit)[:, 0] - expected)
    assert np.abs(off_all).max() < 0.045
    assert np.mean(off_alone) < -0.05
    assert np.abs(off_all).mean() < 0.25 * np.abs(off_alone).mean()
