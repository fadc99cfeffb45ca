"""Visits to an invented fleet, and how its shells wear between and after them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from fleet_plan import FleetPlan, OtherTruth

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.priors import Priors

LONGEST_PATH_KH = 400.0
_PATH_STEP_KH = 0.25


@dataclass(frozen=True)
class Visits:
    """Who is read when: shells with their place, and readings with shell, hours and opening."""

    engine: IntArray
    position: IntArray
    tau_now: FloatArray
    current: BoolArray
    shell: IntArray
    tau: FloatArray
    opening: IntArray
    is_new: BoolArray


def draw_visits(plan: FleetPlan, rng: np.random.Generator) -> Visits:
    """Draw openings, renewals, and which shells are read when."""
    engine, position, tau_now, current = [], [], [], []
    shell, tau, opening, is_new = [], [], [], []
    for e in range(plan.n_engines):
        gaps = rng.uniform(*plan.opening_gap_kh, plan.n_openings)
        gaps[0] = rng.uniform(*plan.first_opening_kh)
        hours = np.cumsum(gaps)
        for p in range(plan.n_positions):
            count = int(rng.integers(plan.fewest_readings, plan.most_readings + 1))
            read = np.sort(rng.choice(plan.n_openings, min(count, plan.n_openings), replace=False))
            fitted = [(0.0, -1)]
            if plan.n_openings > 1 and rng.random() < plan.renewal_share:
                at = int(rng.integers(0, plan.n_openings - 1))
                fitted.append((float(hours[at]), at))
            for life, (start, started_at) in enumerate(fitted):
                last = life == len(fitted) - 1
                end = plan.n_openings - 1 if last else fitted[life + 1][1]
                engine.append(e)
                position.append(p)
                tau_now.append(float(hours[-1]) - start if last else float(hours[end]) - start)
                current.append(last)
                number = len(engine) - 1
                if rng.random() < plan.measured_new_share:
                    shell.append(number)
                    tau.append(0.0)
                    is_new.append(True)
                    opening.append(e * (plan.n_openings + 1) + started_at + 1)
                for k in read[(read > started_at) & (read <= end)]:
                    shell.append(number)
                    tau.append(float(hours[k]) - start)
                    is_new.append(False)
                    opening.append(e * (plan.n_openings + 1) + int(k) + 1)
    return Visits(
        np.array(engine, dtype=np.intp),
        np.array(position, dtype=np.intp),
        np.array(tau_now),
        np.array(current, dtype=bool),
        np.array(shell, dtype=np.intp),
        np.array(tau),
        np.array(opening, dtype=np.intp),
        np.array(is_new, dtype=bool),
    )


def rate_spread(
    visits: Visits, plan: FleetPlan, sigma: dict[str, float], rng: np.random.Generator
) -> FloatArray:
    """What positions, engines, places and shells add to the rate of every shell."""
    place = visits.engine * plan.n_positions + visits.position
    return np.asarray(
        sigma["position_rate"] * rng.normal(size=plan.n_positions)[visits.position]
        + sigma["engine_rate"] * rng.normal(size=plan.n_engines)[visits.engine]
        + sigma["place_rate"] * rng.normal(size=plan.n_engines * plan.n_positions)[place]
        + sigma["shell_rate"] * rng.normal(size=len(place))
    )


def brownian_wear(
    visits: Visits, rates: FloatArray, sigma_b: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Steady and uneven wear at the readings and now."""

    def increments(shell: IntArray, dt: FloatArray) -> FloatArray:
        return np.asarray(rates[shell] * dt + sigma_b * np.sqrt(dt) * rng.normal(size=len(dt)))

    return _along(visits, increments)


def gamma_wear_path(
    visits: Visits, rates: FloatArray, sigma_b: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """The same with gamma increments of equal mean and variance (van Noortwijk 2009)."""

    def increments(shell: IntArray, dt: FloatArray) -> FloatArray:
        scale = sigma_b**2 / rates[shell]
        return np.asarray(rng.gamma(np.maximum(rates[shell] * dt / scale, 1e-9), scale))

    return _along(visits, increments)


def _along(
    visits: Visits, increments: Callable[[IntArray, FloatArray], FloatArray]
) -> tuple[FloatArray, FloatArray]:
    n_shells = len(visits.engine)
    shell = np.r_[visits.shell, np.arange(n_shells)]
    tau = np.r_[visits.tau, visits.tau_now]
    order = np.lexsort((tau, shell))
    first = np.r_[True, shell[order][1:] != shell[order][:-1]]
    before = np.where(first, 0.0, np.r_[0.0, tau[order][:-1]])
    steps = increments(shell[order], tau[order] - before)
    total = np.cumsum(steps)
    offset = np.where(first, np.r_[0.0, total[:-1]], 0.0)
    path = np.empty(len(tau))
    start = np.flatnonzero(first)
    length = np.diff(np.r_[start, len(tau)])
    path[order] = total - np.repeat(offset[start], length)
    return path[: len(visits.tau)], path[len(visits.tau) :]


def true_hours_to_limit(
    plan: FleetPlan,
    visits: Visits,
    level: FloatArray,
    rates: FloatArray,
    sigma_b: float,
    running_in: float,
    priors: Priors,
    truth: OtherTruth | None,
    rng: np.random.Generator,
) -> FloatArray:
    """True hours from now until the wear trend stands at the limit.

    A gamma path is followed step by step. A Brownian path comes and goes; what the forecast
    states is the chance that it stands past the limit at h, so W(h) is drawn as σ_B √h times
    one normal number, which has that chance at every h and reaches the limit once.
    """
    hours = np.arange(0.0, LONGEST_PATH_KH, _PATH_STEP_KH)
    decay = np.exp(-visits.tau_now / priors.running_in_kh)[:, None]
    ahead = level[:, None] + running_in * decay * -np.expm1(-hours / priors.running_in_kh)
    if truth is not None and truth.gamma_wear:
        scale = (sigma_b**2 / rates)[:, None]
        shape = rates[:, None] * _PATH_STEP_KH / scale
        steps = rng.gamma(np.broadcast_to(shape, ahead.shape), scale)
        ahead = ahead + np.cumsum(steps, axis=1) - steps
    else:
        uneven = sigma_b * np.sqrt(hours) * rng.normal(size=(len(level), 1))
        ahead = ahead + rates[:, None] * hours + uneven
    past = ahead >= plan.allowance_um
    at = past.argmax(axis=1)
    rows = np.arange(len(level))
    before = ahead[rows, np.maximum(at - 1, 0)]
    step = ahead[rows, at] - before
    share = (plan.allowance_um - before) / np.where(step > 0, step, 1.0)
    found = hours[np.maximum(at - 1, 0)] + share * _PATH_STEP_KH
    found = np.where(at == 0, 0.0, found)
    return np.where(past.any(axis=1), found, np.inf)
