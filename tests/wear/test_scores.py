"""Scores against published values and two other programs; counts against exact rationals and a textbook."""

from fractions import Fraction

import numpy as np
import pytest
from counts import count_quantile, poisson_binomial
from scipy import stats

from wearcast.wear.scores import clustered_mean, pinball_loss, pit


def test_pinball_loss_is_least_at_the_true_quantile():
    draws = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    grid = np.linspace(-2.5, 2.5, 501)
    for level in (0.05, 0.5, 0.9):
        losses = [pinball_loss(draws, np.full((len(draws), 1), g), np.array([level])).mean() for g in grid]
        assert grid[int(np.argmin(losses))] == pytest.approx(stats.norm.ppf(level), abs=0.011)


def test_pinball_over_all_levels_is_half_the_crps(reference):
    """CRPS = 2 ∫ pinball dq (Laio & Tamea 2007, Hydrol. Earth Syst. Sci. 11, 1267-1277): scoringrules 0.10.0."""
    levels = (np.arange(20_000) + 0.5) / 20_000
    for case in reference("crps_interval")["reference"]["normal"]:
        quantiles = stats.norm.ppf(levels, case["mu"], case["sigma"])[None]
        found = 2 * pinball_loss(np.array([case["y"]]), quantiles, levels).mean()
        assert found == pytest.approx(case["scoringrules"], rel=1e-4)


def test_randomised_pit_of_a_right_discrete_forecast_is_uniform():
    rng = np.random.default_rng(9)
    counts = rng.poisson(2.0, 20_000)
    values = pit(stats.poisson.cdf(counts - 1, 2.0), stats.poisson.cdf(counts, 2.0), rng)
    assert stats.kstest(values, "uniform").pvalue > 0.01


def test_clustered_error_is_the_plain_one_for_single_values():
    values = np.random.default_rng(1).normal(size=50)
    mean, error = clustered_mean(values, np.arange(50))
    assert mean == pytest.approx(values.mean())
    assert error == pytest.approx(values.std(ddof=1) / np.sqrt(50), rel=1e-12)


def test_copies_within_a_cluster_tell_nothing_new():
    values = np.random.default_rng(1).normal(size=50)
    _, once = clustered_mean(values, np.arange(50))
    _, copied = clustered_mean(np.repeat(values, 9), np.repeat(np.arange(50), 9))
    assert copied == pytest.approx(once, rel=1e-12)


def test_one_cluster_or_none_has_no_error():
    assert np.isnan(clustered_mean(np.array([1.0, 2.0]), np.array([7, 7]))[1])
    assert np.isnan(clustered_mean(np.zeros(0), np.zeros(0, dtype=int))[0])


@pytest.mark.parametrize("name", ["a", "b", "c"])
def test_poisson_binomial_against_exact_rationals(reference, name):
    case = reference("poisson_binomial")
    expected = case["reference"][name]
    chances = np.array([float(Fraction(p)) for p in case["inputs"][name]])
    found = poisson_binomial(chances)
    np.testing.assert_allclose(found, expected["pmf"], rtol=1e-12)
    np.testing.assert_allclose(np.cumsum(found), expected["cdf"], rtol=1e-12)
    k = np.arange(len(found))
    assert k @ found == pytest.approx(expected["mean"])
    assert (k**2) @ found - (k @ found) ** 2 == pytest.approx(expected["var"])
    for level, count in expected["quantiles"].items():
        assert count_quantile(found, float(Fraction(level))) == count


def test_spares_for_constant_demand(reference):
    """Blanchard's example: 20 parts at 0.1 failures per 1000 h for 2160 h need 8 spares at 95 %.

    Demand of many parts with small chances is nearly Poisson, so the exact count of 20 parts renewed at most
    ten times each must give the textbook's answer too.
    """
    case = reference("blanchard_spares")
    table = np.diff(case["reference"]["cdf"], prepend=0.0)
    assert count_quantile(table, case["inputs"]["service_level"]) == case["published"]["spares"]
    cells = 20 * 2160
    many = poisson_binomial(np.full(4000, case["inputs"]["rate_per_h"] * cells / 4000))
    np.testing.assert_allclose(np.cumsum(many)[:13], case["reference"]["cdf"], atol=5e-4)
    assert count_quantile(many, case["inputs"]["service_level"]) == case["published"]["spares"]


def test_no_needs_and_certain_needs():
    assert poisson_binomial(np.zeros(0)).tolist() == [1.0]
    assert count_quantile(poisson_binomial(np.ones(3)), 0.95) == 3
    with pytest.raises(ValueError, match="outside 0 to 1"):
        poisson_binomial(np.array([0.2, 1.2]))
    with pytest.raises(ValueError, match="less than"):
        count_quantile(np.array([0.5, 0.3]), 0.9)
