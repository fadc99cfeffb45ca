"""Predictions of readings against slower ways and another library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from simulate import FleetPlan, draw_fleet

from wearcast.backtesting.lines import last_two_points, own_line_predictions, two_point_predictions
from wearcast.backtesting.predictions import (
    HOUR_LEVELS,
    HOURS_KH,
    LEVELS,
    Ahead,
    hours_at,
    pooled_predictions,
    reading_quantiles,
)
from wearcast.wear.own_line import fit_lines
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.predict import predict_readings
from wearcast.wear.priors import Priors


@pytest.fixture(scope="module")
def fleet():
    drawn = draw_fleet(FleetPlan(n_engines=3, n_positions=4), Priors(), np.random.default_rng(4)).readings
    return drawn, estimate(drawn, Priors())


def ahead_of(series, hours, z, from_kh=10.0, u=np.nan, step=0.0) -> Ahead:
    n = len(series)
    return Ahead(
        np.asarray(series, dtype=np.intp),
        np.full(n, from_kh),
        from_kh + np.asarray(hours, dtype=float),
        np.asarray(z, dtype=float),
        np.full(n, u),
        np.full(n, step),
    )


def test_quantiles_are_those_of_a_search(fleet) -> None:
    readings, found = fleet
    known = posterior(readings, found)
    series = np.arange(readings.n_series)
    made = predict_readings(
        known, series, np.full(len(series), 6.0), np.full(len(series), np.nan), np.zeros(len(series))
    )
    searched = made.quantile(np.array(LEVELS))
    assert reading_quantiles(made, LEVELS) == pytest.approx(searched, abs=2e-3 * made.sd_um.max())


def test_hours_are_where_the_chance_of_such_a_reading_is_reached(fleet) -> None:
    """Against the distribution of a reading asked at those very hours."""
    readings, found = fleet
    series = np.arange(readings.n_series)
    now = readings.shell_tau_now_kh[readings.series_shell]
    ahead = Ahead(
        series,
        now,
        now + 5.0,
        np.full(len(series), 60.0),
        np.full(len(series), np.nan),
        np.zeros(len(series)),
    )
    said = pooled_predictions(readings, found, ahead)
    known = posterior(readings, found)
    for j, level in enumerate(HOUR_LEVELS):
        some = np.flatnonzero(np.isfinite(said.hours_kh[:, j]) & (said.hours_kh[:, j] > 0))
        assert len(some) > 3
        made = predict_readings(
            known, some, said.hours_kh[some, j], np.full(len(some), np.nan), np.zeros(len(some))
        )
        assert 1 - made.cdf(np.full(len(some), 60.0)) == pytest.approx(np.full(len(some), level), abs=2e-3)


def test_a_rounded_reading_has_the_chance_of_its_interval(fleet) -> None:
    readings, found = fleet
    said = pooled_predictions(readings, found, ahead_of([0, 1], [5.0, 5.0], [30.0, 20.0], step=10.0))
    exact = [
        pooled_predictions(readings, found, ahead_of([0, 1], [5.0, 5.0], [30.0 + d, 20.0 + d]))
        for d in (-5.0, 5.0)
    ]
    assert said.below == pytest.approx(exact[0].below)
    assert said.at_or_below == pytest.approx(exact[1].below)
    assert exact[0].below == pytest.approx(exact[0].at_or_below)


def test_a_reading_without_stated_u_among_stated_ones_has_the_default(fleet) -> None:
    readings, _ = fleet
    stated = replace(readings, u_um=np.full(readings.n_readings, 4.0))
    found = estimate(stated, Priors())
    assert found.terms.index("reading_error") < 0
    one = pooled_predictions(stated, found, ahead_of([0], [5.0], [20.0]))
    other = pooled_predictions(stated, found, ahead_of([0], [5.0], [20.0], u=stated.default_u_um))
    assert one.wear_um == pytest.approx(other.wear_um)


@pytest.mark.parametrize("stated", [False, True])
def test_own_line_predicts_as_another_library_does(stated: bool) -> None:
    """statsmodels, prediction interval of one observation; stated uncertainties as known weights."""
    import statsmodels.api as sm

    tau = np.array([3.0, 8.0, 15.0, 21.0])
    z = np.array([4.0, 9.0, 13.0, 22.0])
    u = np.full(4, 5.0 if stated else np.nan)
    lines = fit_lines(tau, z, u, np.zeros(4, dtype=int), 1)
    said = own_line_predictions(lines, ahead_of([0], [7.0], [30.0], from_kh=21.0, u=u[0]), 6.0)
    if stated:
        fit = sm.WLS(z, sm.add_constant(tau), weights=1 / u**2).fit(cov_type="fixed scale", use_t=False)
        mean = fit.get_prediction([[1.0, 28.0]])
        from scipy.stats import norm

        expected = mean.predicted_mean + np.hypot(mean.se_mean, 5.0) * norm.ppf(LEVELS)
        assert said.wear_um[0] == pytest.approx(expected)
    else:
        fit = sm.OLS(z, sm.add_constant(tau)).fit()
        for low, high, alpha in ((0, 6, 0.10), (1, 5, 0.20), (2, 4, 0.50)):
            frame = fit.get_prediction([[1.0, 28.0]]).summary_frame(alpha=alpha)
            assert said.wear_um[0, low] == pytest.approx(float(frame["obs_ci_lower"].iloc[0]))
            assert said.wear_um[0, high] == pytest.approx(float(frame["obs_ci_upper"].iloc[0]))
    assert said.wear_um[0, 3] == pytest.approx(lines.intercept_um[0] + 28 * lines.rate_um_per_kh[0])


def test_own_line_hours_are_where_its_band_reaches_the_reading() -> None:
    tau = np.array([3.0, 8.0, 15.0, 21.0])
    z = np.array([4.0, 9.0, 13.0, 22.0])
    lines = fit_lines(tau, z, np.full(4, np.nan), np.zeros(4, dtype=int), 1)
    said = own_line_predictions(lines, ahead_of([0], [7.0], [40.0], from_kh=21.0), 6.0)
    for j, end in ((0, 6), (2, 0)):  # early hours: the upper end of the band meets the reading
        at = own_line_predictions(lines, ahead_of([0], [said.hours_kh[0, j]], [40.0], from_kh=21.0), 6.0)
        assert at.wear_um[0, end] == pytest.approx(40.0, abs=0.15)
    assert said.hours_kh[0, 1] == pytest.approx((40 - lines.intercept_um[0]) / lines.rate_um_per_kh[0] - 21.0)


def test_two_readings_say_a_line_and_no_range() -> None:
    lines = fit_lines([5.0, 10.0], [5.0, 10.0], [np.nan] * 2, [0, 0], 1)
    said = own_line_predictions(lines, ahead_of([0], [4.0], [16.0]), 6.0)
    assert np.isnan(said.wear_um[0]).tolist() == [True] * 3 + [False] + [True] * 3
    assert said.wear_um[0, 3] == pytest.approx(14.0)
    assert said.hours_kh[0, 1] == pytest.approx(6.0)
    assert np.isnan(said.hours_kh[0, [0, 2]]).all()
    assert np.isnan(said.below).all()


def test_last_two_points_are_a_ruler_on_the_chart() -> None:
    series = np.array([0, 0, 0, 0, 1, 2, 2])
    tau = np.array([2.0, 6.0, 10.0, 10.0, 5.0, 4.0, 8.0])
    z = np.array([50.0, 8.0, 11.0, 13.0, 3.0, 9.0, 7.0])
    points = last_two_points(series, tau, z, 4)
    ahead = ahead_of([0, 1, 2, 3], [10.0] * 4, [19.0, 5.0, 12.0, 5.0])
    wear, hours = two_point_predictions(points, ahead)
    # 8 at 6 kh, 12 at 10 kh: 1 um/kh, so 22 at 20 kh and 19 after 7; falling lines never come to 12.
    assert wear.tolist() == pytest.approx([22.0, np.nan, 1.0, np.nan], nan_ok=True)
    assert hours.tolist() == pytest.approx([7.0, np.nan, np.nan, np.nan], nan_ok=True)


def test_hours_at_a_chance_are_zero_at_once_and_open_where_never() -> None:
    chance = np.stack([np.full(len(HOURS_KH), 0.6), np.linspace(0.0, 0.4, len(HOURS_KH))])
    found = hours_at(chance, (0.05, 0.50, 0.95))
    assert found[0, :2].tolist() == [0.0, 0.0]
    assert np.isnan(found[0, 2])
    assert np.isnan(found[1, 1:]).all()
    assert np.interp(found[1, 0], HOURS_KH, chance[1]) == pytest.approx(0.05, abs=2e-3)
    falling = np.linspace(0.3, 0.0, len(HOURS_KH))[None]
    assert hours_at(falling, (0.2, 0.4))[0].tolist() == pytest.approx([0.0, np.nan], nan_ok=True)
