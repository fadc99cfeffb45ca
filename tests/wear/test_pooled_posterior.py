"""Levels and rates against full matrices; what is borrowed against leaving the shell out."""

from dataclasses import replace

import numpy as np
import pytest

from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.borrowed import borrowed
from wearcast.wear.pooled.coefficients import coefficients
from wearcast.wear.priors import Priors

PRIORS = Priors()
CASES = [
    {"engines": 2, "positions": 3, "points": 3},
    {"engines": 1, "positions": 1, "points": 1, "openings": 1, "seed": 5},
    {"engines": 4, "positions": 5, "points": 1, "openings": 5},
]


def plugged_in(data):
    found = estimate(data, PRIORS, averaged_below_engines=0)
    assert len(found.weights) == 1
    return found


@pytest.mark.parametrize("case", CASES)
def test_level_and_rate_are_those_of_full_matrices(make_class, full_model, case):
    data = make_class(**case)
    found = estimate(data, PRIORS)
    made = posterior(data, found, rates_above_zero=False)
    k = len(found.weights) // 2
    mean, covariance = full_model(data, found.terms, found.sigma_points[k], PRIORS).level_and_rate()
    np.testing.assert_allclose(made.mean[k, :, :2], mean, rtol=1e-8, atol=1e-8)
    own = covariance[np.arange(data.n_series), :, np.arange(data.n_series)]
    np.testing.assert_allclose(made.covariance[k][:, :2, :2], own, rtol=1e-7, atol=1e-7)
    for (i, j), between in zip(made.pair, made.pair_covariance[k], strict=True):
        np.testing.assert_allclose(between[:2, :2], covariance[i, :, j], rtol=1e-7, atol=1e-7)


def test_pairs_are_all_pairs_of_points_of_a_shell(make_class):
    data = make_class(engines=2, points=3)
    made = posterior(data, plugged_in(data))
    expected = {
        (i, j)
        for i in range(data.n_series)
        for j in range(i + 1, data.n_series)
        if data.series_shell[i] == data.series_shell[j]
    }
    assert {tuple(sorted(pair)) for pair in made.pair.tolist()} == expected


def test_series_come_in_the_order_asked_for(make_class):
    data = make_class(points=2)
    found = plugged_in(data)
    whole = posterior(data, found, rates_above_zero=False)
    asked = np.array([7, 2, 11])
    some = posterior(data, found, asked, rates_above_zero=False)
    np.testing.assert_allclose(some.mean, whole.mean[:, asked], rtol=1e-12)
    np.testing.assert_allclose(some.covariance, whole.covariance[:, asked], rtol=1e-10)
    np.testing.assert_array_equal(some.series, asked)


def test_sets_of_standard_deviations_may_be_taken_in_passes(make_class, monkeypatch):
    data = make_class(points=2)
    found = estimate(data, PRIORS)
    whole = posterior(data, found, rates_above_zero=False)
    monkeypatch.setattr("wearcast.wear.pooled.passes._NUMBERS_AT_ONCE", 5000)
    cut = posterior(data, found, rates_above_zero=False)
    np.testing.assert_allclose(cut.mean, whole.mean, rtol=1e-10)
    np.testing.assert_allclose(cut.pair_covariance, whole.pair_covariance, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("case", CASES)
def test_borrowed_is_the_ratio_of_variances_with_and_without_the_shell(make_class, case):
    data = make_class(**case)
    found = plugged_in(data)
    share = borrowed(data, found)
    variance = posterior(data, found, rates_above_zero=False).covariance[0, :, 1, 1]
    for shell in range(data.n_shells):
        series = np.flatnonzero(data.series_shell == shell)
        without = posterior(data.only(data.reading_shell != shell), found, rates_above_zero=False)
        np.testing.assert_allclose(
            share[series], variance[series] / without.covariance[0, series, 1, 1], rtol=1e-6
        )


def test_a_shell_without_readings_borrows_everything_and_inherits_its_place(make_class):
    data = make_class(engines=3, points=1, openings=5, seed=4)
    shell = int(data.reading_shell[0])
    none = data.only(data.reading_shell != shell)
    found = plugged_in(data)
    series = np.flatnonzero(data.series_shell == shell)
    assert borrowed(none, found, series) == pytest.approx(1.0)
    made = posterior(none, found, series)
    assert made.covariance[0, 0, 1, 1] < (PRIORS.rate_sd * 50 / 60) ** 2


def test_hours_carried_forward_with_a_spread_widen_the_level_alone(make_class):
    data = make_class(points=1)
    found = plugged_in(data)
    plain = posterior(data, found, rates_above_zero=False)
    carried = posterior(
        replace(data, shell_tau_now_sd_kh=np.full(data.n_shells, 0.5)), found, rates_above_zero=False
    )
    rate_square = plain.mean[..., 1] ** 2 + plain.covariance[..., 1, 1]
    np.testing.assert_allclose(
        carried.covariance[..., 0, 0] - plain.covariance[..., 0, 0], 0.25 * rate_square, rtol=1e-6
    )
    np.testing.assert_allclose(carried.covariance[..., 1, 1], plain.covariance[..., 1, 1])


def test_wear_unseen_since_the_last_reading_widens_the_level(make_class):
    """W is carried from the last reading to now: σ_B² h more, and h more of the rate."""
    data = make_class(engines=1, positions=1, points=1, openings=1, seed=5)
    found = plugged_in(data)
    early = posterior(data, found, rates_above_zero=False)
    late = posterior(
        replace(data, shell_tau_now_kh=data.shell_tau_now_kh + 10.0), found, rates_above_zero=False
    )
    assert late.covariance[0, 0, 0, 0] > early.covariance[0, 0, 0, 0] + 10 * found.sigma[1] ** 2


def test_forecast_is_the_same_in_any_unit_of_length(make_class):
    """Scale-free through the allowance: a class with every length doubled wears twice as fast."""
    data = make_class(points=1)
    doubled = replace(
        data,
        z_um=2 * data.z_um,
        u_um=2 * data.u_um,
        step_um=2 * data.step_um,
        series_limit_um=2 * data.series_limit_um,
        shell_delta_sd_um=2 * data.shell_delta_sd_um,
        allowance_um=2 * data.allowance_um,
        default_u_um=2 * data.default_u_um,
    )
    one, two = plugged_in(data), plugged_in(doubled)
    np.testing.assert_allclose(two.sigma, 2 * one.sigma, rtol=1e-3)
    priors = replace(PRIORS, group_level_sd_um=2 * PRIORS.group_level_sd_um)
    two = estimate(doubled, priors, averaged_below_engines=0)
    single = posterior(data, one)
    twice = posterior(doubled, two)
    np.testing.assert_allclose(twice.mean, 2 * single.mean, rtol=2e-3, atol=1e-3)


def test_new_wall_is_seen_in_a_measured_one(make_class):
    """A wall measured 10 µm thinner than the reference at fitting reads as 10 µm of δ, less the noise."""
    data = make_class(engines=1, positions=1, points=1, openings=1, seed=5)
    new = replace(
        data,
        z_um=np.array([10.0]),
        tau_kh=np.zeros(1),
        u_um=np.array([0.5]),
        is_new_wall=np.array([True]),
        shell_delta_sd_um=np.array([4.0]),
        opening=np.array([-1]),
        step_um=np.zeros(1),
        shell_fitting_known=np.array([True]),
    )
    found = plugged_in(new)
    noise = 0.25 + found.sigma[0] ** 2
    made = posterior(new, found)
    assert made.wall_mean[0, 0] == pytest.approx(10 * 16 / (16 + noise), rel=1e-6)


def test_coefficients_have_names_and_prior_where_nothing_is_known(make_class):
    data = make_class(points=2)
    none = data.only(np.zeros(data.n_readings, dtype=bool))
    named = coefficients(none, plugged_in(none))
    assert named.names == ("rate", "running_in", "group_level_1", "group_rate_1")
    per_kh = 50 / 60
    np.testing.assert_allclose(named.mean, [per_kh, 2.0, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(named.sd, [1.2 * per_kh, 5.0, 15.0, 0.5 * per_kh], rtol=1e-9)
    np.testing.assert_allclose(named.position_rate, 0.0, atol=1e-12)
    assert len(named.engine_rate) == data.n_engines


def test_rates_of_places_and_engines_are_those_of_full_matrices(make_class, full_model):
    """What a place adds hangs on the readings as σ_v² τ within the place, what an engine adds as σ_u² τ."""
    data = make_class(engines=3, points=2, seed=6)
    found = plugged_in(data)
    named = coefficients(data, found)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    engine = data.shell_engine[data.reading_shell]
    position = data.shell_position[data.reading_shell]
    residual = data.z_um - full.mean_readings
    square = {n: found.sigma[k] ** 2 for k, n in enumerate(found.terms.variances)}
    for e, p, mean, sd in zip(
        named.place_engine, named.place_position, named.place_rate, named.place_rate_sd, strict=True
    ):
        cross = square["place_rate"] * data.tau_kh * ((engine == e) & (position == p))
        solved = np.linalg.solve(full.covariance, cross)
        assert mean == pytest.approx(solved @ residual, abs=1e-9)
        assert sd**2 == pytest.approx(square["place_rate"] - solved @ cross, rel=1e-8)
    for e, mean, sd in zip(named.engines, named.engine_rate, named.engine_rate_sd, strict=True):
        cross = square["engine_rate"] * data.tau_kh * (engine == e)
        solved = np.linalg.solve(full.covariance, cross)
        assert mean == pytest.approx(solved @ residual, abs=1e-9)
        assert sd**2 == pytest.approx(square["engine_rate"] - solved @ cross, rel=1e-8)
    for p, mean, sd in zip(named.positions, named.position_rate, named.position_rate_sd, strict=True):
        cross = square["position_rate"] * data.tau_kh * (position == p)
        solved = np.linalg.solve(full.covariance, cross)
        assert mean == pytest.approx(solved @ residual, abs=1e-9)
        assert sd**2 == pytest.approx(square["position_rate"] - solved @ cross, rel=1e-8)
