"""Readings yet to come against full matrices and simulation; one more reading against taking it."""

from dataclasses import replace

import numpy as np
import pytest
from simulate import FleetPlan, draw_fleet

from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.predict import (
    carried_forward,
    predict_readings,
    reading_variance,
    worth_of_reading,
)
from wearcast.wear.priors import Priors

PRIORS = Priors()


def plugged_in(data):
    return estimate(data, PRIORS, averaged_below_engines=0)


@pytest.mark.parametrize(("u", "step"), [(np.nan, 0.0), (3.0, 10.0)])
def test_predictive_moments_are_those_of_full_matrices(make_class, full_model, u, step):
    """Level at the later hour, a new gauge error, the reading error and rounding."""
    data = make_class(engines=3, points=1)
    found = plugged_in(data)
    made = posterior(data, found, rates_above_zero=False)
    ahead = 3.5
    later = replace(data, shell_tau_now_kh=data.shell_tau_now_kh + ahead)
    mean, covariance = full_model(later, found.terms, found.sigma, PRIORS).level_and_rate()
    n = data.n_series
    forecast = predict_readings(made, np.arange(n), np.full(n, ahead), np.full(n, u), np.full(n, step))
    sd = {name: found.sigma[k] for k, name in enumerate(found.terms.variances)}
    noise = sd["opening_error"] ** 2 + step**2 / 12
    noise += sd["reading_error"] ** 2 if np.isnan(u) else u**2 + sd["extra_error"] ** 2
    np.testing.assert_allclose(forecast.mean_um, mean[:, 0], rtol=1e-9)
    level = covariance[np.arange(n), 0, np.arange(n), 0]
    np.testing.assert_allclose(forecast.sd_um**2, level + noise, rtol=1e-7)


def test_quantiles_turn_the_distribution_round(make_class):
    data = make_class(engines=2, points=1)
    made = posterior(data, estimate(data, PRIORS))
    k = np.arange(data.n_series)
    forecast = predict_readings(made, k, np.full(len(k), 2.0), np.full(len(k), np.nan), np.zeros(len(k)))
    levels = np.array([0.05, 0.25, 0.5, 0.9])
    quantiles = forecast.quantile(levels)
    np.testing.assert_allclose(forecast.cdf(quantiles), np.broadcast_to(levels, quantiles.shape), atol=1e-9)
    np.testing.assert_allclose(forecast.cdf(quantiles[:, 2]), 0.5, atol=1e-9)


def test_own_gauge_narrows_the_reading(make_class):
    data = make_class(engines=2, points=1)
    made = posterior(data, plugged_in(data))
    one = np.array([0])
    args = (made, one, np.ones(1), np.full(1, np.nan), np.zeros(1))
    wide, narrow = predict_readings(*args), predict_readings(*args, shared_gauge=False)
    assert wide.sd_um[0] ** 2 - narrow.sd_um[0] ** 2 == pytest.approx(made.opening_sd[0] ** 2)


def test_next_readings_fall_within_their_ranges():
    """40 fleets from the model: the last reading of each shell hidden, 90 % of them within the 90 % range."""
    inside = []
    for k in range(40):
        data = draw_fleet(
            FleetPlan(n_engines=2, fewest_readings=3, renewal_share=0.0),
            PRIORS,
            np.random.default_rng([77, k]),
        ).readings
        shell = data.reading_shell
        order = np.lexsort((data.tau_kh, shell))
        last = order[np.r_[np.flatnonzero(np.diff(shell[order])), len(order) - 1]]
        kept = np.ones(data.n_readings, dtype=bool)
        kept[last] = False
        seen = np.zeros(data.n_shells)
        np.maximum.at(seen, shell[kept], data.tau_kh[kept])
        past = replace(data.only(kept), shell_tau_now_kh=seen)
        made = posterior(past, estimate(past, PRIORS))
        series = data.series[last]
        ahead = data.tau_kh[last] - seen[shell[last]]
        n = len(last)
        forecast = predict_readings(made, series, ahead, np.full(n, np.nan), np.zeros(n))
        at = forecast.cdf(data.z_um[last])
        inside.append(((at > 0.05) & (at < 0.95)).mean())
    assert np.mean(inside) == pytest.approx(0.90, abs=0.035)


def test_carrying_forward_is_forecasting_from_later(make_class):
    data = make_class(engines=2, points=2)
    found = plugged_in(data)
    hours = np.linspace(0.5, 6.0, data.n_shells)
    carried = carried_forward(posterior(data, found), hours)
    later = posterior(replace(data, shell_tau_now_kh=data.shell_tau_now_kh + hours), found)
    np.testing.assert_allclose(carried.mean, later.mean, rtol=1e-8)
    np.testing.assert_allclose(carried.covariance, later.covariance, rtol=1e-6, atol=1e-8)
    np.testing.assert_allclose(carried.pair_covariance, later.pair_covariance, rtol=1e-6, atol=1e-8)


@pytest.mark.parametrize("points", [1, 3])
def test_variance_after_one_more_reading_is_that_of_taking_it(make_class, points):
    """The closed form against adding readings to the class, whatever they say."""
    from wearcast.wear.predict import _read_once

    data = make_class(engines=2, positions=2, points=points)
    found = plugged_in(data)
    ahead = np.full(data.n_shells, 2.0)
    later = carried_forward(posterior(data, found, rates_above_zero=False), ahead)
    after = _read_once(later, reading_variance(later, np.array([np.nan]), np.zeros(1))[:, 0])
    shell = 1
    series = np.flatnonzero(data.series_shell == shell)
    n = len(series)
    tau = data.shell_tau_now_kh[shell] + 2.0
    more = replace(
        data,
        z_um=np.r_[data.z_um, 30.0 + np.arange(n)],
        tau_kh=np.r_[data.tau_kh, np.full(n, tau)],
        u_um=np.r_[data.u_um, np.full(n, np.nan)],
        step_um=np.r_[data.step_um, np.zeros(n)],
        series=np.r_[data.series, series],
        opening=np.r_[data.opening, np.full(n, 9999)],
        is_new_wall=np.r_[data.is_new_wall, np.zeros(n, dtype=bool)],
        shell_tau_now_kh=data.shell_tau_now_kh + ahead,
    )
    taken = posterior(more, found, series, rates_above_zero=False)
    np.testing.assert_allclose(after.covariance[0, series], taken.covariance[0], rtol=1e-5, atol=1e-6)


def test_one_more_reading_narrows_most_where_least_is_known(make_class):
    data = make_class(engines=3, points=1, openings=5)
    counts = np.bincount(data.reading_shell, minlength=data.n_shells)
    made = posterior(data, estimate(data, PRIORS))
    worth = worth_of_reading(made, np.full(data.n_shells, 1.0))
    alive = (worth.before_kh > 5) & (worth.before_kh < 190)
    assert (worth.shrinks[alive] > -0.02).all()
    few, many = alive & (counts <= 1), alive & (counts >= 4)
    assert worth.shrinks[few].mean() > worth.shrinks[many].mean()
    precise = worth_of_reading(made, np.full(data.n_shells, 1.0), u_um=1.0)
    assert (precise.after_kh[alive] <= worth.after_kh[alive] + 0.5).all()
