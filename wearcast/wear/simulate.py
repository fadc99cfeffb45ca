"""Invented fleets with known truth: from the pooled model itself, and from worlds unlike it.

Everything is drawn from a `numpy.random.Generator` handed in, so a seed gives the same fleet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

LONGEST_PATH_KH = 400.0
_PATH_STEP_KH = 0.25


@dataclass(frozen=True)
class FleetPlan:
    """How a fleet is laid out and read.

    Attributes
    ----------
    n_engines, n_positions, n_openings : int
    fewest_readings, most_readings : int
        Readings of one shell, drawn evenly between; the openings are drawn too.
    first_opening_kh, opening_gap_kh : tuple of float
        Ranges the hours of the first opening and the gaps are drawn from [kh].
    allowance_um, default_u_um, new_wall_sd_um : float
        Allowance, reading error and spread of the new walls [µm].
    log_sd : float
        Log-sd of the priors of the standard deviations.
    measured_new_share : float
        Share of the shells whose new wall was measured.
    renewal_share : float
        Share of the places whose shell was renewed once, at an opening but the last.
    stated_share : float
        Share of the fleets whose readings state their uncertainty, `default_u_um`.
    step_um : float
        Rounding step of the readings [µm]; 0 for none.
    """

    n_engines: int = 4
    n_positions: int = 7
    n_openings: int = 5
    fewest_readings: int = 1
    most_readings: int = 5
    first_opening_kh: tuple[float, float] = (0.5, 4.0)
    opening_gap_kh: tuple[float, float] = (0.5, 3.5)
    allowance_um: float = 50.0
    default_u_um: float = 6.0
    new_wall_sd_um: float = 15.0 / 12**0.5
    log_sd: float = 0.6
    measured_new_share: float = 0.2
    renewal_share: float = 0.15
    stated_share: float = 0.0
    step_um: float = 0.0


@dataclass(frozen=True)
class OtherTruth:
    """A world the model was not built for.

    Attributes
    ----------
    gamma_wear : bool
        Wear grows by gamma increments, never backwards, instead of a Brownian path.
    lognormal_rates : bool
        Rates are products of log-normal factors instead of sums of normal terms.
    slip_share : float
        Share of readings wrong by 30 to 100 µm either way.
    fast_factor : float
        One place of the fleet wears so many times its rate.
    """

    gamma_wear: bool = True
    lognormal_rates: bool = True
    slip_share: float = 0.03
    fast_factor: float = 3.0


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


@dataclass(frozen=True)
class _Visits:
    """Who is read when: shells with their place, and readings with shell, hours and opening."""

    engine: IntArray
    position: IntArray
    tau_now: FloatArray
    current: BoolArray
    shell: IntArray
    tau: FloatArray
    opening: IntArray
    is_new: BoolArray


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
    visits = _visits(plan, rng)
    stated = bool(rng.random() < plan.stated_share)
    while True:
        sigma = draw_sigma(plan, priors, rng, stated)
        rate = rng.normal(priors.rate_mean * per_kh, priors.rate_sd * per_kh)
        running_in = rng.normal(
            priors.running_in_mean * plan.allowance_um, priors.running_in_sd * plan.allowance_um
        )
        rates = rate + _spread(visits, plan, sigma, rng)
        if (rates > 0).all():
            break
    coefficients = {"rate": float(rate), "running_in": float(running_in)}
    wear, path_now = _brownian(visits, rates, sigma["uneven_wear"], rng)
    return _read(plan, priors, visits, sigma, coefficients, rates, wear, path_now, None, rng)


def draw_other_fleet(plan: FleetPlan, priors: Priors, truth: OtherTruth, rng: np.random.Generator) -> Fleet:
    """Draw a fleet from a world the model was not built for, at its prior medians."""
    per_kh = plan.allowance_um / priors.design_life_kh
    visits = _visits(plan, rng)
    sigma = median_sigma(plan, priors)
    while True:
        spread = _spread(visits, plan, sigma, rng)
        rates = per_kh * np.exp(spread / per_kh) if truth.lognormal_rates else per_kh + spread
        if (rates > 0).all():
            break
    fast_engine, fast_position = rng.integers(plan.n_engines), rng.integers(plan.n_positions)
    fast = (visits.engine == fast_engine) & (visits.position == fast_position)
    rates = np.where(fast, truth.fast_factor * rates, rates)
    draw = _gamma if truth.gamma_wear else _brownian
    wear, path_now = draw(visits, rates, sigma["uneven_wear"], rng)
    coefficients = {"rate": per_kh, "running_in": priors.running_in_mean * plan.allowance_um}
    return _read(plan, priors, visits, sigma, coefficients, rates, wear, path_now, truth, rng)


def _visits(plan: FleetPlan, rng: np.random.Generator) -> _Visits:
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
    return _Visits(
        np.array(engine, dtype=np.intp),
        np.array(position, dtype=np.intp),
        np.array(tau_now),
        np.array(current, dtype=bool),
        np.array(shell, dtype=np.intp),
        np.array(tau),
        np.array(opening, dtype=np.intp),
        np.array(is_new, dtype=bool),
    )


def _spread(
    visits: _Visits, plan: FleetPlan, sigma: dict[str, float], rng: np.random.Generator
) -> FloatArray:
    """What positions, engines, places and shells add to the rate of every shell."""
    place = visits.engine * plan.n_positions + visits.position
    return np.asarray(
        sigma["position_rate"] * rng.normal(size=plan.n_positions)[visits.position]
        + sigma["engine_rate"] * rng.normal(size=plan.n_engines)[visits.engine]
        + sigma["place_rate"] * rng.normal(size=plan.n_engines * plan.n_positions)[place]
        + sigma["shell_rate"] * rng.normal(size=len(place))
    )


def _brownian(
    visits: _Visits, rates: FloatArray, sigma_b: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Steady and uneven wear at the readings and now."""

    def increments(shell: IntArray, dt: FloatArray) -> FloatArray:
        return np.asarray(rates[shell] * dt + sigma_b * np.sqrt(dt) * rng.normal(size=len(dt)))

    return _along(visits, increments)


def _gamma(
    visits: _Visits, rates: FloatArray, sigma_b: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """The same with gamma increments of equal mean and variance (van Noortwijk 2009)."""

    def increments(shell: IntArray, dt: FloatArray) -> FloatArray:
        scale = sigma_b**2 / rates[shell]
        return np.asarray(rng.gamma(np.maximum(rates[shell] * dt / scale, 1e-9), scale))

    return _along(visits, increments)


def _along(
    visits: _Visits, increments: Callable[[IntArray, FloatArray], FloatArray]
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


def _read(
    plan: FleetPlan,
    priors: Priors,
    visits: _Visits,
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
    )
    hours = _hours_to_limit(plan, visits, level, rates, sigma["uneven_wear"], running_in, priors, truth, rng)
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


def _hours_to_limit(
    plan: FleetPlan,
    visits: _Visits,
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


def with_one_engine(plan: FleetPlan) -> FleetPlan:
    """The same plan without sisters."""
    return replace(plan, n_engines=1)
