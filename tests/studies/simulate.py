"""Invented fleets with known truth: from the pooled model itself, and from worlds unlike it.

Everything is drawn from a `numpy.random.Generator` handed in, so a seed gives the same fleet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from fleet_paths import (
    Visits,
    brownian_wear,
    draw_visits,
    gamma_wear_path,
    rate_spread,
    true_hours_to_limit,
)
from fleet_plan import FleetPlan, OtherTruth, with_one_engine

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

__all__ = [
    "Fleet",
    "FleetPlan",
    "OtherTruth",
    "draw_fleet",
    "draw_other_fleet",
    "draw_sigma",
    "median_sigma",
    "with_one_engine",
]


@dataclass(frozen=True)
class Fleet:
    """A drawn fleet and what is true of it.

    Attributes
    ----------
    readings : ClassReadings
    sigma : dict of str to float
        True standard deviations by the names of the model's terms.
    coefficients : dict of str to float
        ``rate`` and ``running_in``.
    current : int array (m,)
        Shells in service, one a place.
    level_um, rate_um_per_kh : arrays (M,)
        True wear now and true rate of every shell.
    hours_to_limit_kh : array (M,)
        Hours from now until the wear trend stands at the limit [kh]; 0 where it does already,
        inf where it has not within 400 kh.
    slipped : bool array (n,)
        Readings that are wrong.
    """

    readings: ClassReadings
    sigma: dict[str, float]
    coefficients: dict[str, float]
    current: IntArray
    level_um: FloatArray
    rate_um_per_kh: FloatArray
    hours_to_limit_kh: FloatArray
    slipped: BoolArray


def draw_sigma(
    plan: FleetPlan, priors: Priors, rng: np.random.Generator, stated: bool = False
) -> dict[str, float]:
    """Standard deviations drawn from their priors [µm, µm/kh, µm/√kh]."""
    medians = median_sigma(plan, priors, stated)
    return {name: m * float(np.exp(plan.log_sd * rng.normal())) for name, m in medians.items()}


def median_sigma(plan: FleetPlan, priors: Priors, stated: bool = False) -> dict[str, float]:
    """Prior medians of the standard deviations of a fleet read at one point a shell."""
    per_kh = plan.allowance_um / priors.design_life_kh
    error = {"reading_error": plan.default_u_um}
    if stated:
        error = {"extra_error": priors.extra_error_median * plan.allowance_um}
    return error | {
        "shell_rate": priors.shell_rate_median * per_kh,
        "uneven_wear": priors.uneven_wear_median * per_kh,
        "place_rate": priors.place_rate_median * per_kh,
        "engine_rate": priors.engine_rate_median * per_kh,
        "opening_error": priors.opening_error_median * plan.allowance_um,
        "position_rate": priors.position_rate_median * per_kh,
    }


def draw_fleet(plan: FleetPlan, priors: Priors, rng: np.random.Generator) -> Fleet:
    """Draw standard deviations, coefficients and a fleet from the model.

    Fleets in which any rate is 0 or less are drawn again, standard deviations and all.
    """
    per_kh = plan.allowance_um / priors.design_life_kh
    visits = draw_visits(plan, rng)
    stated = bool(rng.random() < plan.stated_share)
    while True:
        sigma = draw_sigma(plan, priors, rng, stated)
        rate = rng.normal(priors.rate_mean * per_kh, priors.rate_sd * per_kh)
        running_in = rng.normal(
            priors.running_in_mean * plan.allowance_um, priors.running_in_sd * plan.allowance_um
        )
        rates = rate + rate_spread(visits, plan, sigma, rng)
        if (rates > 0).all():
            break
    coefficients = {"rate": float(rate), "running_in": float(running_in)}
    wear, path_now = brownian_wear(visits, rates, sigma["uneven_wear"], rng)
    return _read(plan, priors, visits, sigma, coefficients, rates, wear, path_now, None, rng)


def draw_other_fleet(plan: FleetPlan, priors: Priors, truth: OtherTruth, rng: np.random.Generator) -> Fleet:
    """Draw a fleet from a world the model was not built for, at its prior medians."""
    per_kh = plan.allowance_um / priors.design_life_kh
    visits = draw_visits(plan, rng)
    sigma = median_sigma(plan, priors)
    while True:
        spread = rate_spread(visits, plan, sigma, rng)
        rates = per_kh * np.exp(spread / per_kh) if truth.lognormal_rates else per_kh + spread
        if (rates > 0).all():
            break
    fast_engine, fast_position = rng.integers(plan.n_engines), rng.integers(plan.n_positions)
    fast = (visits.engine == fast_engine) & (visits.position == fast_position)
    rates = np.where(fast, truth.fast_factor * rates, rates)
    draw = gamma_wear_path if truth.gamma_wear else brownian_wear
    wear, path_now = draw(visits, rates, sigma["uneven_wear"], rng)
    coefficients = {"rate": per_kh, "running_in": priors.running_in_mean * plan.allowance_um}
    return _read(plan, priors, visits, sigma, coefficients, rates, wear, path_now, truth, rng)


def _read(
    plan: FleetPlan,
    priors: Priors,
    visits: Visits,
    sigma: dict[str, float],
    coefficients: dict[str, float],
    rates: FloatArray,
    wear: FloatArray,
    path_now: FloatArray,
    truth: OtherTruth | None,
    rng: np.random.Generator,
) -> Fleet:
    """Read the fleet: running-in, new walls, gauge errors, reading errors, rounding, slips."""
    n, n_shells = len(visits.tau), len(visits.engine)
    running_in = coefficients["running_in"]

    def worn_in(tau: FloatArray) -> FloatArray:
        return running_in * -np.expm1(-tau / priors.running_in_kh)

    walls = plan.new_wall_sd_um * rng.normal(size=n_shells)
    level = path_now + worn_in(visits.tau_now) + walls
    n_labels = plan.n_engines * (plan.n_openings + 1)
    gauge = sigma["opening_error"] * rng.normal(size=n_labels)
    z = wear + worn_in(visits.tau) + walls[visits.shell] + gauge[visits.opening]
    stated = "extra_error" in sigma
    error = float(np.hypot(plan.default_u_um, sigma["extra_error"])) if stated else sigma["reading_error"]
    z = z + error * rng.normal(size=n)
    slipped = np.zeros(n, dtype=bool)
    if truth is not None and truth.slip_share > 0:
        slipped = rng.random(n) < truth.slip_share
        z = z + slipped * rng.choice([-1.0, 1.0], n) * rng.uniform(30.0, 100.0, n)
    if plan.step_um > 0:
        z = plan.step_um * np.round(z / plan.step_um)
    readings = ClassReadings(
        z_um=z,
        tau_kh=visits.tau,
        u_um=np.full(n, plan.default_u_um if stated else np.nan),
        step_um=np.full(n, plan.step_um),
        series=visits.shell,
        opening=visits.opening,
        is_new_wall=visits.is_new,
        series_shell=np.arange(n_shells),
        series_group=np.zeros(n_shells, dtype=np.intp),
        series_limit_um=np.full(n_shells, plan.allowance_um),
        shell_engine=visits.engine,
        shell_position=visits.position,
        shell_fitting_known=np.ones(n_shells, dtype=bool),
        shell_tau_now_kh=visits.tau_now,
        shell_delta_sd_um=np.full(n_shells, plan.new_wall_sd_um),
        allowance_um=plan.allowance_um,
        default_u_um=plan.default_u_um,
        log_sd=plan.log_sd,
        shell_in_service=visits.current,
    )
    hours = true_hours_to_limit(
        plan, visits, level, rates, sigma["uneven_wear"], running_in, priors, truth, rng
    )
    return Fleet(
        readings,
        sigma,
        coefficients,
        np.flatnonzero(visits.current),
        level,
        rates,
        hours,
        slipped,
    )
