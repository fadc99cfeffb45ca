"""The mode, the points around it, and classes with next to nothing in them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from simulate import FleetPlan, draw_fleet

from wearcast.wear.crossing import hours_to_limit
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.layout import build_layout
from wearcast.wear.pooled.likelihood import log_likelihood
from wearcast.wear.pooled.theta_points import central_composite, theta_points
from wearcast.wear.priors import Priors

PRIORS = Priors()


def log_posterior(data, terms, x):
    layout = build_layout(data, terms, np.unique(data.shell_position))
    return log_likelihood(layout, terms.medians * np.exp(terms.log_sd * x)) - 0.5 * (x**2).sum(1)


@pytest.mark.parametrize("engines", [1, 2, 5])
def test_mode_is_the_highest_point_around(make_class, engines):
    data = make_class(engines=engines)
    found = estimate(data, PRIORS)
    assert found.found
    mode = np.log(found.sigma / found.terms.medians) / found.terms.log_sd
    rng = np.random.default_rng(3)
    around = mode + rng.choice([0.01, 0.3, 2.0], (200, 1)) * rng.normal(size=(200, len(mode)))
    heights = log_posterior(data, found.terms, around)
    assert heights.max() <= found.objective + 1e-7
    assert found.objective == pytest.approx(log_posterior(data, found.terms, mode[None])[0])


def test_mode_is_the_same_from_any_scaling_of_the_lengths(make_class):
    """µm or tenths of mm: the search runs on standardised logarithms."""
    data = make_class(engines=2, points=1)
    factor = 1e-3
    lengths = ("z_um", "u_um", "step_um", "series_limit_um", "shell_delta_sd_um")
    scaled = {name: factor * getattr(data, name) for name in lengths}
    small = replace(
        data, **scaled, allowance_um=factor * data.allowance_um, default_u_um=factor * data.default_u_um
    )
    one, other = estimate(data, PRIORS), estimate(small, PRIORS)
    np.testing.assert_allclose(other.sigma, factor * one.sigma, rtol=1e-4)
    np.testing.assert_allclose(other.weights, one.weights, rtol=1e-2, atol=1e-4)


def test_without_readings_the_standard_deviations_are_their_prior(make_class):
    """No readings: mode at the medians, and points with the moments of the prior."""
    data = make_class(points=1)
    none = data.only(np.zeros(data.n_readings, dtype=bool))
    found = estimate(none, PRIORS)
    np.testing.assert_allclose(found.sigma, found.terms.medians, rtol=1e-4)
    np.testing.assert_allclose(found.hessian, np.eye(len(found.sigma)), atol=1e-5)
    x = np.log(found.sigma_points / found.terms.medians) / found.terms.log_sd
    np.testing.assert_allclose(found.weights @ x, 0.0, atol=1e-4)
    np.testing.assert_allclose(np.einsum("t,ti,tj->ij", found.weights, x, x), np.eye(x.shape[1]), atol=1e-4)


@pytest.mark.parametrize("d", [1, 2, 3, 7, 8, 9, 11])
def test_central_composite_points_have_the_moments_of_a_normal(d):
    """Means 0, covariances the identity, third moments 0, fourth moments 3 and 1."""
    z, weights = central_composite(d)
    assert weights.sum() == pytest.approx(1.0)
    assert (weights > 0).all()
    np.testing.assert_allclose(weights @ z, 0.0, atol=1e-12)
    np.testing.assert_allclose(np.einsum("t,ti,tj->ij", weights, z, z), np.eye(d), atol=1e-12)
    np.testing.assert_allclose(np.einsum("t,ti,tj,tk->ijk", weights, z, z, z), 0.0, atol=1e-12)
    fourth = np.einsum("t,ti,tj->ij", weights, z**2, z**2)
    np.testing.assert_allclose(fourth, 1.0 + 2.0 * np.eye(d), atol=1e-12)


def test_points_integrate_a_gaussian_off_centre_exactly():
    """On a Gaussian density the weights are those of the design, whatever its mode and shape."""
    rng = np.random.default_rng(0)
    root = rng.normal(size=(4, 4))
    hessian, mode = root @ root.T + 2 * np.eye(4), rng.normal(size=4)

    def log_density(x):
        return -0.5 * np.einsum("ti,ij,tj->t", x - mode, hessian, x - mode) + 12.0

    x, weights, log_integral = theta_points([(mode, hessian)], log_density)
    np.testing.assert_allclose(weights @ x, mode, atol=1e-10)
    spread = np.einsum("t,ti,tj->ij", weights, x - mode, x - mode)
    np.testing.assert_allclose(spread, np.linalg.inv(hessian), atol=1e-10)
    assert log_integral == pytest.approx(12.0 - np.linalg.slogdet(hessian)[1] / 2)  # less 2 log 2π


def test_two_modes_share_the_weight_as_they_integrate():
    """0.3 N(−4, 1) + 0.7 N(4, ¼): the points around each carry its share."""

    def log_density(x):
        return np.log(0.3 * stats.norm.pdf(x[:, 0], -4, 1) + 0.7 * stats.norm.pdf(x[:, 0], 4, 0.5))

    modes = [(np.array([-4.0]), np.array([[1.0]])), (np.array([4.0]), np.array([[4.0]]))]
    x, weights, log_integral = theta_points(modes, log_density)
    assert log_integral == pytest.approx(-np.log(2 * np.pi) / 2, abs=0.01)  # a density integrates to 1
    assert weights[x[:, 0] < 0].sum() == pytest.approx(0.3, abs=0.01)
    assert weights @ x[:, 0] == pytest.approx(0.3 * -4 + 0.7 * 4, abs=0.1)


def test_average_over_the_points_is_that_over_many_random_ones():
    """Stated chances against importance sampling with 6000 draws; a plug-in is 1 to 3 points off."""
    fleet = draw_fleet(FleetPlan(n_engines=2), PRIORS, np.random.default_rng(12))
    data, asked = fleet.readings, fleet.current
    found = estimate(data, PRIORS)
    made = hours_to_limit(posterior(data, found, asked))
    mode = np.log(found.sigma / found.terms.medians) / found.terms.log_sd
    rng = np.random.default_rng(5)
    root = 1.1 * np.linalg.cholesky(np.linalg.inv(found.hessian))
    z = rng.standard_t(8, size=(6000, len(mode)))
    x = mode + z @ root.T
    log_weight = log_posterior(data, found.terms, x) - stats.t(8).logpdf(z).sum(1)
    weights = np.exp(log_weight - log_weight.max())
    kept = weights > weights.max() * 1e-4
    many = replace(
        found,
        sigma_points=found.terms.medians * np.exp(found.terms.log_sd * x[kept]),
        weights=weights[kept] / weights[kept].sum(),
    )
    assert 1 / (many.weights**2).sum() > 400
    exact = hours_to_limit(posterior(data, many, asked))
    closed = np.where(np.isnan(made.hours_kh) | (made.hours_kh == 0), 1.0, made.hours_kh)
    counted = ~np.isnan(made.hours_kh) & (made.hours_kh > 0)
    off = np.where(counted, exact.probability_before(closed) - made.probabilities, np.nan)
    assert np.nanmax(np.abs(off)) < 0.03
    assert np.abs(np.nanmean(off, axis=0)).max() < 0.012


def test_many_engines_are_plugged_in_and_few_are_averaged(make_class):
    data = make_class(engines=3, positions=2, points=1)
    assert len(estimate(data, PRIORS, averaged_below_engines=4).weights) > 10
    assert len(estimate(data, PRIORS, averaged_below_engines=3).weights) == 1


def test_big_classes_are_estimated_on_a_seeded_subset(make_class):
    data = make_class(engines=6, points=1)
    some = estimate(data, PRIORS, subset_engines=3, seed=4)
    again = estimate(data, PRIORS, subset_engines=3, seed=4)
    other = estimate(data, PRIORS, subset_engines=3, seed=5)
    assert some.n_engines == 3
    np.testing.assert_array_equal(some.sigma, again.sigma)
    assert not np.allclose(some.sigma, other.sigma, rtol=1e-3)
    made = posterior(data, some)
    assert made.mean.shape[1] == data.n_series


def test_search_from_a_similar_class_ends_at_the_same_mode(make_class):
    data = make_class(engines=3)
    whole = estimate(data, PRIORS)
    near = estimate(data.only(np.arange(data.n_readings) != 4), PRIORS)
    np.testing.assert_allclose(mode_only(data, PRIORS, near).sigma, whole.sigma, rtol=2e-3)


def test_true_spread_is_found_in_a_large_fleet():
    """Simulation with a seed: standard deviations of 300 engines within a quarter of the truth."""
    fleet = draw_fleet(FleetPlan(n_engines=300, fewest_readings=4), PRIORS, np.random.default_rng(8))
    found = estimate(fleet.readings, PRIORS)
    # σ_γ is told by seven positions alone and σ_s by the few renewed shells.
    for name in ("reading_error", "place_rate", "engine_rate", "opening_error"):
        ratio = found.sigma[found.terms.index(name)] / fleet.sigma[name]
        assert 0.75 < ratio < 1.33, (name, ratio)


@pytest.mark.parametrize(
    "case",
    [
        {"engines": 1},
        {"positions": 1, "engines": 2},
        {"engines": 1, "positions": 1, "points": 1, "openings": 1, "seed": 5},
    ],
)
def test_next_to_nothing_gives_a_wide_forecast_and_no_failure(make_class, case):
    data = make_class(**case)
    made = hours_to_limit(posterior(data, estimate(data, PRIORS)))
    assert len(made.shell) == data.n_shells
    hours = np.where(np.isnan(made.hours_kh), np.inf, made.hours_kh)
    assert (np.diff(hours, axis=1)[np.isfinite(hours[:, :-1])] >= 0).all()
    assert ((hours[:, -1] > 1.5 * hours[:, 0]) | (hours[:, -1] == 0)).all()
