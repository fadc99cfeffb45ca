"""A gauge that reads thick for ever: its bias against full matrices, and what tells it."""

from dataclasses import replace

import numpy as np
import pytest

from wearcast.wear.pooled import estimate, posterior, terms_of
from wearcast.wear.pooled.likelihood import log_likelihood, log_likelihood_and_gradient
from wearcast.wear.pooled.problem import Problem
from wearcast.wear.priors import Priors

PRIORS = Priors()


def named(data, by):
    """The class with gauges: one an engine, one of all engines, or one an opening."""
    engine = data.shell_engine[data.reading_shell]
    labels = {"engine": engine, "class": 0 * engine, "both": np.where(engine == engine.min(), 1, 0)}
    return replace(data, gauge=np.where(data.opening >= 0, labels[by], -1).astype(int))


@pytest.mark.parametrize("by", ["engine", "class", "both"])
def test_likelihood_level_and_rate_are_those_of_full_matrices(make_class, full_model, by):
    data = named(make_class(engines=3, points=2), by)
    found = estimate(data, PRIORS, averaged_below_engines=0)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    layout = Problem.of(data, data, PRIORS).layout
    assert log_likelihood(layout, found.sigma[None])[0] == pytest.approx(full.log_likelihood(), abs=1e-6)
    mean, covariance = full.level_and_rate()
    known = posterior(data, found, rates_above_zero=False)
    assert known.mean[0, :, :2] == pytest.approx(mean, abs=1e-6)
    own = covariance[np.arange(data.n_series), :, np.arange(data.n_series)]
    assert known.covariance[0, :, :2, :2] == pytest.approx(own, rel=1e-6, abs=1e-6)


def test_gradient_leaves_the_known_spread_of_gauges_out(make_class):
    data = named(make_class(engines=3, points=1), "engine")
    problem = Problem.of(data, data, PRIORS)
    sigma = problem.terms.medians[None]
    gradient = log_likelihood_and_gradient(problem.layout, sigma)[1][0]
    for k in range(sigma.shape[1]):
        step = np.ones(sigma.shape[1])
        step[k] = 1 + 1e-5
        rise = log_likelihood(problem.layout, sigma * step) - log_likelihood(problem.layout, sigma / step)
        assert gradient[k] == pytest.approx(rise[0] / (2 * np.log(1 + 1e-5)), rel=1e-4, abs=1e-4)


def test_gauges_of_several_engines_are_columns_while_they_are_few(make_class):
    data = make_class(engines=3, points=1)
    assert "gauge_0" in terms_of(named(data, "class"), PRIORS).coefficients
    assert not any("gauge" in name for name in terms_of(named(data, "engine"), PRIORS).coefficients)
    many = replace(data, gauge=np.arange(data.n_readings) % 9)
    assert not any("gauge" in name for name in terms_of(many, PRIORS).coefficients)
    assert not any("gauge" in name for name in terms_of(named(data, "class"), None).coefficients)


def test_a_gauge_read_at_one_opening_has_no_bias_beside_the_openings_error(make_class):
    data = make_class(engines=2, points=1)
    once = replace(data, gauge=data.opening.copy())
    assert Problem.of(once, once, PRIORS).layout.n_gauges == 0
