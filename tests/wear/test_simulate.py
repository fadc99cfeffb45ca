"""Invented fleets have the moments they claim."""

from dataclasses import replace

import fleet_paths
import numpy as np
import pytest
from scipy import stats
from simulate import (
    FleetPlan,
    OtherTruth,
    draw_fleet,
    draw_other_fleet,
    draw_sigma,
    median_sigma,
    with_one_engine,
)

from wearcast.wear.priors import Priors

PRIORS = Priors()


def test_a_seed_gives_the_same_fleet():
    one, two = (draw_fleet(FleetPlan(), PRIORS, np.random.default_rng(4)) for _ in range(2))
    np.testing.assert_array_equal(one.readings.z_um, two.readings.z_um)
    np.testing.assert_array_equal(one.hours_to_limit_kh, two.hours_to_limit_kh)


def test_standard_deviations_are_log_normal_about_their_medians():
    plan, rng = FleetPlan(), np.random.default_rng(1)
    medians = median_sigma(plan, PRIORS)
    drawn = [draw_sigma(plan, PRIORS, rng) for _ in range(2000)]
    for name, median in medians.items():
        logs = np.log([d[name] for d in drawn]) - np.log(median)
        assert stats.kstest(logs / plan.log_sd, "norm").pvalue > 1e-3


@pytest.mark.parametrize("seed", range(5))
def test_every_shell_is_read_as_often_as_planned_and_wears(seed):
    plan = FleetPlan(n_engines=3, renewal_share=0.0, measured_new_share=0.0)
    fleet = draw_fleet(plan, PRIORS, np.random.default_rng(seed))
    counts = np.bincount(fleet.readings.series, minlength=fleet.readings.n_series)
    assert counts.min() >= 1
    assert counts.max() <= 5
    assert (fleet.rate_um_per_kh > 0).all()
    assert fleet.readings.n_shells == 21


def test_renewed_places_have_two_lives_and_one_shell_in_service():
    plan = FleetPlan(n_engines=3, renewal_share=1.0)
    fleet = draw_fleet(plan, PRIORS, np.random.default_rng(0))
    assert fleet.readings.n_shells == 42
    assert len(fleet.current) == 21
    place = fleet.readings.shell_engine * 100 + fleet.readings.shell_position
    assert len(np.unique(place[fleet.current])) == 21
    assert (
        fleet.readings.tau_kh <= fleet.readings.shell_tau_now_kh[fleet.readings.reading_shell] + 1e-9
    ).all()


@pytest.mark.parametrize("kind", ["brownian_wear", "gamma_wear_path"])
def test_wear_paths_have_their_mean_variance_and_independent_increments(kind):
    n, rate, sigma_b = 40_000, 1.3, 0.9
    shell = np.repeat(np.arange(n), 2)
    visits = fleet_paths.Visits(
        engine=np.zeros(n, dtype=int),
        position=np.zeros(n, dtype=int),
        tau_now=np.full(n, 12.0),
        current=np.ones(n, dtype=bool),
        shell=shell,
        tau=np.tile([4.0, 9.0], n),
        opening=np.zeros(2 * n, dtype=int),
        is_new=np.zeros(2 * n, dtype=bool),
    )
    wear, now = getattr(fleet_paths, kind)(visits, np.full(n, rate), sigma_b, np.random.default_rng(2))
    early, late = wear[::2], wear[1::2]
    for value, hours in ((early, 4.0), (late, 9.0), (now, 12.0)):
        assert value.mean() == pytest.approx(rate * hours, abs=0.05)
        assert value.var() == pytest.approx(sigma_b**2 * hours, rel=0.05)
    assert abs(np.corrcoef(early, late - early)[0, 1]) < 0.02
    if kind == "gamma_wear_path":
        assert (late >= early).all()
        assert (now >= late).all()


def test_gamma_wear_reaches_its_limit_as_the_published_law_says(reference):
    """P(life ≤ t) = P(Gamma(shape·t) > limit), van Noortwijk (2009)."""
    case = reference("gamma_process")
    given = case["inputs"]
    scale = 1000 / given["rate_per_mm"]
    rate, sigma_b = given["shape_per_kh"] * scale, np.sqrt(given["shape_per_kh"]) * scale
    n, hours = 60_000, np.array(given["t_kh"], dtype=float)
    limit = 1000 * given["limit_mm"]
    plan = FleetPlan(allowance_um=limit)
    visits = fleet_paths.Visits(
        engine=np.zeros(n, dtype=int),
        position=np.zeros(n, dtype=int),
        tau_now=np.zeros(n),
        current=np.ones(n, dtype=bool),
        shell=np.zeros(0, dtype=int),
        tau=np.zeros(0),
        opening=np.zeros(0, dtype=int),
        is_new=np.zeros(0, dtype=bool),
    )
    found = np.concatenate(
        [
            fleet_paths.true_hours_to_limit(
                plan, replace_visits(visits, 2000), np.zeros(2000), np.full(2000, rate), float(sigma_b), 0.0,
                PRIORS, OtherTruth(), np.random.default_rng([6, k]),
            )
            for k in range(n // 2000)
        ]
    )  # fmt: skip
    shares = (found[:, None] <= hours).mean(axis=0)
    expected = np.array(case["reference"]["cdf"])
    error = np.sqrt(expected * (1 - expected) / n)
    # Steps of a quarter of a thousand hours blur the passage by half a step.
    assert (np.abs(shares - expected) < 4 * error + 0.008).all()


def replace_visits(visits, n):
    return replace(visits, engine=visits.engine[:n], position=visits.position[:n], tau_now=visits.tau_now[:n])


def test_true_hours_have_the_chance_of_standing_past_the_limit():
    """Draws of the hours against Φ((level + bh − L)/σ_B√h) at some hours."""
    n = 50_000
    plan = FleetPlan()
    visits = fleet_paths.Visits(
        engine=np.zeros(n, dtype=int),
        position=np.zeros(n, dtype=int),
        tau_now=np.full(n, 30.0),
        current=np.ones(n, dtype=bool),
        shell=np.zeros(0, dtype=int),
        tau=np.zeros(0),
        opening=np.zeros(0, dtype=int),
        is_new=np.zeros(0, dtype=bool),
    )
    level, rate, sigma_b = np.full(n, 35.0), np.full(n, 0.8), 1.1
    parts = []
    for k in range(0, n, 2000):
        rng = np.random.default_rng([3, k])
        cut = replace_visits(visits, 2000)
        parts.append(
            fleet_paths.true_hours_to_limit(
                plan, cut, level[:2000], rate[:2000], sigma_b, 2.0, PRIORS, None, rng
            )
        )
    hours = np.concatenate(parts)
    for h in (10.0, 18.0, 30.0):
        expected = stats.norm.cdf((35.0 + 0.8 * h - 50.0) / (sigma_b * np.sqrt(h)))
        assert (hours <= h).mean() == pytest.approx(expected, abs=0.01)


def test_other_truths_slip_round_and_wear_fast_where_they_say():
    plan = FleetPlan(n_engines=8, step_um=10.0, renewal_share=0.3)
    fleet = draw_other_fleet(plan, PRIORS, OtherTruth(), np.random.default_rng(3))
    np.testing.assert_allclose(fleet.readings.z_um % 10.0, 0.0, atol=1e-9)
    assert (fleet.readings.step_um == 10.0).all()
    assert 0.0 < fleet.slipped.mean() < 0.08
    plain = replace(OtherTruth(), fast_factor=1.0)
    same = draw_other_fleet(plan, PRIORS, plain, np.random.default_rng(3))
    ratio = fleet.rate_um_per_kh / same.rate_um_per_kh
    assert set(np.round(ratio, 9)) == {1.0, 3.0}
    fast = ratio > 2
    place = fleet.readings.shell_engine * 100 + fleet.readings.shell_position
    assert len(np.unique(place[fast])) == 1


def test_without_sisters_there_is_one_engine():
    fleet = draw_other_fleet(with_one_engine(FleetPlan()), PRIORS, OtherTruth(), np.random.default_rng(0))
    assert fleet.readings.n_engines == 1
