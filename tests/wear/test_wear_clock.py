"""Wear that does not go on as it went: effective hours, what a change would gain, and forecasts that follow it."""

from dataclasses import replace

import numpy as np
import pytest
from changed_fleets import TRUTHS, Truth, draw_class

from wearcast.wear.crossing import hours_to_limit
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.clock import Clock, Kind, Part, Scope, clocked, hours_ahead, hours_of
from wearcast.wear.pooled.clock_parts import candidates
from wearcast.wear.pooled.clock_said import said_changes
from wearcast.wear.pooled.clock_scores import score, series_rates, total_covariance
from wearcast.wear.pooled.clock_search import weigh_changes
from wearcast.wear.pooled.draws import joint_draws
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.layout import build_layout
from wearcast.wear.pooled.likelihood import log_likelihood
from wearcast.wear.priors import Priors

PRIORS = Priors()


@pytest.fixture(scope="module")
def ordinary():
    return draw_class(TRUTHS["ordinary"], np.random.default_rng(3))


def at_clock(readings, found, clock):
    """The estimate with one clock alone."""
    return replace(found, clocks=(clock,), set_clock=np.zeros(len(found.weights), dtype=int))


def test_likelihood_of_all_readings_at_once_is_that_of_the_blocks(ordinary):
    readings = ordinary.readings
    found = mode_only(readings, PRIORS)
    covariance, residual = total_covariance(readings, found.terms, found.sigma)
    layout = build_layout(readings, found.terms, np.unique(readings.shell_position))
    square = residual @ np.linalg.solve(covariance, residual)
    whole = -0.5 * (len(residual) * np.log(2 * np.pi) + np.linalg.slogdet(covariance)[1] + square)
    assert log_likelihood(layout, found.sigma[None])[0] == pytest.approx(whole, abs=1e-6)


def test_scores_are_the_slope_of_the_likelihood(ordinary):
    """Against differences: one number a reading gives the slope for every date, engine and age."""
    readings = ordinary.readings
    found = mode_only(readings, PRIORS)
    tried = [one for one in candidates(readings, PRIORS) if one.part.kind is not Kind.DEPTH]
    made = score(readings, found.terms, found.sigma, tried)
    positions = np.unique(readings.shell_position)

    def height(part, log_factor):
        worn, _ = clocked(readings, Clock(part, log_factor))
        return log_likelihood(build_layout(worn, found.terms, positions), found.sigma[None])[0]

    for k in [*range(0, len(tried), 17), len(tried) - 1]:
        slope = (height(tried[k].part, 1e-4) - height(tried[k].part, -1e-4)) / 2e-4
        assert made.log_factor[k] / made.sd[k] ** 2 == pytest.approx(slope, rel=1e-2, abs=2e-3)


def test_hours_ahead_under_a_power_turn_back():
    hours = np.array([0.0, 0.3, 10.0, 150.0])
    for power in (0.6, 1.0, 1.7):
        there = hours_ahead(hours, np.array(20.0), np.array(power))
        np.testing.assert_allclose(hours_of(there, np.array(20.0), np.array(power)), hours, atol=1e-9)
    np.testing.assert_allclose(hours_ahead(hours, np.array(20.0), np.array(1.0)), hours)


def test_hours_after_the_date_count_by_the_factor_and_pace_is_that_of_today(ordinary):
    readings = ordinary.readings
    calendar = readings.calendar
    part = Part(Kind.STEP, Scope.ENGINE, label=1, date=4)
    worn, pace = clocked(readings, Clock(part, np.log(2.0)))
    shell = readings.reading_shell
    total = readings.shell_start_kh[shell] + readings.tau_kh
    since = np.clip(total - calendar.hours_at(4, readings.shell_engine[shell]), 0, readings.tau_kh)
    mine = readings.shell_engine[shell] == 1
    np.testing.assert_allclose(worn.tau_kh, readings.tau_kh + np.where(mine, since, 0.0))
    np.testing.assert_array_equal(pace.now, np.where(readings.shell_engine == 1, 2.0, 1.0))
    np.testing.assert_array_equal(worn.hours_run_in_kh, readings.tau_kh)


def test_a_step_before_the_first_hour_is_no_step(ordinary):
    """Twice the pace of all sisters all along: hours are counted so that nothing moves."""
    early = replace(
        ordinary.readings.calendar, hours_kh=np.full_like(ordinary.readings.calendar.hours_kh, -1.0)
    )
    readings = replace(ordinary.readings, calendar=early)
    plain = estimate(readings, PRIORS)
    clock = Clock(Part(Kind.STEP, date=0), np.log(2.0))
    one = hours_to_limit(posterior(readings, plain, ordinary.current))
    two = hours_to_limit(posterior(readings, at_clock(readings, plain, clock), ordinary.current))
    np.testing.assert_allclose(two.hours_kh, one.hours_kh, rtol=1e-6)


@pytest.mark.parametrize(
    "clock",
    [
        Clock(Part(Kind.STEP, Scope.ENGINE, label=0, date=6), np.log(1.7)),
        Clock(Part(Kind.AGE), np.log(1.3)),
        Clock(Part(Kind.DEPTH, depth=0.4), np.log(2.5)),
    ],
    ids=lambda clock: str(clock.part.kind),
)
def test_draws_follow_the_clock_as_the_table_does(ordinary, clock):
    """Shares of draws at the stated hours: pace, power and bend are the same in both."""
    readings = ordinary.readings
    found = estimate(readings, PRIORS)
    line = series_rates(readings, found.terms, found.sigma)
    found = at_clock(readings, found, replace(clock, line=line))
    known = posterior(readings, found, ordinary.current)
    table = hours_to_limit(known)
    draws = joint_draws(known, found, 20_000, np.random.default_rng(0))
    ahead = table.curve[:, 0] < 0.05
    for at, chance in ((1, 0.10), (3, 0.50)):
        share = (draws.hours_kh <= table.hours_kh[:, at]).mean(0)[ahead & np.isfinite(table.hours_kh[:, at])]
        # The table takes the largest chance at any hour up to h; a path comes and goes.
        assert np.abs(share - chance).max() < 0.02


def test_past_the_depth_the_rest_of_the_allowance_goes_by_the_factor(ordinary):
    """A shell well before the depth: what is left past it counts for 1/factor of what it did."""
    readings = ordinary.readings
    found = mode_only(readings, PRIORS)
    line = series_rates(readings, found.terms, found.sigma)
    clock = Clock(Part(Kind.DEPTH, depth=0.9), np.log(3.0), line)
    known = posterior(readings, at_clock(readings, found, clock), ordinary.current)
    before = np.flatnonzero(known.mean[0, :, 0] < 0.5 * readings.allowance_um)
    bound = known.unbent_um(known.limit_um[:, None], slice(None), slice(None))[0, :, 0]
    bend = 0.9 * readings.allowance_um + known.wall_mean[0]
    np.testing.assert_allclose(bound[before], (bend + (known.limit_um - bend) / 3.0)[before])


def test_all_sisters_quicker_from_a_date_on_is_found_with_date_and_factor():
    one = draw_class(Truth(1.8, since=2), np.random.default_rng([20261128, 3]))
    plain = estimate(one.readings, PRIORS)
    found = weigh_changes(one.readings, PRIORS, plain)
    said = said_changes(one.readings, found)
    assert len(said) == 1
    assert abs(said[0].year - one.changed_year) < 1.5
    assert said[0].factor_p05 < 1.8 < said[0].factor_p95
    assert found.weights.sum() == pytest.approx(1.0)
    quicker = hours_to_limit(posterior(one.readings, found, one.current)).hours_kh[:, 1]
    assert np.nanmean(quicker) < np.nanmean(
        hours_to_limit(posterior(one.readings, plain, one.current)).hours_kh[:, 1]
    )


def test_what_is_steady_stays_so(ordinary):
    found = weigh_changes(ordinary.readings, PRIORS, estimate(ordinary.readings, PRIORS))
    assert said_changes(ordinary.readings, found) == []
    assert found.judged[0].part.kind is Kind.NONE
    assert found.judged[0].weight > 0.5


def test_without_a_calendar_no_date_is_looked_for(ordinary):
    bare = replace(ordinary.readings, calendar=None)
    assert {one.part.kind for one in candidates(bare, PRIORS)} == {Kind.AGE, Kind.DEPTH}


def test_a_depth_found_on_some_engines_holds_for_the_whole_class(monkeypatch):
    """Where the search takes only some engines, shells of the others bend by their own lines."""
    from wearcast.wear.pooled import clock_search

    one = draw_class(TRUTHS["2.5 × past 20 µm"], np.random.default_rng([20261128, 3]))
    plain = estimate(one.readings, PRIORS)
    monkeypatch.setattr(clock_search, "SCORED_READINGS", one.readings.n_readings // 2)
    found = weigh_changes(one.readings, PRIORS, plain)
    lines = [len(clock.line) for clock in found.clocks if clock.line is not None]
    assert set(lines) == {one.readings.n_series}
    posterior(one.readings, found, one.current)
