"""Diagnostics of one series, and the robust rates of many, against statsmodels and scipy used directly."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import theilslopes
from statsmodels.regression.linear_model import OLS
from statsmodels.robust.robust_linear_model import RLM

from wearcast.wear.diagnose import diagnose, least_squares
from wearcast.wear.own_line import fit_lines
from wearcast.wear.robust import huber_rates, theil_sen_rates

NAN = np.nan
TAU = np.array([3.0, 9, 17, 26, 34])
Z = np.array([20.0, 31, 80, 98, 150])


def test_own_line_of_the_diagnostics_is_the_grouped_one():
    for u in ([NAN] * 5, [4.0, 5, 6, 7, 8], [40.0] * 5, [4.0, NAN, 6, 7, 8]):
        lines, own = fit_lines(TAU, Z, u, [0] * 5, 1), diagnose(TAU, Z, u).own
        found = (
            own.intercept_um,
            own.intercept_u_um,
            own.rate_um_per_kh,
            own.rate_u_um_per_kh,
            own.rate_lo,
            own.rate_hi,
        )
        expected = [
            getattr(lines, name)[0]
            for name in (
                "intercept_um",
                "intercept_u_um",
                "rate_um_per_kh",
                "rate_u_um_per_kh",
                "rate_lo90",
                "rate_hi90",
            )
        ]
        assert found == pytest.approx(expected, rel=1e-10)


def test_left_out_residual_is_what_leaving_out_gives():
    """The slow way: take each reading out, fit again, predict it."""
    seen = diagnose(TAU, Z, [NAN] * 5)
    for i in range(5):
        kept = np.arange(5) != i
        without = OLS(Z[kept], np.column_stack([np.ones(4), TAU[kept]])).fit()
        ahead = without.get_prediction([[1, TAU[i]]])
        error = np.hypot(ahead.se_mean[0], np.sqrt(without.scale))
        assert seen.left_out_residual[i] == pytest.approx((Z[i] - ahead.predicted_mean[0]) / error, rel=1e-9)
    assert seen.leverage.sum() == pytest.approx(2, rel=1e-12)
    assert seen.residual_um.sum() == pytest.approx(0, abs=1e-9)


def test_left_out_residual_with_stated_uncertainty_uses_it():
    u = np.array([4.0, 5, 6, 7, 8])
    seen = diagnose(TAU, Z, u)
    for i in range(5):
        kept = np.arange(5) != i
        without = fit_lines(TAU[kept], Z[kept], u[kept], [0] * 4, 1)
        predicted = without.intercept_um[0] + without.rate_um_per_kh[0] * TAU[i]
        bare = without.widening[0]
        d_tau = TAU[i] - without.tau_mean_kh[0]
        mean_u = np.hypot(without.z_mean_u_um[0], without.rate_u_um_per_kh[0] * d_tau) / bare
        assert seen.left_out_residual[i] == pytest.approx(
            (Z[i] - predicted) / np.hypot(mean_u, u[i]), rel=1e-9
        )


def test_three_readings_have_no_left_out_scatter():
    assert np.isnan(diagnose(TAU[:3], Z[:3], [NAN] * 3).left_out_residual).all()
    assert np.isfinite(diagnose(TAU[:3], Z[:3], [5.0] * 3).left_out_residual).all()


@pytest.mark.parametrize(
    ("tau", "z", "u"),
    [
        ([1, 2], [1, 2], [NAN] * 2),
        ([2, 2, 2], [1, 2, 3], [NAN] * 3),
        ([1, 2, NAN], [1, 2, 3], [NAN] * 3),
        ([1, 2, 3], [1, 2, 3], [0.0, 1, 1]),
        ([1, 2, 3], [1, 2, 3], [1.0]),
    ],
)
def test_what_cannot_be_diagnosed_is_refused(tau, z, u):
    with pytest.raises(ValueError, match=r"three readings|finite|u a reading"):
        diagnose(tau, z, u)


def test_more_coefficients_than_readings_are_refused():
    with pytest.raises(ValueError, match="coefficients"):
        least_squares(np.ones((2, 2)), [1, 2])


def many(seed, n_series=50):
    rng = np.random.default_rng(seed)
    count = rng.integers(0, 9, n_series)
    series = np.repeat(np.arange(n_series), count)
    tau = rng.uniform(2, 60, series.size).round(1)
    z = 30 + 5 * tau + 8 * rng.standard_t(3, series.size)
    order = rng.permutation(series.size)
    return tau[order], z[order], series[order], n_series


@pytest.mark.parametrize("seed", range(4))
def test_theil_sen_of_many_series_is_scipy_series_by_series(seed):
    tau, z, series, n = many(seed)
    rates = theil_sen_rates(tau, z, series, n)
    for i in range(n):
        mine = series == i
        if np.unique(tau[mine]).size < 2:
            assert np.isnan(rates[i])
        else:
            assert rates[i] == pytest.approx(theilslopes(z[mine], tau[mine]).slope, rel=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_huber_of_many_series_is_statsmodels_series_by_series(seed):
    tau, z, series, n = many(seed)
    rates = huber_rates(tau, z, series, n)
    seen = 0
    for i in range(n):
        mine = series == i
        if mine.sum() >= 3 and np.isfinite(rates[i]):
            seen += 1
            design = np.column_stack([np.ones(mine.sum()), tau[mine]])
            slow = RLM(z[mine], design).fit(maxiter=300, tol=1e-10).params[1]
            assert rates[i] == pytest.approx(slow, rel=1e-5)
        elif np.unique(tau[mine]).size < 2:
            assert np.isnan(rates[i])
    assert seen > 20


def test_huber_says_nothing_where_its_rounds_do_not_settle():
    """Four readings on a line and one far out at the end: statsmodels still moves after 3000 rounds."""
    tau, z = [10, 20, 30, 40, 50], [50, 100, 150, 200, 900]
    assert np.isnan(huber_rates(tau, z, [0] * 5, 1)[0])
    assert theil_sen_rates(tau, z, [0] * 5, 1)[0] == 5


def test_huber_of_readings_on_a_line_and_of_two_readings_is_the_line():
    assert huber_rates([10, 20, 30, 40], [50, 100, 150, 200], [0] * 4, 1)[0] == pytest.approx(5, rel=1e-12)
    assert huber_rates([10, 30], [50, 110], [0, 0], 1)[0] == pytest.approx(3, rel=1e-12)


def test_robust_rates_without_readings():
    for rates in (theil_sen_rates, huber_rates):
        assert np.isnan(rates([], [], [], 2)).all()
        assert np.isnan(rates([5, 5], [1, 2], [0, 0], 1)).all()
        with pytest.raises(ValueError, match="finite"):
            rates([5, NAN], [1, 2], [0, 0], 1)


@given(seed=st.integers(0, 2**32 - 1), factor=st.sampled_from([1e-3, 1000.0]))
@settings(deadline=None, derandomize=True, max_examples=25)
def test_robust_rates_do_not_mind_units_or_order(seed, factor):
    tau, z, series, n = many(seed, 12)
    order = np.random.default_rng(seed).permutation(series.size)
    for rates in (theil_sen_rates, huber_rates):
        one = rates(tau, z, series, n)
        other = rates(tau[order], z[order] * factor, series[order], n)
        np.testing.assert_allclose(other, one * factor, rtol=1e-6)


def test_own_lines_do_not_import_the_slow_libraries():
    code = (
        "import sys, wearcast.wear.own_line, wearcast.wear.inverse, wearcast.wear.robust, wearcast.wear.diagnose;"
        "slow = {'scipy.stats', 'statsmodels', 'pandas', 'sklearn'} & set(sys.modules); assert not slow, slow"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
