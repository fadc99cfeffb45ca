"""What each wall reading should have been by the other openings of its shell: a straight line with broad priors.

Rough on purpose: it serves only to see slips far larger than itself. Its scales are the prior medians of the pooled
model; from other shells it takes no more than how fast shells of the kind usually wear.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.uncertainty import reading_u_um
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.priors import Priors

PRIORS = Priors()

SHELLS_FOR_A_CLASS = 8
"""Shells of one kind, read at three openings or more, that tell how fast the kind wears (judgement)."""

READINGS_FOR_A_RATE = 3

LEAST_SPREAD = 0.4
"""The rates of a kind are never taken to spread less than this [A/design_life_kh] (judgement)."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Expected:
    """Readings of the history with what the other openings expect; arrays of shape (n readings,).

    Attributes
    ----------
    tau_kh, wear_um : ndarray
        Age [kh], and wear read with the running-in taken off as its prior mean [µm].
    error_var : ndarray
        Variance of one reading: its uncertainty and the common error of an opening [µm²].
    uneven_var : ndarray
        Variance of uneven wear per 1000 hours [µm²/kh].
    level_um, level_var, rate_um_per_kh, rate_var : ndarray
        Priors of level and rate.
    mean_um, var : ndarray
        Wear expected, comparable with `wear_um`, and the variance of the reading about it, its own error
        included [µm], [µm²]. NaN where the reading is not used.
    others : ndarray of int
        Readings of other openings behind it.
    """

    tau_kh: Floats
    wear_um: Floats
    error_var: Floats
    uneven_var: Floats
    level_um: Floats
    level_var: Floats
    rate_um_per_kh: Floats
    rate_var: Floats
    mean_um: Floats
    var: Floats
    others: NDArray[np.int64]

    @property
    def residual_um(self) -> Floats:
        """Wear read less wear expected [µm]; below 0: thicker than expected."""
        return self.wear_um - self.mean_um


@dataclass(frozen=True, eq=False)
class _Sums:
    """The normal equations of a line: Σw, Σwτ, Σwτ², Σwz, Σwτz, priors included."""

    s0: Floats
    s1: Floats
    s2: Floats
    r0: Floats
    r1: Floats

    @property
    def determinant(self) -> Floats:
        return self.s0 * self.s2 - self.s1**2

    @property
    def rate(self) -> Floats:
        return (self.s0 * self.r1 - self.s1 * self.r0) / self.determinant

    def at(self, tau: Floats) -> tuple[Floats, Floats]:
        """The line and its variance at τ."""
        level = (self.s2 * self.r0 - self.s1 * self.r1) / self.determinant
        return level + self.rate * tau, (self.s2 - 2 * tau * self.s1 + tau**2 * self.s0) / self.determinant


def expected_walls(history: History, counted: NDArray[np.bool_]) -> Expected:
    """Expect every wall reading from the other openings of its series (one shell life x point).

    Notes
    -----
    z = level + rate τ + error, priors level ~ N(0, (0.1 A)² + new wall) and rate ~ N(A/60, (1.2 A/60)²), A the
    allowance; the textbook posterior of a line with known error variances, with the opening's own readings
    subtracted from the sums. Where enough shells of a kind (engine type, bearing, half) were read, the middle and
    spread of their rates so found take the place of the prior of the rate.
    """
    readings = history.readings
    prior = _prior(history)
    at = np.flatnonzero(counted & (readings["quantity"] == "wall").to_numpy() & np.isfinite(prior.wear_um))
    if not len(at):
        return prior
    series = readings["series"].to_numpy(dtype=np.intp)[at]
    prior = _with_usual_rates(history, prior, at, series)
    day = readings["date"].to_numpy()[at].astype("datetime64[D]").astype(np.int64)
    _, own = np.unique(np.column_stack([series, day]), axis=0, return_inverse=True)
    line = _sums(prior, at, series, own.ravel())
    tau = prior.tau_kh[at]
    mean, line_var = line.at(tau)
    apart = _apart_kh(series, own.ravel(), tau)
    count = np.bincount(series)[series] - np.bincount(own.ravel())[own.ravel()]
    values = prior.mean_um.copy(), prior.var.copy(), prior.others.copy()
    values[0][at] = mean
    values[1][at] = line_var + prior.error_var[at] + prior.uneven_var[at] * apart
    values[2][at] = count
    return replace(prior, mean_um=values[0], var=values[1], others=values[2])


def _prior(history: History) -> Expected:
    """Readings with the priors of their series; nothing expected yet."""
    readings = history.readings
    limits = [one.limit for one in history.series]
    allowance = np.array([one.allowance_um if one else np.nan for one in limits])
    band = np.array([(one.new_max_mm - one.new_min_mm) * UM_PER_MM if one else np.nan for one in limits])
    known = np.array([history.lives[one.life].fitting != "unknown" for one in history.series], dtype=bool)
    crown = np.array([one.point in CROWN_POINTS for one in history.series], dtype=bool)
    series = readings["series"].to_numpy(dtype=np.intp)
    A = np.where(allowance[series] > 0, allowance[series], np.nan)
    fitted = known[series]
    tau_kh = readings["tau_h"].to_numpy(dtype=np.float64) / H_PER_KH
    ran_in = np.where(fitted, PRIORS.running_in_mean * A * -np.expm1(-tau_kh / PRIORS.running_in_kh), 0.0)
    level_var = (PRIORS.running_in_sd * A) ** 2 + band[series] ** 2 / 12 + PRIORS.point_wall_sd_um**2
    level_var = np.where(crown[series], level_var, level_var + PRIORS.group_level_sd_um**2)
    per_kh = A / PRIORS.design_life_kh
    empty = np.full(len(readings), np.nan)
    return Expected(
        tau_kh=tau_kh,
        wear_um=readings["wear_um"].to_numpy(dtype=np.float64) - ran_in,
        error_var=reading_u_um(readings) ** 2 + (PRIORS.opening_error_median * A) ** 2,
        uneven_var=(PRIORS.uneven_wear_median * per_kh) ** 2,
        level_um=np.where(fitted, 0.0, PRIORS.unknown_start_mean * A),
        level_var=np.where(fitted, level_var, (PRIORS.unknown_start_sd * A) ** 2),
        rate_um_per_kh=PRIORS.rate_mean * per_kh,
        rate_var=(PRIORS.rate_sd * per_kh) ** 2,
        mean_um=empty,
        var=empty,
        others=np.zeros(len(readings), dtype=np.int64),
    )


def _sums(e: Expected, at: NDArray[np.intp], series: NDArray[np.intp], own: NDArray[np.intp] | None) -> _Sums:
    """Normal equations for each reading at `at`: of its whole series, or without its own opening."""
    tau, z = e.tau_kh[at], e.wear_um[at]
    # Uneven wear is a random walk from fitting; a quarter of it stands for the part a line cannot follow.
    w = 1.0 / (e.error_var[at] + e.uneven_var[at] * np.abs(tau) / 4)

    def total(x: Floats) -> Floats:
        every = np.bincount(series, weights=x)[series]
        return np.asarray(every if own is None else every - np.bincount(own, weights=x)[own])

    p0, p1 = 1.0 / e.level_var[at], 1.0 / e.rate_var[at]
    return _Sums(
        s0=total(w) + p0,
        s1=total(w * tau),
        s2=total(w * tau**2) + p1,
        r0=total(w * z) + p0 * e.level_um[at],
        r1=total(w * tau * z) + p1 * e.rate_um_per_kh[at],
    )


def _with_usual_rates(
    history: History, e: Expected, at: NDArray[np.intp], series: NDArray[np.intp]
) -> Expected:
    """Replace the prior of the rate by the middle and spread of each kind of shell that was read enough."""
    rate = _sums(e, at, series, None).rate
    lives = [history.lives[one.life] for one in history.series]
    kinds = [(history.engine_of(life).engine_type, life.place.bearing, life.place.half) for life in lives]
    kind = pd.factorize(pd.Series(kinds, dtype=object))[0][series]
    _, first, count = np.unique(series, return_index=True, return_counts=True)
    enough = first[count >= READINGS_FOR_A_RATE]
    mean, var = e.rate_um_per_kh.copy(), e.rate_var.copy()
    for one in np.unique(kind[enough]).tolist():
        rates = rate[enough[kind[enough] == one]]
        if len(rates) >= SHELLS_FOR_A_CLASS:
            middle = float(np.median(rates))
            spread = float(1.4826 * np.median(np.abs(rates - middle)))
            rows = at[kind == one]
            mean[rows] = middle
            var[rows] = np.maximum(spread, LEAST_SPREAD * e.rate_um_per_kh[rows] / PRIORS.rate_mean) ** 2
    return replace(e, rate_um_per_kh=mean, rate_var=var)


def _apart_kh(series: NDArray[np.intp], own: NDArray[np.intp], tau: Floats) -> Floats:
    """Hours to the nearest reading of another opening of the series, else to fitting [kh]."""
    order = np.lexsort((tau, series))
    apart = np.abs(tau).copy()
    for step in (1, -1):
        near = np.roll(order, step)
        same = (series[order] == series[near]) & (own[order] != own[near])
        gap = np.abs(tau[order] - tau[near])
        apart[order] = np.where(same, np.minimum(apart[order], gap), apart[order])
    return apart
