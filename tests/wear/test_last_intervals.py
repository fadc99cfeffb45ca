"""Shells gone wrong: the last interval against full matrices, and what becomes of a doubted last reading."""

from dataclasses import replace

import numpy as np
import pytest
from simulate import FleetPlan, OtherTruth, draw_other_fleet

from wearcast.wear.known import Known, KnownEither
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.last_intervals import last_intervals, last_readings
from wearcast.wear.pooled.screening import screen
from wearcast.wear.priors import Priors

PRIORS = Priors()
PLAIN = OtherTruth(gamma_wear=False, lognormal_rates=False, slip_share=0.0, fast_factor=1.0)
PLAN = FleetPlan(n_engines=4, n_openings=4, fewest_readings=4, renewal_share=0.2, most_readings=4)


@pytest.fixture(scope="module")
def fleet():
    return draw_other_fleet(PLAN, PRIORS, PLAIN, np.random.default_rng(5))


def gone_wrong(data, beyond_um=40.0, shell=11, openings=1):
    """The class with one shell worn so much more at its last opening (or at the last two)."""
    z = data.z_um.copy()
    tau = np.unique(data.tau_kh[data.reading_shell == shell])[-openings:]
    for k, hours in enumerate(tau):
        z[(data.reading_shell == shell) & (data.tau_kh == hours)] += (k + 1) * beyond_um
    return replace(data, z_um=z)


def either(data, found, series) -> KnownEither:
    slips, faults = (
        Known(part, found.estimate, series) for part in (found.without(data), found.with_faults(data))
    )
    return KnownEither(slips.readings, found.estimate, series, slips, faults, 0.5)


@pytest.mark.parametrize("case", [{"engines": 2, "points": 3}, {"engines": 3, "points": 1}])
def test_the_last_interval_is_judged_by_all_other_readings(make_class, full_model, case):
    """Against full matrices: a rate of its own since the opening before (or the one before that) looked for."""
    data = make_class(**case)
    found = estimate(data, PRIORS, averaged_below_engines=0)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    deviation = data.z_um - full.mean_readings
    made = last_intervals(data, found)
    inverse = np.linalg.inv(full.covariance)
    assert len(made.shell) == len(np.unique(data.reading_shell[last_readings(data)]))
    for shell, since, off_um, score in zip(made.shell, made.since_kh, made.off_um, made.score, strict=True):
        tau = data.tau_kh[data.reading_shell == shell]
        hours = np.where(data.reading_shell == shell, np.maximum(data.tau_kh - since, 0.0), 0.0)
        assert since in {0.0, *np.unique(tau)[-3:-1]}
        assert score == pytest.approx(
            hours @ inverse @ deviation / np.sqrt(hours @ inverse @ hours), abs=1e-7
        )
        rate = hours @ inverse @ deviation / (hours @ inverse @ hours)
        assert off_um == pytest.approx(rate * (tau.max() - since), abs=1e-6)


@pytest.mark.parametrize("case", [{"engines": 2, "points": 3}, {"engines": 3, "points": 1}])
def test_level_and_rate_of_a_quickened_shell_are_those_of_full_matrices(make_class, full_model, case):
    data = make_class(**case)
    data = replace(data, quickened=last_readings(data) & (data.reading_shell % 3 == 0))
    found = estimate(data, PRIORS, averaged_below_engines=0)
    known = posterior(data, found, rates_above_zero=False)
    mean, covariance = full_model(data, found.terms, found.sigma, PRIORS).level_and_rate()
    assert known.mean[0, :, :2] == pytest.approx(mean, abs=1e-6)
    own = covariance[np.arange(data.n_series), :, np.arange(data.n_series)]
    assert known.covariance[0, :, :2, :2] == pytest.approx(own, rel=1e-6, abs=1e-6)


def test_shells_out_of_service_and_first_looks_are_not_asked_about(fleet):
    data = fleet.readings
    assert not data.shell_in_service.all()
    assert data.shell_in_service[data.reading_shell[last_readings(data)]].all()
    unknown = replace(data, shell_fitting_known=np.zeros(data.n_shells, dtype=bool))
    once = np.bincount(data.reading_shell, minlength=data.n_shells) == 1
    assert not once[data.reading_shell[last_readings(unknown)]].any()


def test_a_shell_that_began_to_fail_is_asked_about_first_and_its_forecast_holds_both(fleet):
    data = gone_wrong(fleet.readings)
    found = screen(data, PRIORS)
    assert [one.shell for one in found.shells] == [11]
    assert found.shells[0].score > 3
    assert not found.readings
    np.testing.assert_array_equal(found.towards, found.left_out)
    known = either(data, found, fleet.current)
    both, slip, fault = known.hours, known.slips.hours, known.faults.hours
    at = int(np.flatnonzero(both.shell == 11)[0])
    assert fault.hours_kh[at, 1] <= both.hours_kh[at, 1] < slip.hours_kh[at, 1]
    ahead = np.broadcast_to(np.linspace(0.0, 150.0, 40), (len(both.shell), 40))
    half = 0.5 * (fault.probability_before(ahead) + slip.probability_before(ahead))
    assert both.probability_before(ahead) == pytest.approx(half, abs=2e-3)


def test_draws_hold_both_halves_as_the_forecast_does(fleet):
    data = gone_wrong(fleet.readings, beyond_um=25.0)
    found = screen(data, PRIORS)
    assert found.towards.any()
    known = either(data, found, fleet.current)
    hours, drawn = known.hours, known.draws(20_000, np.random.default_rng(3))
    for k, at_kh in enumerate(hours.hours_kh[:, 3]):
        if at_kh > 0 and np.isfinite(at_kh):
            assert np.mean(drawn.hours_kh[:, k] <= at_kh) == pytest.approx(0.5, abs=0.02)


def test_two_openings_of_a_failing_shell_are_both_asked_about(fleet):
    data = gone_wrong(fleet.readings, openings=2)
    found = screen(data, PRIORS)
    tau = data.tau_kh[found.towards]
    assert {one.shell for one in found.shells} == {11}
    assert len(tau) == 2


def test_a_confirmed_reading_counts_and_its_rate_goes_on(fleet):
    data = gone_wrong(fleet.readings)
    last = last_readings(data) & (data.reading_shell == 11)
    found = screen(data, PRIORS, confirmed=last)
    assert not found.shells
    assert not found.left_out.any()
    np.testing.assert_array_equal(found.quickened, last)
    asked = screen(data, PRIORS)
    known = posterior(found.without(data), found.estimate, fleet.current)
    fault = posterior(asked.with_faults(data), asked.estimate, fleet.current)
    at = list(known.shell).index(11)
    assert known.moments()[0][at] == pytest.approx(fault.moments()[0][at], rel=0.05)
    assert known.moments()[0][at, 1] > 4 * np.median(known.moments()[0][:, 1])


def test_a_whole_opening_that_moved_is_the_gauge_and_no_shell(fleet):
    data = fleet.readings
    last = last_readings(data) & (data.shell_engine[data.reading_shell] == 1)
    found = screen(replace(data, z_um=data.z_um + 40.0 * last), PRIORS)
    assert not found.shells
    assert [one.positions for one in found.gauges] == [7]


def test_a_shell_that_slowed_is_asked_about_and_left_out_only_where_it_is_far_off(fleet):
    data = gone_wrong(fleet.readings, beyond_um=-60.0)
    found = screen(data, PRIORS)
    assert [one.shell for one in found.shells] == [11]
    assert found.shells[0].score < -4
    assert found.left_out.any()
    assert not found.towards.any()
