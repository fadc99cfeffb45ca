"""Dates from hours and use, against exact normal results and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from wearcast.wear.crossing import HoursToLimit
from wearcast.wear.dates import probability_within, years_to_limit


def normal_hours(mean_kh: float, sd_kh: float) -> HoursToLimit:
    """Hours to the limit that are normal, as a curve."""
    grid = np.linspace(0, 200, 4001)[None]
    chance = stats.norm.cdf(grid, mean_kh, sd_kh)
    zero = np.array([0])
    return HoursToLimit(zero, zero, np.array([0.5]), np.array([[mean_kh]]), grid, chance)


def use(mean: float, sd: float, years: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return np.array([mean]), np.array([sd]), np.array([years])


@pytest.mark.parametrize("t", [0.5, 2.0, 3.7, 6.0])
@pytest.mark.parametrize("n", [1.0, 8.0])
def test_normal_hours_and_normal_use_give_a_normal_margin(t: float, n: float) -> None:
    """Hours needed less hours run by t is normal: P = Φ((m t − μ)/√(σ² + s²(t + t²/n)))."""
    found = probability_within(normal_hours(20.0, 4.0), np.array([[t]]), *use(5.2, 0.5, n))[0, 0]
    expected = stats.norm.cdf((5.2 * t - 20.0) / np.hypot(4.0, 0.5 * np.sqrt(t + t**2 / n)))
    assert found == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize("q", [0.10, 0.50, 0.90])
def test_quantiles_are_where_the_chance_is_reached_to_within_a_day(q: float) -> None:
    found = years_to_limit(normal_hours(20.0, 4.0), *use(5.2, 0.5), (q,))[0, 0]
    at = stats.norm.cdf
    grid = np.linspace(0, 12, 1_200_001)
    chance = at((5.2 * grid - 20.0) / np.hypot(4.0, 0.5 * np.sqrt(grid + grid**2)))
    expected = grid[np.searchsorted(chance, q)]
    assert found == pytest.approx(expected, abs=1 / 365.25)


def test_the_joint_quantile_is_earlier_than_hours_divided_by_the_mean() -> None:
    """Unsure use widens the date: the early end comes sooner than hours over the mean use."""
    hours = normal_hours(20.0, 4.0)
    early = years_to_limit(hours, *use(5.2, 0.8), (0.10,))[0, 0]
    assert early < stats.norm.ppf(0.10, 20.0, 4.0) / 5.2


def test_against_simulation() -> None:
    rng = np.random.default_rng(20261125)
    needed = rng.normal(30.0, 6.0, 400_000)
    t = 5.0
    run = rng.normal(6.1, 0.7, 400_000) * t + rng.normal(0, 0.7 * np.sqrt(t), 400_000)
    found = probability_within(normal_hours(30.0, 6.0), np.array([[t]]), *use(6.1, 0.7))[0, 0]
    assert found == pytest.approx(np.mean(needed <= run), abs=0.003)


def test_unknown_use_gives_no_date_and_a_limit_already_reached_gives_now() -> None:
    hours = normal_hours(20.0, 4.0)
    nan = float("nan")
    assert np.isnan(years_to_limit(hours, *use(nan, nan), (0.1,))).all()
    past = HoursToLimit(
        hours.shell, hours.governing_series, hours.probabilities, hours.hours_kh, hours.curve_hours_kh,
        np.ones_like(hours.curve),
    )  # fmt: skip
    assert years_to_limit(past, *use(5.0, 0.5), (0.1, 0.9)).tolist() == [[0.0, 0.0]]


def test_what_is_not_reached_within_200_kh_has_no_date() -> None:
    assert np.isnan(years_to_limit(normal_hours(400.0, 4.0), *use(5.0, 0.5), (0.1,))).all()
