"""From hours to dates: hours to the limit joined with uncertain use."""

from __future__ import annotations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import ndtri

from wearcast.wear.crossing import LONGEST_KH, HoursToLimit
from wearcast.wear.pooled.arrays import FloatArray

_NODES, _WEIGHTS = hermegauss(15)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_GRID = 80
_ROUNDS = 30


def probability_within(
    hours: HoursToLimit,
    years: FloatArray,
    use_kh_per_year: FloatArray,
    use_sd_kh_per_year: FloatArray,
    years_of_history: FloatArray,
) -> FloatArray:
    """Chance that the limit is reached within given years from now.

    The hours run in t years are normal with mean m t and variance s²(t + t²/n): the use of
    single years scatters by s about a mean known from n years. Fewer than 0 hours count as 0.

    Parameters
    ----------
    hours : HoursToLimit
    years : array (M, n)
        From now.
    use_kh_per_year, use_sd_kh_per_year : arrays (M,)
        Mean m and spread s of the yearly use [kh].
    years_of_history : array (M,)
        n; 1 where the use is only stated.

    Returns
    -------
    array (M, n)
    """
    t = np.maximum(np.asarray(years, dtype=float), 0.0)
    mean = use_kh_per_year[:, None] * t
    sd = use_sd_kh_per_year[:, None] * np.sqrt(t + t**2 / years_of_history[:, None])
    run = np.maximum(mean[..., None] + sd[..., None] * _NODES, 0.0)
    chance = hours.probability_before(run.reshape(len(t), -1)).reshape(run.shape)
    return np.asarray(chance @ _WEIGHTS)


def years_to_limit(
    hours: HoursToLimit,
    use_kh_per_year: FloatArray,
    use_sd_kh_per_year: FloatArray,
    years_of_history: FloatArray,
    probabilities: tuple[float, ...] = (0.10, 0.50, 0.90),
) -> FloatArray:
    """Years from now within which the limit is reached with given chances.

    Parameters
    ----------
    hours : HoursToLimit
    use_kh_per_year, use_sd_kh_per_year, years_of_history : arrays (M,)
        As in `probability_within`.
    probabilities : tuple of float

    Returns
    -------
    array (M, q)
        [years]; 0 where the limit is reached already, nan where not within 200 kh of mean use,
        or where the engine does not run.
    """
    levels = np.asarray(probabilities, dtype=float)
    runs = use_kh_per_year > 0
    longest = LONGEST_KH / np.where(runs, use_kh_per_year, 1.0)
    grid = longest[:, None] * np.linspace(0.0, 1.0, _GRID) ** 2
    args = (use_kh_per_year, use_sd_kh_per_year, years_of_history)
    chance = np.maximum.accumulate(probability_within(hours, grid, *args), axis=1)
    above = chance[:, None, :] >= levels[:, None]
    reached = above.any(-1) & runs[:, None]
    right = above.argmax(-1)
    low = np.take_along_axis(grid, np.maximum(right - 1, 0), 1)
    high = np.take_along_axis(grid, right, 1)
    y0 = np.take_along_axis(chance, np.maximum(right - 1, 0), 1)
    y1 = np.take_along_axis(chance, right, 1)
    z0, z1, z = (ndtri(np.clip(v, 1e-12, 1 - 1e-12)) for v in (y0, y1, levels))
    for _ in range(_ROUNDS):
        share = np.clip((z - z0) / np.maximum(z1 - z0, 1e-12), 0.02, 0.98)
        middle = low + share * (high - low)
        value = probability_within(hours, middle, *args)
        below = value < levels
        here = ndtri(np.clip(value, 1e-12, 1 - 1e-12))
        z0, z1 = np.where(below, here, z0), np.where(below, z1, here)
        low, high = np.where(below, middle, low), np.where(below, high, middle)
        if np.all((high - low) < 1e-4):
            break
    found = np.where(right == 0, 0.0, high)
    return np.where(reached, found, np.nan)
