"""Huber and Theil-Sen rates of every series: a second opinion beside the own line, one odd reading or not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from wearcast.wear.grouped import as_readings, same_length

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from wearcast.wear.grouped import Floats

HUBER_K = 1.345
"""Residuals beyond k scales are held: 95 % efficiency if the errors are normal (Huber 1981, from memory)."""

_MAD_TO_SD = float(ndtri(0.75))
_MOST_ROUNDS = 200
_PAIRS_AT_ONCE = 4_000_000


def theil_sen_rates(tau_kh: ArrayLike, z_um: ArrayLike, series: ArrayLike, n_series: int) -> Floats:
    """Median of the slopes of all pairs of readings at different hours, for every series.

    Parameters
    ----------
    tau_kh, z_um : array_like, shape (n,)
        Shell hours [kh] and wear [µm]; finite.
    series : array_like of int, shape (n,)
        Series of each reading, 0 … n_series − 1.
    n_series : int
        Number of series.

    Returns
    -------
    ndarray, shape (n_series,)
        Rate [µm/kh]; NaN without readings at two different hours.

    Raises
    ------
    ValueError
        As `fit_lines`.

    Notes
    -----
    Sen, P.K. (1968), J. Am. Stat. Assoc. 63, 1379-1389. Stated uncertainties are not used: it is a check on
    the weighted line too.

    Examples
    --------
    >>> theil_sen_rates([10, 20, 30, 40, 50], [50, 100, 150, 200, 900], [0] * 5, 1)
    array([5.])
    """
    tau, z, group = as_readings(tau_kh, z_um, series, n_series)
    rates = np.full(n_series, np.nan)
    for ids, rows in same_length(group, n_series):
        first, second = np.triu_indices(rows.shape[1], 1)
        step = max(1, _PAIRS_AT_ONCE // first.size)
        for start in range(0, ids.size, step):
            part = rows[start : start + step]
            d_tau = tau[part[:, second]] - tau[part[:, first]]
            d_z = z[part[:, second]] - z[part[:, first]]
            some = (d_tau != 0).any(axis=1)
            slopes = np.divide(d_z, d_tau, out=np.full(d_z.shape, np.nan), where=d_tau != 0)
            rates[ids[start : start + step][some]] = np.nanmedian(slopes[some], axis=1)
    return rates


def huber_rates(tau_kh: ArrayLike, z_um: ArrayLike, series: ArrayLike, n_series: int) -> Floats:
    """Rate of Huber's line for every series, by reweighting from least squares until nothing moves.

    The scale is the median absolute residual / 0.6745, taken anew in each round. With three readings it is
    the least-squares rate but for a hair, since no residual can stand out from three.

    Parameters
    ----------
    tau_kh, z_um : array_like, shape (n,)
        Shell hours [kh] and wear [µm]; finite.
    series : array_like of int, shape (n,)
        Series of each reading, 0 … n_series − 1.
    n_series : int
        Number of series.

    Returns
    -------
    ndarray, shape (n_series,)
        Rate [µm/kh]; NaN without readings at two different hours, or where the rounds do not settle (few
        readings, one far out at an end: scale and line then creep on together, and a figure would be one of
        when we stopped).

    Raises
    ------
    ValueError
        As `fit_lines`.

    Notes
    -----
    Huber, P.J. (1981), Robust Statistics, ch. 7, from memory. `diagnose` gives the same line by statsmodels
    for one series; that costs milliseconds a series and a second of import, which a table cannot spend.

    Examples
    --------
    >>> huber_rates([10, 20, 30, 40, 50], [50, 104, 149, 290, 250], [0] * 5, 1).round(2)
    array([5.07])
    """
    tau, z, group = as_readings(tau_kh, z_um, series, n_series)
    rates = np.full(n_series, np.nan)
    for ids, rows in same_length(group, n_series):
        some = np.ptp(tau[rows], axis=1) > 0
        if some.any():
            rates[ids[some]] = _huber(tau[rows[some]], z[rows[some]])
    return rates


def _huber(tau: Floats, z: Floats) -> Floats:
    """Huber rates of k series of n readings each; rows that have settled leave the rounds."""
    tau = tau - tau.mean(axis=1, keepdims=True)
    z = z - z.mean(axis=1, keepdims=True)
    rates = np.full(tau.shape[0], np.nan)
    active, weight, before = np.arange(rates.size), np.ones(tau.shape), np.full(rates.size, np.inf)
    floor = np.zeros(rates.size)
    for round_no in range(_MOST_ROUNDS):
        t, y = tau[active], z[active]
        total = weight.sum(axis=1, keepdims=True)
        t = t - (weight * t).sum(axis=1, keepdims=True) / total
        y = y - (weight * y).sum(axis=1, keepdims=True) / total
        rate = (weight * t * y).sum(axis=1) / (weight * t * t).sum(axis=1)
        residual = np.abs(y - rate[:, None] * t)
        scale = np.median(residual, axis=1) / _MAD_TO_SD
        if round_no == 0:
            floor = 1e-9 * np.sqrt((y * y).mean(axis=1))
        # A scale of nothing: half of the readings lie on the line already, which is as far as this goes.
        go = (scale > floor) & (np.abs(rate - before) * np.ptp(t, axis=1) > 1e-8 * scale)
        rates[active[~go]] = rate[~go]
        if not go.any():
            break
        held = HUBER_K * scale[go, None]
        weight = held / np.maximum(residual[go], held)
        active, before, floor = active[go], rate[go], floor[go]
    return rates
