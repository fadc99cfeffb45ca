"""The own line: its rules, its odd cases, and statsmodels series by series."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, t
from statsmodels.regression.linear_model import OLS, WLS

from wearcast.wear.own_line import band_um, fit_lines

NAN = np.nan


def fit(tau, z, u=None):
    n = len(tau)
    return fit_lines(tau, z, [NAN] * n if u is None else u, [0] * n, 1)


def fleet(seed, n_series=60, stated=0.5):
    """Series of 0-7 readings of walls and growths, some with a u for every reading, some for a few, some none."""
    rng = np.random.default_rng(seed)
    count = rng.integers(0, 8, n_series)
    series = np.repeat(np.arange(n_series), count)
    tau = rng.uniform(2, 60, series.size)
    z = rng.normal(50, 20, n_series)[series] + rng.normal(4, 2, n_series)[series] * tau
    u = rng.uniform(3, 25, series.size)
    z += rng.normal(size=series.size) * u
    kind = rng.random(n_series)
    u[(kind > stated)[series]] = NAN
    u[(kind < 0.1)[series] & (rng.random(series.size) < 0.5)] = NAN
    order = rng.permutation(series.size)
    return tau[order], z[order], u[order], series[order], n_series


def quantile(result, upper):
    """Normal where the stated u allow the scatter, else Student's."""
    wide = result.df_resid > 0 and result.scale > 1
    return t.ppf(upper, result.df_resid) if wide else norm.ppf(upper)


def statsmodels_line(tau, z, u):
    """Intercept, rate, their u, covariance and the rate's 90 % interval, by the general library."""
    design = np.column_stack([np.ones(len(tau)), tau])
    if np.isnan(u).any():
        result = OLS(z, design).fit()
        lo, hi = result.conf_int(alpha=0.10)[1]
        cov = result.cov_params()
    else:
        result = WLS(z, design, weights=u**-2.0).fit()
        cov = result.normalized_cov_params * (max(1.0, result.scale) if len(tau) > 2 else 1.0)
        half = quantile(result, 0.95) * np.sqrt(cov[1, 1])
        lo, hi = result.params[1] - half, result.params[1] + half
    return *result.params, np.sqrt(cov[0, 0]), np.sqrt(cov[1, 1]), cov[0, 1], lo, hi


@pytest.mark.parametrize("seed", range(5))
def test_grouped_result_is_statsmodels_series_by_series(seed):
    tau, z, u, series, n = fleet(seed)
    lines = fit_lines(tau, z, u, series, n)
    seen = 0
    for i in range(n):
        mine = series == i
        if mine.sum() < 2 or (mine.sum() == 2 and np.isnan(u[mine]).any()):
            continue
        seen += 1
        found = (
            lines.intercept_um[i],
            lines.rate_um_per_kh[i],
            lines.intercept_u_um[i],
            lines.rate_u_um_per_kh[i],
            lines.covariance_um2_per_kh[i],
            lines.rate_lo90[i],
            lines.rate_hi90[i],
        )
        assert found == pytest.approx(statsmodels_line(tau[mine], z[mine], u[mine]), rel=1e-8, abs=1e-8)
    assert seen > 25


def test_no_readings_at_all():
    lines = fit_lines([], [], [], [], 3)
    assert list(lines.readings) == [0, 0, 0]
    assert np.isnan(lines.rate_um_per_kh).all()
    assert np.isnan(lines.rate_lo90).all()
    assert fit_lines([], [], [], [], 0).rate_um_per_kh.shape == (0,)


def test_one_reading_gives_no_line():
    for u in (NAN, 5.0):
        line = fit([10], [50], [u])
        assert line.readings[0] == 1
        assert np.isnan([line.rate_um_per_kh[0], line.rate_u_um_per_kh[0], line.degrees_of_freedom[0]]).all()
        assert not line.known_u[0]


@pytest.mark.parametrize("tau", [10.0, 0.1, 12.3456789, 0.0])
def test_equal_hours_give_no_line(tau):
    """0.1 and 12.3456789 do not average to themselves in doubles; that must not pass for a spread."""
    for n in (2, 3, 7):
        for u in (None, [5.0] * n):
            line = fit([tau] * n, list(np.linspace(40, 60, n)), u)
            assert np.isnan([line.rate_um_per_kh[0], line.rate_lo90[0], line.intercept_um[0]]).all()


def test_two_readings_without_stated_uncertainty_give_a_rate_only():
    line = fit([10, 30], [50, 110])
    assert line.rate_um_per_kh[0] == pytest.approx(3.0, rel=1e-14)
    assert line.intercept_um[0] == pytest.approx(20.0, rel=1e-14)
    assert line.degrees_of_freedom[0] == 0
    assert np.isnan([line.rate_u_um_per_kh[0], line.rate_lo90[0], line.rate_hi90[0]]).all()


def test_two_readings_with_stated_uncertainty_give_an_interval():
    line = fit([10, 30], [50, 110], [10, 10])
    assert line.rate_u_um_per_kh[0] == pytest.approx(np.hypot(10, 10) / 20, rel=1e-14)
    assert line.rate_lo90[0] == pytest.approx(3 - norm.ppf(0.95) * np.sqrt(200) / 20, rel=1e-12)


def test_one_reading_without_stated_uncertainty_makes_the_line_ordinary():
    tau, z = [5, 10, 20, 30], [20, 60, 70, 130]
    mixed, plain = fit(tau, z, [1, 1, 50, NAN]), fit(tau, z)
    assert not mixed.known_u[0]
    assert mixed.rate_um_per_kh[0] == plain.rate_um_per_kh[0]
    assert mixed.rate_u_um_per_kh[0] == plain.rate_u_um_per_kh[0]


def test_known_variances_are_widened_by_scatter_and_never_narrowed():
    tau = np.array([5.0, 10, 20, 30])
    noise = np.array([1.0, -2, 2, -1])
    calm, wild = fit(tau, 4 * tau + noise, [10.0] * 4), fit(tau, 4 * tau + 100 * noise, [10.0] * 4)
    bare = 10 / np.sqrt(np.sum((tau - tau.mean()) ** 2))
    assert calm.widening[0] == 1
    assert calm.rate_u_um_per_kh[0] == pytest.approx(bare, rel=1e-13)
    result = OLS(4 * tau + 100 * noise, np.column_stack([np.ones(4), tau])).fit()
    assert wild.widening[0] == pytest.approx(np.sqrt(result.ssr / 100 / 2), rel=1e-12)
    assert wild.rate_u_um_per_kh[0] == pytest.approx(bare * wild.widening[0], rel=1e-13)
    assert calm.quantile()[0] == pytest.approx(norm.ppf(0.95))
    assert wild.quantile()[0] == pytest.approx(t.ppf(0.95, 2))


@pytest.mark.parametrize("n", [3, 4, 5])
def test_ninety_percent_holds_where_true_errors_are_twice_the_stated(n):
    """Normal quantiles held 76 to 80 % here; plain simulation, no outside source."""
    n_series, rng = 20_000, np.random.default_rng(n)
    tau = np.tile(np.linspace(10.0, 40.0, n), n_series)
    z = 2.0 * tau + rng.normal(0, 8.0, tau.size)
    lines = fit_lines(tau, z, np.full(tau.size, 4.0), np.repeat(np.arange(n_series), n), n_series)
    held = np.mean((lines.rate_lo90 <= 2.0) & (lines.rate_hi90 >= 2.0))
    assert 0.83 < held < 0.97  # n = 3: where the scatter happens to look calm, normal quantiles stand


@pytest.mark.parametrize("z", [[0.1] * 3, [0.1] * 6, [0.7] * 7, [7.3] * 5, [0.0] * 4])
def test_equal_readings_give_a_rate_of_exactly_zero(z):
    """Some of these do not average to themselves in doubles; that must not pass for wear."""
    line = fit([5.1, 9.7, 17.3, 26.9, 34.2, 40.1, 44.4][: len(z)], z)
    assert line.rate_um_per_kh[0] == 0
    assert line.residual_sd_um[0] == 0


def test_readings_on_a_line_have_no_scatter():
    line = fit([0.1, 0.2, 0.3], [0.7, 1.4, 2.1])
    assert line.rate_um_per_kh[0] == pytest.approx(7, rel=1e-13)
    assert line.residual_sd_um[0] == 0


def test_large_hours_do_not_cost_the_figures():
    """The same spread of 3 kh seen from 0 and from 10^6 kh."""
    tau, z = np.array([0.0, 1, 2, 3]), np.array([1.0, 2.5, 2.0, 4.0])
    near, far = fit(tau, z), fit(tau + 1e6, z)
    assert far.rate_um_per_kh[0] == pytest.approx(near.rate_um_per_kh[0], rel=1e-12)
    assert far.rate_u_um_per_kh[0] == pytest.approx(near.rate_u_um_per_kh[0], rel=1e-12)


@pytest.mark.parametrize(
    ("tau", "z", "u", "series", "words"),
    [
        ([1, 2], [1.0], [NAN, NAN], [0, 0], "one value a reading"),
        ([1, 2], [1.0, 2.0], [NAN], [0, 0], "one u a reading"),
        ([[1, 2]], [[1.0, 2.0]], [[NAN, NAN]], [[0, 0]], "one value a reading"),
        ([1, NAN], [1.0, 2.0], [NAN, NAN], [0, 0], "finite"),
        ([1, 2], [1.0, np.inf], [NAN, NAN], [0, 0], "finite"),
        ([1, 2], [1.0, 2.0], [0.0, 1.0], [0, 0], "above zero"),
        ([1, 2], [1.0, 2.0], [-1.0, NAN], [0, 0], "above zero"),
        ([1, 2], [1.0, 2.0], [np.inf, 1.0], [0, 0], "above zero"),
        ([1, 2], [1.0, 2.0], [NAN, NAN], [0, 1], "0 … 0"),
        ([1, 2], [1.0, 2.0], [NAN, NAN], [-1, 0], "0 … 0"),
        ([1, 2], [1.0, 2.0], [NAN, NAN], [0.0, 0.0], "whole numbers"),
    ],
)
def test_what_is_no_reading_is_refused(tau, z, u, series, words):
    with pytest.raises(ValueError, match=words):
        fit_lines(tau, z, u, series, 1)


@pytest.mark.parametrize("coverage", [0.0, 1.0, -0.1, 90])
def test_coverage_must_be_a_probability(coverage):
    with pytest.raises(ValueError, match="coverage"):
        fit([1, 2, 3], [1, 2, 4]).quantile(coverage)


def test_band_is_the_interval_of_the_mean_at_each_hour():
    tau, z = np.array([3.0, 10, 22, 31]), np.array([15.0, 38, 95, 118])
    grid = np.array([0.0, 10, 40])
    design = np.column_stack([np.ones(4), tau])
    for u in (None, np.array([4.0, 5, 6, 7])):
        lower, line, upper = band_um(fit(tau, z, u), 0, grid, coverage=0.8)
        if u is None:
            seen = OLS(z, design).fit().get_prediction(np.column_stack([np.ones(3), grid]))
            expected = seen.conf_int(alpha=0.2)
            assert line == pytest.approx(seen.predicted_mean, rel=1e-12)
        else:
            result = WLS(z, design, weights=u**-2.0).fit()
            cov = result.normalized_cov_params * max(1.0, result.scale)
            at = np.column_stack([np.ones(3), grid])
            half = quantile(result, 0.9) * np.sqrt(np.einsum("ij,jk,ik->i", at, cov, at))
            expected = np.column_stack([at @ result.params - half, at @ result.params + half])
        assert np.column_stack([lower, upper]) == pytest.approx(expected, rel=1e-10)


def test_band_of_two_readings_without_uncertainty_is_a_bare_line():
    lower, line, upper = band_um(fit([10, 30], [50, 110]), 0, [10, 20])
    assert line == pytest.approx([50, 80], rel=1e-14)
    assert np.isnan([lower, upper]).all()


# --- invariances -----------------------------------------------------------------------------------------


def same(one, other, level_scale=1.0, hour_shift=0.0):
    """Two fits of one thing: rates and their u scale with wear, levels move along the line."""
    close = {"rtol": 1e-7, "atol": 1e-7 * level_scale, "equal_nan": True}
    for name in ("rate_um_per_kh", "rate_u_um_per_kh", "z_mean_um", "z_mean_u_um", "rate_lo90", "rate_hi90"):
        np.testing.assert_allclose(getattr(other, name), getattr(one, name) * level_scale, **close)
    np.testing.assert_allclose(other.tau_mean_kh, one.tau_mean_kh + hour_shift, rtol=1e-9, atol=1e-9)
    np.testing.assert_array_equal(other.degrees_of_freedom, one.degrees_of_freedom)
    np.testing.assert_array_equal(other.known_u, one.known_u)


seeds = st.integers(0, 2**32 - 1)


@given(seed=seeds)
@settings(deadline=None, derandomize=True, max_examples=40)
def test_order_of_rows_changes_nothing(seed):
    tau, z, u, series, n = fleet(seed, 15)
    order = np.random.default_rng(seed).permutation(series.size)
    same(fit_lines(tau, z, u, series, n), fit_lines(tau[order], z[order], u[order], series[order], n))


@given(seed=seeds, factor=st.sampled_from([1e-3, 25.4, 1000.0]))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_unit_of_wear_scales_everything(seed, factor):
    tau, z, u, series, n = fleet(seed, 15)
    same(fit_lines(tau, z, u, series, n), fit_lines(tau, z * factor, u * factor, series, n), factor)


@given(seed=seeds, shift=st.floats(-500, 500))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_shifted_hours_leave_rates_alone(seed, shift):
    tau, z, u, series, n = fleet(seed, 15)
    same(fit_lines(tau, z, u, series, n), fit_lines(tau + shift, z, u, series, n), hour_shift=shift)


@given(seed=seeds)
@settings(deadline=None, derandomize=True, max_examples=40)
def test_numbering_of_series_is_a_name_only(seed):
    tau, z, u, series, n = fleet(seed, 15)
    new = np.random.default_rng(seed).permutation(n)
    one, other = fit_lines(tau, z, u, series, n), fit_lines(tau, z, u, new[series], n)
    np.testing.assert_array_equal(other.rate_um_per_kh[new], one.rate_um_per_kh)
    np.testing.assert_array_equal(other.rate_hi90[new], one.rate_hi90)


@given(seed=seeds, rate=st.floats(-20, 20), level=st.floats(-100, 100))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_a_line_added_to_the_readings_is_added_to_the_fit(seed, rate, level):
    tau, z, u, series, n = fleet(seed, 15)
    one, other = fit_lines(tau, z, u, series, n), fit_lines(tau, z + level + rate * tau, u, series, n)
    np.testing.assert_allclose(other.rate_um_per_kh, one.rate_um_per_kh + rate, atol=1e-6)
    np.testing.assert_allclose(other.rate_u_um_per_kh, one.rate_u_um_per_kh, rtol=1e-5, atol=1e-6)


@pytest.mark.parametrize("stated", [False, True])
def test_interval_of_the_rate_holds_the_truth_nine_times_in_ten(stated):
    """Simulation, seed 20: 20 000 series of 4 readings; binomial 3.5 sd is 0.75 points."""
    rng = np.random.default_rng(20)
    n, k = 20_000, 4
    tau = rng.uniform(2, 60, (n, k))
    u = rng.uniform(5, 20, (n, k)) if stated else np.full((n, k), 12.0)
    z = 30 + 5 * tau + rng.normal(size=(n, k)) * u
    u_given = u if stated else np.full((n, k), NAN)
    lines = fit_lines(tau.ravel(), z.ravel(), u_given.ravel(), np.repeat(np.arange(n), k), n)
    covered = np.mean((lines.rate_lo90 <= 5) & (lines.rate_hi90 >= 5))
    if stated:  # widening by the scatter only ever adds
        assert 0.90 - 0.0075 < covered < 0.96
    else:
        assert abs(covered - 0.90) < 0.0075
