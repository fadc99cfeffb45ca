"""What each wall reading should have been by the other openings of its shell: a straight line with broad priors.

Rough on purpose: it borrows from no other shell and serves only to see slips far larger than itself. Its scales
are the prior medians of the pooled model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.uncertainty import reading_u_um
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.priors import Priors

PRIORS = Priors()
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Expected:
    """Readings of the history with what the other openings expect; arrays of shape (n readings,).

    Attributes
    ----------
    wear_um : ndarray
        Wear read, running-in taken off as its prior mean [µm].
    error_var : ndarray
        Variance of one reading: its uncertainty and the common error of an opening [µm²].
    uneven_var : ndarray
        Variance of uneven wear per 1000 hours [µm²/kh].
    mean_um, var : ndarray
        Wear expected, comparable with `wear_um`, and the variance of the reading about it, its own error
        included [µm], [µm²]. NaN where the reading is not used.
    others : ndarray of int
        Readings of other openings behind it.
    level_var, rate_um_per_kh, rate_var : ndarray
        Priors of level and rate.
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


def expected_walls(history: History, counted: NDArray[np.bool_]) -> Expected:
    """Expect every wall reading from the other openings of its series (one shell life x point).

    Notes
    -----
    z = level + rate τ + error, priors level ~ N(0, (0.1 A)² + new wall) and rate ~ N(A/60, (1.2 A/60)²), A the
    allowance; the textbook posterior of a line with known error variances, two normal equations a series, with
    the opening's own readings subtracted from their sums.
    """
    readings = history.readings
    prior = _prior(history)
    used = counted & (readings["quantity"] == "wall").to_numpy() & np.isfinite(prior.wear_um)
    at = np.flatnonzero(used)
    mean, var = np.full(len(readings), np.nan), np.full(len(readings), np.nan)
    others = np.zeros(len(readings), dtype=np.int64)
    if len(at):
        mean[at], var[at], others[at] = _without_own_opening(history, prior, at)
    return Expected(**{**prior.__dict__, "mean_um": mean, "var": var, "others": others})


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


def _without_own_opening(
    history: History, e: Expected, at: NDArray[np.intp]
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Mean, variance and number of other readings for the readings at `at`."""
    readings = history.readings
    series = readings["series"].to_numpy(dtype=np.intp)[at]
    day = readings["date"].to_numpy()[at].astype("datetime64[D]").astype(np.int64)
    _, own = np.unique(np.column_stack([series, day]), axis=0, return_inverse=True)
    tau, z = e.tau_kh[at], e.wear_um[at]
    # Uneven wear is carried as a random walk of half the span: a reading far off says less.
    w = 1.0 / (e.error_var[at] + e.uneven_var[at] * np.abs(tau) / 4)

    def of_others(x: Floats) -> Floats:
        total = np.bincount(series, weights=x, minlength=len(history.series))[series]
        return np.asarray(total - np.bincount(own.ravel(), weights=x)[own.ravel()])

    p0, p1 = 1.0 / e.level_var[at], 1.0 / e.rate_var[at]
    s0, s1, s2 = of_others(w) + p0, of_others(w * tau), of_others(w * tau**2) + p1
    r0 = of_others(w * z) + p0 * e.level_um[at]
    r1 = of_others(w * tau * z) + p1 * e.rate_um_per_kh[at]
    det = s0 * s2 - s1**2
    level, rate = (s2 * r0 - s1 * r1) / det, (s0 * r1 - s1 * r0) / det
    line_var = (s2 - 2 * tau * s1 + tau**2 * s0) / det
    count = np.rint(of_others(np.ones(len(at)))).astype(np.int64)
    apart = _apart_kh(series, own.ravel(), tau)
    return level + rate * tau, line_var + e.error_var[at] + e.uneven_var[at] * apart, count


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
