"""The block solver against the same model in full matrices, and its gradient against differences."""

from dataclasses import replace

import numpy as np
import pytest

from wearcast.wear.pooled import terms_of
from wearcast.wear.pooled.layout import build_layout
from wearcast.wear.pooled.likelihood import log_likelihood, log_likelihood_and_gradient
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.priors import Priors

PRIORS = Priors()
CASES = [
    {},
    {"engines": 1},
    {"engines": 2, "positions": 1, "points": 1},
    {"engines": 5, "points": 3, "seed": 3},
    {"engines": 1, "positions": 1, "points": 1, "openings": 1, "seed": 5},
]


def laid_out(data):
    terms = terms_of(data, PRIORS)
    return terms, build_layout(data, terms, np.unique(data.shell_position))


def some_sigma(terms, n, seed=1):
    rng = np.random.default_rng(seed)
    return terms.medians * np.exp(0.6 * rng.normal(size=(n, len(terms.medians))))


@pytest.mark.parametrize("case", CASES)
def test_likelihood_is_that_of_full_matrices(make_class, full_model, case):
    data = make_class(**case)
    terms, layout = laid_out(data)
    sigma = some_sigma(terms, 3)
    expected = [full_model(data, terms, s, PRIORS).log_likelihood() for s in sigma]
    np.testing.assert_allclose(log_likelihood(layout, sigma), expected, rtol=1e-10)


@pytest.mark.parametrize("case", CASES)
def test_gradient_is_that_of_differences(make_class, case):
    data = make_class(**case)
    terms, layout = laid_out(data)
    sigma = some_sigma(terms, 2)
    value, gradient = log_likelihood_and_gradient(layout, sigma)
    np.testing.assert_allclose(value, log_likelihood(layout, sigma), rtol=1e-12)
    step = 1e-5
    for k in range(len(terms.variances)):
        shift = np.exp(step * np.eye(len(terms.variances))[k])
        slope = (log_likelihood(layout, sigma * shift) - log_likelihood(layout, sigma / shift)) / (2 * step)
        np.testing.assert_allclose(gradient[:, k], slope, rtol=1e-5, atol=1e-6)


def test_gradient_of_the_correlation_is_that_of_differences(make_class):
    data = make_class(points=1)
    data = replace(data, shell_delta_sd_um=np.full(data.n_shells, np.nan))
    terms = terms_of(data, PRIORS, correlated=True)
    layout = build_layout(data, terms, np.unique(data.shell_position))
    sigma, rho = some_sigma(terms, 2), np.array([0.4, -0.7])
    _, gradient = log_likelihood_and_gradient(layout, sigma, rho)
    step = 1e-6
    slope = (log_likelihood(layout, sigma, rho + step) - log_likelihood(layout, sigma, rho - step)) / (
        2 * step
    )
    np.testing.assert_allclose(gradient[:, -1], slope, rtol=1e-5)
    for name in ("new_wall", "shell_rate"):
        shift = np.exp(1e-5 * (np.arange(len(terms.variances)) == terms.index(name)))
        slope = (
            log_likelihood(layout, sigma * shift, rho) - log_likelihood(layout, sigma / shift, rho)
        ) / 2e-5
        np.testing.assert_allclose(gradient[:, terms.index(name)], slope, rtol=1e-5)


def test_blocks_of_many_sizes_add_up(make_class, full_model, monkeypatch):
    """With padding to several sizes the answer is the same as with padding to one."""
    data = make_class(engines=6, points=3, seed=8)
    terms = terms_of(data, PRIORS)
    positions = np.unique(data.shell_position)
    one = build_layout(data, terms, positions)
    monkeypatch.setattr(
        "wearcast.wear.pooled.layout._bucket_sizes", lambda counts: [int(counts.max()), 8, 4, 1]
    )
    several = build_layout(data, terms, positions)
    assert len(one.buckets) == 1
    assert len(several.buckets) == 4
    sigma = some_sigma(terms, 2)
    for a, b in zip(
        log_likelihood_and_gradient(one, sigma), log_likelihood_and_gradient(several, sigma), strict=True
    ):
        np.testing.assert_allclose(a, b, rtol=1e-9)


@pytest.mark.parametrize("engines_at_once", [1, 2, 4])
def test_engines_may_be_taken_in_parts(make_class, engines_at_once):
    data = make_class(engines=5, points=1)
    terms, layout = laid_out(data)
    sigma = some_sigma(terms, 2)
    pieces = list(solved_parts(data, terms, sigma, engines_at_once=engines_at_once))
    assert len(pieces) == -(-5 // engines_at_once)
    np.testing.assert_allclose(pieces[0].common.log_likelihood, log_likelihood(layout, sigma), rtol=1e-11)
    rows = np.sort(np.concatenate([p.part.reading_rows for p in pieces]))
    np.testing.assert_array_equal(rows, np.arange(data.n_readings))


def test_order_of_the_readings_does_not_matter(make_class):
    data = make_class(points=2)
    terms, layout = laid_out(data)
    order = np.random.default_rng(2).permutation(data.n_readings)
    names = ("z_um", "tau_kh", "u_um", "step_um", "series", "opening", "is_new_wall")
    shuffled = replace(data, **{name: getattr(data, name)[order] for name in names})
    sigma = some_sigma(terms, 2)
    np.testing.assert_allclose(
        log_likelihood(laid_out(shuffled)[1], sigma), log_likelihood(layout, sigma), rtol=1e-11
    )


def test_a_class_without_readings_has_likelihood_one(make_class):
    data = make_class()
    none = data.only(np.zeros(data.n_readings, dtype=bool))
    terms, layout = laid_out(none)
    value, gradient = log_likelihood_and_gradient(layout, some_sigma(terms, 2))
    np.testing.assert_allclose(value, 0.0, atol=1e-9)
    np.testing.assert_allclose(gradient, 0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("tau_kh", np.array([np.nan]), "not finite"),
        ("tau_kh", np.array([-1.0]), "negative"),
        ("series", np.array([3]), "outside its table"),
        ("z_um", np.array([1.0, 2.0]), "expected 2"),
        ("allowance_um", 0.0, "must be positive"),
        ("is_new_wall", np.array([True]), "new wall"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(make_class, field, value, said):
    data = make_class(engines=1, positions=1, points=1, openings=1, seed=5)
    assert data.n_readings == 1
    with pytest.raises(ValueError, match=said):
        replace(data, **{field: value})
