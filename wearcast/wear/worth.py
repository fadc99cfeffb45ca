"""What one more reading would be worth: how much it narrows the range, and how likely it changes the plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from wearcast.wear.crossing import HoursToLimit
from wearcast.wear.known import Known
from wearcast.wear.pooled import Posterior
from wearcast.wear.predict import carried_forward, reading_variance, worth_of_reading

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Worth:
    """Worth of opening the shells of a class at one window each, arrays over its k shells.

    Attributes
    ----------
    narrows : ndarray, shape (k,)
        Share by which the 10–90 % range of the hours to the limit shrinks; NaN where nothing can be said.
    calls : ndarray, shape (k,)
        Chance that what is read calls for a new shell then, since the limit would fall before the next chance
        with more than the accepted risk: the reading changes the plan.
    """

    narrows: Floats
    calls: Floats


def worth_of_opening(
    known: Known, hours: HoursToLimit, use_kh: Floats, years: Floats, next_years: Floats, risk: float
) -> Worth:
    """Worth of one more reading of every point of every shell of a class.

    Parameters
    ----------
    hours : HoursToLimit
        Names the governing points.
    use_kh : array (k,)
        Mean yearly use [kh].
    years, next_years : arrays (k,)
        From as-of to the window and to the chance after it; NaN where there is none.
    risk : float
        Accepted chance.

    Notes
    -----
    The variance after a reading does not hang on what it says. With the wear Y at the next chance of mean μ and
    variance V now, V' after the reading, the mean after it is normal with variance V − V', so the chance that
    it ends at P(Y ≥ L) > risk is Φ([μ − L + z √V'] / √(V − V')) with z = Φ⁻¹(1 − risk): the rate not truncated,
    at the governing point, at the mean use.
    """
    sayable = np.isfinite(years) & np.isfinite(next_years) & np.isfinite(use_kh)
    sayable &= hours.governing_series >= 0
    until = np.zeros(known.readings.n_shells)
    until[hours.shell] = np.where(sayable, use_kh * np.nan_to_num(years), 0.0)
    told = worth_of_reading(known.posterior, until)
    further = np.where(sayable, use_kh * np.nan_to_num(next_years - years), 0.0)
    calls = _calls(carried_forward(known.posterior, until), known.shown_by(hours), further, risk)
    return Worth(np.where(sayable, told.shrinks, np.nan), np.where(sayable, calls, np.nan))


def _calls(at_window: Posterior, row: NDArray[np.intp], further_kh: Floats, risk: float) -> Floats:
    mean, covariance = (part[row] for part in at_window.moments())
    weights = at_window.weights
    noise = float(
        weights
        @ (reading_variance(at_window, np.array([np.nan]), np.zeros(1))[:, 0] + at_window.opening_sd**2)
    )
    uneven = weights @ at_window.sigma_b[:, row] ** 2
    target = mean[:, 0] + mean[:, 1] * further_kh
    with_level = covariance[:, 0, 0] + covariance[:, 0, 1] * further_kh
    variance = with_level + further_kh * (covariance[:, 0, 1] + covariance[:, 1, 1] * further_kh + uneven)
    told = with_level**2 / (covariance[:, 0, 0] + noise)
    after = np.sqrt(np.maximum(variance - told, 0.0))
    limit = at_window.limit_um[row]
    return np.asarray(ndtr((target - limit + ndtri(1.0 - risk) * after) / np.sqrt(np.maximum(told, 1e-12))))
