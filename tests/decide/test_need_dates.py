"""Counts and dates of needs, against exact distributions and published spares examples."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from wearcast.decide.need_dates import (
    at_windows,
    count_within,
    cover_ends,
    enough,
    order_quantity,
    years_until,
)

REFERENCE = Path(__file__).parents[1] / "reference_data"


@pytest.mark.parametrize("z", [-2.5, -1.0, 0.0, 0.4, 2.5])
@pytest.mark.parametrize("n", [1.0, 6.0])
def test_the_path_of_use_runs_the_hours_in_the_years_found(z: float, n: float) -> None:
    """Put back into m t + z s √(t + t²/n), the years give the hours asked for."""
    hours = np.array([[0.001, 0.5, 4.0, 20.0, 150.0]])
    m, s = np.full(5, 5.2), np.full(5, 0.5)
    t = years_until(hours, m, s, np.full(5, n), np.full((1, 5), z))[0]
    assert m * t + z * s * np.sqrt(t + t**2 / n) == pytest.approx(hours[0], rel=1e-9)


def test_over_the_draws_the_years_have_the_margin_of_the_forecast_table() -> None:
    """Hours run in t are normal with mean m t and variance s²(t + t²/n): exact for given hours."""
    z = stats.norm.ppf((np.arange(200_000) + 0.5) / 200_000)[:, None]
    t = years_until(np.full((200_000, 1), 12.0), *(np.array([v]) for v in (5.2, 0.8, 2.0)), z)[:, 0]
    for at in (1.6, 2.3, 3.5):
        expected = stats.norm.sf((12.0 - 5.2 * at) / (0.8 * np.sqrt(at + at**2 / 2.0)))
        assert (t <= at).mean() == pytest.approx(expected, abs=2e-5)


def test_unlikely_paths_and_unknown_use_never_arrive() -> None:
    """A use so far below its mean that it would not run at all, and no use at all."""
    one = np.ones(1)
    assert years_until(np.array([[5.0]]), one, 2 * one, one, np.array([[-3.0]]))[0, 0] == np.inf
    assert years_until(np.array([[5.0]]), np.nan * one, np.nan * one, one, np.array([[0.0]]))[0, 0] == np.inf
    assert years_until(np.array([[np.inf]]), one, one, one, np.array([[0.0]]))[0, 0] == np.inf
    assert years_until(np.array([[0.0]]), one, one, one, np.array([[-3.0]]))[0, 0] == 0.0


def test_a_need_stands_at_the_last_window_on_or_before_the_limit() -> None:
    limits = np.array([[0.99, 1.0, 2.9, 3.0, 6.9, 7.0, 50.0, np.inf]])
    found = at_windows(limits, np.array([1.0, 3.0]), np.array([[3.0]]), 2.0)
    assert found[0].tolist() == [0.99, 1.0, 1.0, 3.0, 5.0, 7.0, 49.0, np.inf]


def test_windows_go_on_from_one_passed_or_drawn_and_never_before_now() -> None:
    """One passed a year ago, every two and a half: 1.5, 4.0 ...; drawn at 0.4 and 2.0."""
    limits = np.array([[0.2, 1.4, 1.5, 3.9, 4.1]])
    passed = at_windows(limits, np.zeros(0), np.array([[-1.0]]), 2.5)
    assert passed[0].tolist() == [0.2, 1.4, 1.5, 1.5, 4.0]
    drawn = at_windows(np.array([[1.0], [1.0]]), np.zeros(0), np.array([[0.4], [2.0]]), 2.5)
    assert drawn[:, 0].tolist() == [0.4, 1.0]


@pytest.mark.parametrize("case", ["a", "b", "c"])
def test_independent_needs_are_counted_as_poisson_binomial(case: str) -> None:
    """Exact rational convolution (Hong 2013, Comput. Stat. Data Anal. 59, 41-51)."""
    data = json.loads((REFERENCE / "poisson_binomial.json").read_text(encoding="utf-8"))
    chances = np.array([float(Fraction(p)) for p in data["inputs"][case]])
    rng = np.random.default_rng(8)
    years = np.where(rng.random((200_000, len(chances))) < chances, 0.5, np.inf)
    counts = count_within(years, 1.0)
    exact = np.ones(1)
    for p in chances:
        exact = np.convolve(exact, [1 - p, p])
    found = np.bincount(counts, minlength=len(exact)) / len(counts)
    assert found == pytest.approx(exact, abs=4 * np.sqrt(0.25 / 200_000))
    for service in (0.50, 0.80, 0.90, 0.95, 0.99):
        edge = np.abs(np.cumsum(exact) - service).min()
        if edge > 0.005:  # else chance decides
            assert enough(counts, service) == np.searchsorted(np.cumsum(exact), service)


def test_the_handbook_example_asks_for_eight_spares() -> None:
    """Blanchard, Logistics Engineering and Management (from memory): 20 parts, 0.1 per 1000 h, 2160 h, 95 %: 8."""
    data = json.loads((REFERENCE / "blanchard_spares.json").read_text(encoding="utf-8"))
    inputs = data["inputs"]
    share = (np.arange(100_000) + 0.5) / 100_000
    counts = stats.poisson.ppf(share, inputs["expected_demand"]).astype(int)
    assert inputs["parts"] * inputs["rate_per_h"] * inputs["hours"] == pytest.approx(
        inputs["expected_demand"]
    )
    assert enough(counts, inputs["service_level"]) == data["published"]["spares"]
    assert order_quantity(counts, inputs["service_level"], 1, 2, 3) == 8 + 1 - 2 - 3


def test_a_share_of_draws_exactly_at_the_level_is_enough() -> None:
    counts = np.array([0] * 95 + [1] * 5)
    assert enough(counts, 0.95) == 0
    assert enough(counts, 0.96) == 1


@given(
    st.lists(st.lists(st.floats(0, 10), min_size=3, max_size=3), min_size=1, max_size=60),
    st.integers(-1, 4),
    st.sampled_from([0.5, 0.9, 0.95]),
)
def test_the_cover_ends_where_the_quantity_needed_first_exceeds_the_stock(
    years: list[list[float]], stock: int, service: float
) -> None:
    need = np.array(years)
    end = cover_ends(need, stock, service)
    if not np.isfinite(end):
        assert enough(count_within(need, 1e9), service) <= stock
        return
    assert stock < 0 or enough(count_within(need, end), service) > stock
    if end > 0 and stock >= 0:
        assert enough(count_within(need, np.nextafter(end, -1)), service) <= stock
