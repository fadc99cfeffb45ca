"""Chances of the limit against quadrature, simulation, a published first-passage law, and themselves."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from wearcast.wear.any_point import any_of, common_factor
from wearcast.wear.chances import both_below, probability_beyond
from wearcast.wear.crossing import HoursToLimit, hours_to_limit
from wearcast.wear.pooled import ClassReadings, Posterior, estimate, posterior
from wearcast.wear.priors import Priors

PRIORS = Priors()


def one_shell(tau_now=20.0, limits=(50.0,), known=True):
    """A shell without readings, only to carry hours and limits."""
    n = len(limits)
    return ClassReadings(
        z_um=np.zeros(0),
        tau_kh=np.zeros(0),
        u_um=np.zeros(0),
        step_um=np.zeros(0),
        series=np.zeros(0, dtype=int),
        opening=np.zeros(0, dtype=int),
        is_new_wall=np.zeros(0, dtype=bool),
        series_shell=np.zeros(n, dtype=int),
        series_group=np.minimum(np.arange(n), 1),
        series_limit_um=np.array(limits, dtype=float),
        shell_engine=np.zeros(1, dtype=int),
        shell_position=np.ones(1, dtype=int),
        shell_fitting_known=np.array([known]),
        shell_tau_now_kh=np.array([tau_now]),
        shell_delta_sd_um=np.array([4.0]),
        allowance_um=50.0,
        default_u_um=6.0,
    )


def known_posterior(mean, covariance, sigma_b=0.0, weights=(1.0,), **shell):
    """A posterior with given moments; mean (T, S, 3), covariance (T, S, 3, 3)."""
    mean, covariance = np.asarray(mean, dtype=float), np.asarray(covariance, dtype=float)
    t, s = mean.shape[:2]
    zero = np.zeros(t)
    return Posterior(
        weights=np.asarray(weights, dtype=float),
        sigma_b=np.broadcast_to(np.reshape(np.asarray(sigma_b, dtype=float), (-1, 1)), (t, s)),
        opening_sd=zero,
        error_sd=zero,
        stated_error_sd=zero,
        mean=mean,
        covariance=covariance,
        pair=np.zeros((0, 2), dtype=int),
        pair_covariance=np.zeros((t, 0, 3, 3)),
        wall_mean=np.zeros((t, s)),
        class_pull=np.zeros((t, s, 3)),
        readings=one_shell(**shell),
        series=np.arange(s),
        running_in_kh=1.0,
    )


def test_two_normals_below_their_bounds_agree_with_scipy():
    rng = np.random.default_rng(0)
    x, y, rho = rng.normal(size=300), rng.normal(size=300), rng.uniform(-0.999, 0.999, 300)
    expected = [
        stats.multivariate_normal([0, 0], [[1, r], [r, 1]]).cdf([a, b])
        for a, b, r in zip(x, y, rho, strict=True)
    ]
    np.testing.assert_allclose(both_below(x, y, rho), expected, atol=1e-10)


@pytest.mark.parametrize("rho", [-0.9, 0.0, 0.3, 0.99])
def test_two_normals_below_their_means(rho):
    """Sheppard (1899): P = 1/4 + arcsin(ρ)/2π at the means."""
    expected = 0.25 + np.arcsin(rho) / (2 * np.pi)
    assert both_below(np.zeros(1), np.zeros(1), np.array([rho]))[0] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("rate_mean", [0.05, 0.4, 1.2])
@pytest.mark.parametrize("h", [0.0, 0.7, 5.0, 40.0, 180.0])
def test_chance_is_the_integral_over_the_truncated_rate(rate_mean, h):
    """Level given rate is N(m + κ(b − b̄), v − κ²s²), and α likewise: the integral taken by quadrature."""
    mean = np.array([22.0, rate_mean, 3.0])
    root = np.array([[4.0, 0.0, 0.0], [0.1, 0.35, 0.0], [1.5, 0.3, 2.0]])
    cov = root @ root.T
    tau, sigma_b, limit = 0.8, 0.8, 50.0
    made = known_posterior([[mean]], [[cov]], sigma_b, tau_now=tau)
    found = probability_beyond(made, np.array([[h]]), np.array([[limit]]))[0, 0]
    gain = np.exp(-tau) * (1 - np.exp(-h))
    s2 = cov[1, 1]
    kappa, alpha_slope = cov[0, 1] / s2, cov[2, 1] / s2
    level_left = cov[0, 0] - kappa**2 * s2
    alpha_left = cov[2, 2] - alpha_slope**2 * s2
    both_left = cov[0, 2] - kappa * alpha_slope * s2

    def integrand(b):
        level = mean[0] + kappa * (b - mean[1])
        alpha = mean[2] + alpha_slope * (b - mean[1])
        extra = gain**2 * alpha_left + 2 * gain * both_left
        sd = np.sqrt(level_left + sigma_b**2 * h + extra)
        chance = stats.norm.cdf((level + b * h + alpha * gain - limit) / sd)
        return chance * stats.norm.pdf(b, mean[1], np.sqrt(s2))

    top = mean[1] + 12 * np.sqrt(s2)
    expected = integrate.quad(integrand, 0, top, limit=400, epsabs=1e-13)[0]
    expected /= stats.norm.sf(0, mean[1], np.sqrt(s2))
    assert found == pytest.approx(expected, abs=1e-8)


def test_wiener_wear_stands_past_its_limit_less_often_than_it_first_touches_it(reference):
    """Published first-passage law: its chance is ours plus the reflected paths that came back.

    Inverse Gaussian cdf = Φ((vh − m)/σ√h) + e^{2vm/σ²} Φ(−(vh + m)/σ√h); the first term is the chance that
    the path stands past the limit at h.
    """
    case = reference("inverse_gaussian")
    given, expected = case["wiener_inputs"], case["wiener"]
    m, v, s2 = 1000 * given["margin_mm"], 1000 * given["drift_mm_per_kh"], 1e6 * given["sigma2_mm2_per_kh"]
    hours = np.array(expected["t_kh"])
    made = known_posterior([[[0.0, v, 0.0]]], [[np.diag([1e-12, 1e-12, 0.0])]], np.sqrt(s2), limits=(m,))
    ours = probability_beyond(made, hours[None], np.array([[m]]))[0]
    returned = np.exp(2 * v * m / s2) * stats.norm.cdf(-(v * hours + m) / np.sqrt(s2 * hours))
    np.testing.assert_allclose(ours + returned, expected["cdf"], rtol=1e-7)


def test_quantiles_solve_the_chance_exactly():
    made = known_posterior([[[20.0, 0.9, 0.0]]], [[np.diag([9.0, 0.05, 0.0])]], 0.8)
    found = hours_to_limit(made, (0.05, 0.5, 0.95))
    back = probability_beyond(made, found.hours_kh, np.array([[50.0]]))
    np.testing.assert_allclose(back[0], [0.05, 0.5, 0.95], atol=2e-5)
    np.testing.assert_allclose(found.probability_before(found.hours_kh)[0], [0.05, 0.5, 0.95], atol=2e-5)
    between = np.linspace(0.5, 120.0, 37)[None]
    exact = probability_beyond(made, between, np.array([[50.0]]))
    np.testing.assert_allclose(found.probability_before(between), exact, atol=2e-3)


def test_chances_are_averaged_over_the_standard_deviations():
    mean = [[[20.0, 0.9, 0.0]], [[24.0, 1.3, 0.0]]]
    cov = [[np.diag([9.0, 0.05, 0.0])], [np.diag([16.0, 0.01, 0.0])]]
    both = known_posterior(mean, cov, [0.8, 0.2], (0.3, 0.7))
    one, two = (known_posterior([m], [c], s) for m, c, s in zip(mean, cov, (0.8, 0.2), strict=True))
    h, limit = np.array([[3.0, 20.0, 60.0]]), np.array([[50.0]])
    expected = 0.3 * probability_beyond(one, h, limit) + 0.7 * probability_beyond(two, h, limit)
    np.testing.assert_allclose(probability_beyond(both, h, limit), expected, rtol=1e-12)


def test_past_the_limit_is_zero_hours_and_certainty_never_falls():
    """Uneven wear may carry the trend back under the limit; the event has happened all the same."""
    made = known_posterior([[[60.0, 0.02, 0.0]]], [[np.diag([25.0, 1e-4, 0.0])]], 5.0)
    found = hours_to_limit(made)
    raw = probability_beyond(made, np.array([[0.0, 40.0]]), np.array([[50.0]]))[0]
    assert raw[1] < raw[0]
    np.testing.assert_array_equal(found.hours_kh[0, :5], 0.0)
    assert (np.diff(found.curve[0]) >= 0).all()
    assert found.probability_before(np.array([[40.0]]))[0, 0] >= raw[0] - 1e-12


def test_beyond_200_kh_is_open_ended():
    made = known_posterior([[[5.0, 0.15, 0.0]]], [[np.diag([4.0, 0.004, 0.0])]], 0.1)
    found = hours_to_limit(made)
    assert np.isnan(found.hours_kh[0, -1])
    assert np.isfinite(found.hours_kh[0, 0])
    assert found.probability_before(np.array([[5000.0]]))[0, 0] == found.curve[0, -1] < 0.95


def test_negative_hours_count_as_now():
    made = known_posterior([[[45.0, 0.9, 0.0]]], [[np.diag([9.0, 0.05, 0.0])]], 0.8)
    found = hours_to_limit(made)
    before = found.probability_before(np.array([[-3.0, 0.0]]))[0]
    assert before[0] == before[1] == pytest.approx(stats.norm.cdf(-5 / 3), rel=1e-9)


def test_a_point_without_limit_never_governs():
    mean = np.array([[[20.0, 0.9, 0.0], [49.0, 3.0, 0.0]]])
    cov = np.array([[np.diag([9.0, 0.05, 0.0])] * 2])
    made = known_posterior(mean, cov, 0.8, limits=(50.0, np.nan))
    found = hours_to_limit(made)
    assert found.governing_series[0] == 0
    alone = hours_to_limit(known_posterior(mean[:, :1], cov[:, :1], 0.8))
    np.testing.assert_allclose(found.hours_kh, alone.hours_kh)


def test_a_shell_without_any_limit_has_no_hours():
    made = known_posterior([[[20.0, 0.9, 0.0]]], [[np.diag([9.0, 0.05, 0.0])]], 0.8, limits=(np.nan,))
    found = hours_to_limit(made)
    assert found.governing_series[0] == -1
    assert np.isnan(found.hours_kh).all()
    assert np.isnan(found.probability_before(np.array([[10.0]]))).all()


def test_governing_point_is_the_likeliest_at_the_10_percent_hour():
    mean = np.array([[[20.0, 0.9, 0.0], [26.0, 1.0, 0.0]]])
    cov = np.array([[np.diag([9.0, 0.05, 0.0])] * 2])
    made = known_posterior(mean, cov, 0.8, limits=(50.0, 50.0))
    assert hours_to_limit(made).governing_series[0] == 1


@pytest.mark.parametrize("rho", [0.0, 0.4, 0.9])
def test_any_of_two_events_is_exact(rho):
    chances = np.array([0.1, 0.3])
    loading = common_factor(np.array([[1.0, rho], [rho, 1.0]]))
    both = stats.multivariate_normal([0, 0], [[1, rho], [rho, 1]]).cdf(stats.norm.ppf(chances))
    assert any_of(chances, loading) == pytest.approx(0.4 - both, abs=2e-5)


def test_common_factor_of_three_is_exact_where_there_is_one():
    loading = np.array([0.9, 0.5, 0.7])
    correlation = np.outer(loading, loading)
    np.fill_diagonal(correlation, 1.0)
    np.testing.assert_allclose(common_factor(correlation), loading, atol=2e-3)


def test_any_of_lies_between_the_likeliest_and_the_sum():
    rng = np.random.default_rng(4)
    chances, loading = rng.random((50, 4)) ** 3, 0.985 * rng.random((50, 4))
    found = any_of(chances, loading)
    assert (found >= chances.max(-1)).all()
    assert (found <= np.minimum(chances.sum(-1), 1.0) + 1e-12).all()


@pytest.mark.parametrize("seed", [1, 6])
def test_several_points_agree_with_simulation_of_all_their_paths(make_class, seed):
    """Levels, rates and running-in of the points drawn jointly, one path of uneven wear a shell.

    The simulation keeps draws in which all rates are above 0; joining the points by one factor is within 1.5
    points of it (300 000 draws, seed in the name).
    """
    data = make_class(engines=2, positions=3, points=3, seed=seed)
    found = estimate(data, PRIORS, averaged_below_engines=0)
    made = posterior(data, found)
    hours = hours_to_limit(made)
    rng = np.random.default_rng(100 + seed)
    for m in range(4):
        at = np.flatnonzero(made.shell == hours.shell[m])
        p = len(at)
        cov = np.zeros((p, 3, p, 3))
        for i in range(p):
            cov[i, :, i] = made.covariance[0, at[i]]
        for (i, j), between in zip(made.pair, made.pair_covariance[0], strict=True):
            if made.shell[i] == hours.shell[m]:
                a, b = np.flatnonzero(at == i)[0], np.flatnonzero(at == j)[0]
                cov[a, :, b], cov[b, :, a] = between, between.T
        draws = rng.multivariate_normal(
            made.mean[0, at].ravel(), cov.reshape(3 * p, 3 * p), 300_000, method="eigh"
        ).reshape(-1, p, 3)
        draws = draws[(draws[:, :, 1] > 0).all(axis=1)]
        tau, known = made.tau_now_kh[at[0]], made.fitting_known[at[0]]
        for q, h in zip(hours.probabilities, hours.hours_kh[m], strict=True):
            if np.isnan(h) or h == 0:
                continue
            gain = np.exp(-tau) * (1 - np.exp(-h)) if known else 0.0
            path = made.sigma_b[0, 0] * np.sqrt(h) * rng.normal(size=(len(draws), 1))
            wear = draws[:, :, 0] + draws[:, :, 1] * h + draws[:, :, 2] * gain + path
            share = (wear >= made.limit_um[at]).any(axis=1).mean()
            assert share == pytest.approx(q, abs=0.015)


def test_limits_on_growth_and_on_loss_are_one_thing():
    """Wear is positive for both; only the reference turns the sign, before this core."""
    low = known_posterior([[[20.0, 0.9, 0.0]]], [[np.diag([9.0, 0.05, 0.0])]], 0.8)
    shifted = known_posterior([[[120.0, 0.9, 0.0]]], [[np.diag([9.0, 0.05, 0.0])]], 0.8, limits=(150.0,))
    np.testing.assert_allclose(hours_to_limit(low).hours_kh, hours_to_limit(shifted).hours_kh, rtol=1e-9)


def test_shells_are_cut_into_passes_without_effect(make_class, monkeypatch):
    data = make_class(engines=3, points=2)
    made = posterior(data, estimate(data, PRIORS))
    whole = hours_to_limit(made)
    monkeypatch.setattr("wearcast.wear.crossing._SHELLS_AT_ONCE", 3)
    monkeypatch.setattr("wearcast.wear.chances._NUMBERS_AT_ONCE", 500)
    cut = hours_to_limit(made)
    np.testing.assert_array_equal(cut.shell, whole.shell)
    np.testing.assert_array_equal(cut.governing_series, whole.governing_series)
    np.testing.assert_allclose(cut.hours_kh, whole.hours_kh, rtol=1e-6)


def test_hours_carried_forward_with_a_spread_bring_the_early_end_nearer(make_class):
    data = make_class(engines=2, points=1)
    found = estimate(data, PRIORS)
    plain = hours_to_limit(posterior(data, found))
    spread = replace(data, shell_tau_now_sd_kh=np.full(data.n_shells, 2.0))
    wide = hours_to_limit(posterior(spread, found))
    first = (plain.hours_kh[:, 0] > 0) & (plain.hours_kh[:, 0] < 100)
    assert first.any()
    assert (wide.hours_kh[first, 0] < plain.hours_kh[first, 0]).all()


def test_no_shell_gives_an_empty_answer(make_class):
    data = make_class(engines=2, points=1)
    found = estimate(data, PRIORS)
    made = hours_to_limit(posterior(data, found, np.zeros(0, dtype=int)))
    assert isinstance(made, HoursToLimit)
    assert made.hours_kh.shape == (0, 7)


@settings(max_examples=60, deadline=None)
@given(
    level=st.floats(-20, 80),
    rate=st.floats(-1, 4),
    level_sd=st.floats(0.1, 20),
    rate_sd=st.floats(0.01, 2),
    correlation=st.floats(-0.99, 0.99),
    sigma_b=st.floats(0, 4),
)
def test_whatever_is_known_the_answer_is_in_order(level, rate, level_sd, rate_sd, correlation, sigma_b):
    """Chances between 0 and 1 that never fall, hours that ascend, each the inverse of the other."""
    both = correlation * level_sd * rate_sd
    cov = [[level_sd**2, both, 0.0], [both, rate_sd**2, 0.0], [0.0, 0.0, 0.0]]
    made = hours_to_limit(known_posterior([[[level, rate, 0.0]]], [[cov]], sigma_b))
    hours, curve = made.hours_kh[0], made.curve[0]
    assert ((curve >= 0) & (curve <= 1)).all()
    assert (np.diff(curve) >= 0).all()
    reached = np.isfinite(hours)
    assert (np.diff(hours[reached]) >= 0).all()
    assert not (np.diff(reached.astype(int)) > 0).any()
    between = reached & (hours > 0)
    back = made.probability_before(np.where(between, hours, 1.0)[None])[0]
    np.testing.assert_allclose(back[between], made.probabilities[between], atol=5e-4)
    grid = made.probability_before(np.linspace(0, 250, 90)[None])[0]
    assert (np.diff(grid) >= -1e-12).all()
