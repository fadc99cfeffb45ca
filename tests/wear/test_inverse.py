"""Hours at the limit: which ends of Fieller's set are given, and why the others are not."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from wearcast.wear.inverse import REASONS, Reach, hours_at_limit
from wearcast.wear.own_line import band_um, fit_lines

NAN = np.nan


def fit(tau, z, u=None):
    n = len(tau)
    return fit_lines(tau, z, [NAN] * n if u is None else u, [0] * n, 1)


def one(tau, z, limit, u=None, coverage=0.9):
    """Kind, lower, line and upper of one line."""
    found = hours_at_limit(fit(tau, z, u), limit, coverage)
    return Reach(found.reach[0]), found.lower_kh[0], found.line_kh[0], found.upper_kh[0]


TAU = [5.0, 15, 25, 35]


def test_a_clear_rate_gives_an_interval_about_the_line():
    kind, lower, line, upper = one(TAU, [22, 58, 103, 139], 400)
    assert kind == Reach.BOUNDED
    assert 35 < lower < line < upper
    assert upper - line > line - lower  # Fieller's set leans towards the late end


def test_ends_are_where_the_band_crosses_the_limit():
    """The slow way: search the edges of the drawn band for the limit."""
    lines = fit(TAU, [22, 58, 103, 139], [9, 10, 11, 12])
    _, lower, line, upper = one(TAU, [22, 58, 103, 139], 400, [9, 10, 11, 12])
    edges = [brentq(lambda h, i=i: band_um(lines, 0, [h])[i][0] - 400, 20, 1e4) for i in range(3)]
    assert (upper, line, lower) == pytest.approx(edges, rel=1e-9)


def test_a_rate_that_may_be_zero_leaves_the_late_end_open():
    lines = fit(TAU, [50, 40, 90, 70])
    assert lines.rate_lo90[0] < 0 < lines.rate_um_per_kh[0]
    kind, lower, line, upper = one(TAU, [50, 40, 90, 70], 250)
    assert kind == Reach.OPEN_ABOVE
    assert 20 < lower < line
    assert np.isnan(upper)
    # The cautious end is where the upper edge of the band meets the limit, ahead of the readings.
    assert band_um(lines, 0, [lower])[2][0] == pytest.approx(250, rel=1e-9)


@pytest.mark.parametrize(("limit", "end"), [(300, 1), (20, 3)])
def test_the_near_end_passes_the_opening_of_the_set_without_a_jump(limit, end):
    """g runs through 1 as the stated u grows; the far root goes to infinity, the near one must run on.

    At 10⁻¹³ from g = 1 the schoolbook formula for the near root has lost nearly all its figures.
    """
    z = [10, 30, 50, 70]
    lines = fit(TAU, z, [1.0] * 4)
    critical = float(lines.rate_um_per_kh[0] / (lines.rate_u_um_per_kh[0] * lines.quantile()[0]))
    shut = one(TAU, z, limit, [critical * (1 - 1e-13)] * 4)
    before = one(TAU, z, limit, [critical * (1 - 1e-7)] * 4)
    assert shut[0] == before[0] == Reach.BOUNDED
    assert shut[end] == pytest.approx(before[end], rel=1e-6)
    assert abs(before[4 - end]) > 1e7
    after = one(TAU, z, limit, [critical * (1 + 1e-7)] * 4)
    assert after[0] == Reach.OPEN_ABOVE
    assert after[1] == (pytest.approx(shut[1], rel=1e-6) if limit == 300 else -np.inf)


def test_scatter_of_new_readings_shrinks_with_their_number():
    lines = fit(TAU, [22, 58, 103, 139])
    mean = hours_at_limit(lines, 400)
    for m in (1, 4, 25):
        found = hours_at_limit(lines, 400, new_readings=m)
        added = lines.residual_sd_um[0] ** 2 / m / lines.rate_um_per_kh[0] ** 2
        assert found.line_u_kh[0] ** 2 == pytest.approx(mean.line_u_kh[0] ** 2 + added, rel=1e-12)
        assert found.lower_kh[0] < mean.lower_kh[0]
        assert found.upper_kh[0] > mean.upper_kh[0]


def test_a_line_that_does_not_rise_keeps_only_its_cautious_end():
    for z in ([60, 45, 65, 50], [50, 60, 60, 50]):
        lines = fit(TAU, z)
        assert lines.rate_um_per_kh[0] <= 0
        kind, lower, line, upper = one(TAU, z, 250)
        assert kind == Reach.NOT_RISING
        assert band_um(lines, 0, [lower])[2][0] == pytest.approx(250, rel=1e-9)
        assert lower > 20
        assert np.isnan([line, upper]).all()


def test_a_line_that_surely_falls_says_nothing():
    for z in ([100, 80, 61, 40], [50, 50, 50, 50]):
        kind, *ends = one(TAU, z, 250)
        assert kind == Reach.NO_WEAR
        assert np.isnan(ends).all()


def test_no_real_roots_leave_every_end_empty():
    """Readings so uncertain that the band holds the limit at every hour."""
    kind, *ends = one(TAU, [50, 52, 51, 55], 60, [200.0] * 4)
    assert kind == Reach.NO_ROOTS
    assert np.isnan(ends).all()


def test_readings_past_the_limit_lie_behind_and_not_ahead():
    kind, lower, line, upper = one(TAU, [210, 290, 400, 480], 100)
    assert kind == Reach.BOUNDED
    assert lower < line < upper < 5
    # Past, and the rate unsure: reached already, at an hour that has no lower bound.
    kind, lower, line, upper = one(TAU, [310, 290, 340, 315], 100)
    assert kind == Reach.OPEN_ABOVE
    assert lower == -np.inf
    assert line < 5
    assert np.isnan(upper)
    # Past, and falling: still reached already.
    kind, lower, line, upper = one(TAU, [400, 381, 359, 341], 100)
    assert kind == Reach.NOT_RISING
    assert lower == -np.inf
    assert np.isnan([line, upper]).all()


def test_limit_within_the_band_of_a_falling_line_may_be_reached_already():
    kind, lower, line, upper = one(TAU, [100, 99, 60, 61], 81, [13.0] * 4)
    assert kind == Reach.NOT_RISING
    assert lower == -np.inf
    assert np.isnan([line, upper]).all()


def test_two_readings_need_a_stated_uncertainty():
    assert one([10, 30], [40, 100], 400)[0] == Reach.RATE_ONLY
    assert np.isnan(one([10, 30], [40, 100], 400)[1:]).all()
    assert one([10, 30], [40, 100], 400, [5, 5])[0] == Reach.BOUNDED


def test_one_reading_or_equal_hours_give_nothing():
    for tau, z in (([10], [40]), ([10, 10, 10], [40, 50, 60])):
        kind, *ends = one(tau, z, 400)
        assert kind == Reach.NO_LINE
        assert np.isnan(ends).all()


def test_readings_exactly_on_a_line_are_said_to_be_so():
    for limit in (400.0, 40.0, 10.0):  # ahead, at the centroid, behind
        kind, lower, line, upper = one([5, 10, 15], [20, 40, 60], limit)
        assert kind == Reach.EXACT
        assert lower == line == upper == pytest.approx(limit / 4, rel=1e-13)


def test_limit_at_the_centroid():
    kind, lower, line, upper = one([10, 20, 30], [40, 81, 119], 80)
    assert kind == Reach.BOUNDED
    assert line == pytest.approx(20, rel=1e-13)
    assert lower < 20 < upper
    assert upper - 20 == pytest.approx(20 - lower, rel=1e-9)


def test_each_line_has_its_own_limit():
    lines = fit_lines(TAU * 2, [22, 58, 103, 139] * 2, [NAN] * 8, [0] * 4 + [1] * 4, 2)
    both = hours_at_limit(lines, [400, 800])
    assert both.line_kh == pytest.approx([one(TAU, [22, 58, 103, 139], x)[2] for x in (400, 800)], rel=1e-13)


def test_every_kind_has_its_sentence():
    assert set(REASONS) == set(Reach)
    assert REASONS[Reach.BOUNDED] == ""
    for kind in set(Reach) - {Reach.BOUNDED}:
        assert len(REASONS[kind]) > 20
        assert ";" not in REASONS[kind]  # sentences are joined with semicolons
        assert not REASONS[kind].endswith(".")


def test_what_cannot_be_asked_is_refused():
    with pytest.raises(ValueError, match="finite"):
        hours_at_limit(fit(TAU, TAU), NAN)
    with pytest.raises(ValueError, match="new readings"):
        hours_at_limit(fit(TAU, TAU, [1.0] * 4), 90, new_readings=1)
    with pytest.raises(ValueError, match="new readings"):
        hours_at_limit(fit(TAU, TAU), 90, new_readings=-1)


def test_no_lines_at_all():
    assert hours_at_limit(fit_lines([], [], [], [], 0), 90).line_kh.shape == (0,)


# --- against a slow second way: the set by its definition, hour by hour -----------------------------------


@given(
    seed=st.integers(0, 2**32 - 1),
    n=st.integers(3, 6),
    rate=st.floats(-3, 8),
    sd=st.floats(1, 40),
    limit=st.floats(-50, 400),
    stated=st.booleans(),
    coverage=st.sampled_from([0.5, 0.8, 0.9, 0.99]),
)
@settings(deadline=None, derandomize=True, max_examples=400)
def test_ends_agree_with_the_set_hour_by_hour(seed, n, rate, sd, limit, stated, coverage):
    rng = np.random.default_rng(seed)
    tau = rng.uniform(2, 60, n)
    assume(np.ptp(tau) > 5)
    z = 20 + rate * tau + rng.normal(0, sd, n)
    lines = fit(tau, z, [sd] * n if stated else None)
    kind, early, line, late = one(tau, z, limit, [sd] * n if stated else None, coverage)

    def held(hours):
        lower, _, upper = band_um(lines, 0, hours, coverage)
        return (lower <= limit) & (limit <= upper)

    centre, slope = lines.tau_mean_kh[0], lines.rate_um_per_kh[0]
    # An interval before the early end (back to the centroid) or after the late end must not be held.
    if np.isfinite(early):
        step = 1e-6 * max(1.0, abs(early), abs(early - centre))
        assert held([early + step])[0]
        assert not held([early - step])[0]
        if early > centre:
            assert not held(np.linspace(centre, early - step, 50)).any()
    if np.isfinite(late):
        step = 1e-6 * max(1.0, abs(late), abs(late - centre))
        assert held([late - step])[0]
        assert not held(late + step * 10 ** np.linspace(0, 8, 50)).any()
        assert early <= line <= late
    if np.isfinite(line):
        assert slope > 0
        assert held([line])[0]
    if kind == Reach.NO_ROOTS:
        assert held(centre + np.concatenate([-np.logspace(-3, 7, 60), np.logspace(-3, 7, 60)])).all()
    if kind in (Reach.OPEN_ABOVE, Reach.NOT_RISING) and early > -np.inf:
        assert held(early + np.logspace(1, 7, 50) * max(1.0, abs(early - centre))).all()
    if kind == Reach.NO_WEAR:  # from the readings on, even the upper edge stays below the limit
        assert (band_um(lines, 0, centre + np.logspace(-3, 6, 60), coverage)[2] < limit).all()
    if early == -np.inf:  # the centroid is past the limit, or the band there holds it
        assert band_um(lines, 0, [centre], coverage)[2][0] >= limit


@given(seed=st.integers(0, 2**32 - 1), factor=st.sampled_from([1e-3, 1000.0]), shift=st.floats(-100, 100))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_units_and_origin_of_hours_change_nothing(seed, factor, shift):
    rng = np.random.default_rng(seed)
    tau, z = rng.uniform(2, 60, (20, 4)), rng.normal(50, 30, (20, 4))
    z += 2 * tau
    series, none = np.repeat(np.arange(20), 4), np.full(80, NAN)
    here = hours_at_limit(fit_lines(tau.ravel(), z.ravel(), none, series, 20), 300)
    there = hours_at_limit(fit_lines(tau.ravel() + shift, z.ravel() * factor, none, series, 20), 300 * factor)
    np.testing.assert_array_equal(there.reach, here.reach)
    for name in ("lower_kh", "line_kh", "upper_kh"):
        np.testing.assert_allclose(getattr(there, name), getattr(here, name) + shift, rtol=1e-6, atol=1e-6)


def test_set_holds_the_true_hours_nine_times_in_ten():
    """Simulation, seed 21: 20 000 own lines of 4 readings, true crossing at 60 kh; 3.5 binomial sd.

    The whole set holds the truth 90 % of the time by construction, open ends included; 5 % lies before it
    when the set is an interval, which is what makes the lower end a 5 % hour.
    """
    rng = np.random.default_rng(21)
    n, k, true_kh = 20_000, 4, 60.0
    tau = rng.uniform(2, 45, (n, k))
    z = 30 + 5 * tau + rng.normal(0, 6, (n, k))
    lines = fit_lines(tau.ravel(), z.ravel(), np.full(n * k, NAN), np.repeat(np.arange(n), k), n)
    found = hours_at_limit(lines, 30 + 5 * true_kh)
    late = np.where(np.isnan(found.upper_kh), np.inf, found.upper_kh)
    early = np.where(np.isnan(found.lower_kh), -np.inf, found.lower_kh)
    assert abs(np.mean((early <= true_kh) & (true_kh <= late)) - 0.90) < 0.0075
    assert abs(np.mean(true_kh < early) - 0.05) < 0.0055
