"""An estimate written down and taken up again: same forecast, same objective, nothing searched."""

from dataclasses import replace

import numpy as np
import pytest

from wearcast.wear.crossing import hours_to_limit
from wearcast.wear.pooled import Theta, estimate, estimate_at, posterior
from wearcast.wear.priors import Priors

PRIORS = Priors()


def test_the_recorded_standard_deviations_give_the_same_forecast(make_class):
    data = make_class(engines=3)
    found = estimate(data, PRIORS)
    again = estimate_at(data, PRIORS, Theta.of(found))
    assert again.objective == pytest.approx(found.objective, abs=1e-9)
    assert again.gradient_norm < 2e-4
    assert again.found == found.found
    assert again.strained == found.strained
    shells = np.arange(data.n_series)
    before = hours_to_limit(posterior(data, found, shells), (0.1, 0.5, 0.9))
    after = hours_to_limit(posterior(data, again, shells), (0.1, 0.5, 0.9))
    np.testing.assert_array_equal(before.hours_kh, after.hours_kh)


def test_other_standard_deviations_stand_lower(make_class):
    data = make_class(engines=3)
    found = estimate(data, PRIORS)
    for k in range(len(found.sigma)):
        moved = found.sigma.copy()
        moved[k] *= np.exp(0.1 * found.terms.log_sd)
        lower = estimate_at(data, PRIORS, replace(Theta.of(found), sigma=moved))
        assert found.objective - lower.objective > 1e-4


def test_a_big_class_is_judged_on_the_engines_it_was_estimated_on(make_class):
    data = make_class(engines=6)
    found = estimate(data, PRIORS, subset_engines=4, seed=5)
    again = estimate_at(data, PRIORS, Theta.of(found), subset_engines=4, seed=5)
    assert again.objective == pytest.approx(found.objective, abs=1e-9)
    assert again.n_engines == found.n_engines == 4


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda theta: {"variances": theta.variances[::-1]}, "call for the standard deviations"),
        (lambda theta: {"sigma": theta.sigma[:-1]}, "in every set"),
        (lambda theta: {"weights": theta.weights[:0]}, "one weight a set"),
        (lambda theta: {"sigma": 0.0 * theta.sigma}, "above 0"),
    ],
)
def test_what_does_not_fit_the_class_is_refused(make_class, change, text):
    data = make_class(engines=1)
    theta = Theta.of(estimate(data, PRIORS))
    with pytest.raises(ValueError, match=text):
        estimate_at(data, PRIORS, replace(theta, **change(theta)))
