"""Running hours of dates on which nobody read the dial."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.lives.hours import SPREAD_WHERE_UNKNOWN, Use
from wearcast.units import DAYS_PER_YEAR


def hours_on_dates(
    day: NDArray[np.int64],
    known_day: NDArray[np.int64],
    known_h: NDArray[np.float64],
    in_service_day: float,
    use: Use,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Total hours of dates, straight between the dial readings about them, and their standard deviation.

    Parameters
    ----------
    day : ndarray of int, shape (n,)
        Days since 1970-01-01.
    known_day, known_h : ndarray, shape (m,)
        Dated total hours [h].
    in_service_day : float
        When the engine entered service at 0 h; NaN where not known.
    use : Use
        The yearly use; its spread is that of the years, taken as independent of one another.

    Returns
    -------
    total_h, sd_h : ndarray, shape (n,)
        NaN where a date lies beyond the hours known.

    Notes
    -----
    Use that varies by s from year to year, tied at both ends of a gap of T years, spreads the hours t years into
    it by s √(t (T − t) / T) (the variance of a Brownian bridge; Ross, Introduction to Probability Models,
    ch. 10, from memory). Where no spread is known, 10 % of the use in the gap.

    Examples
    --------
    >>> years = Use(5000.0, 500.0, 4.0, "")
    >>> hours_on_dates(np.array([731]), np.array([0, 1461]), np.array([0.0, 20000.0]), np.nan, years)[1].round()
    array([500.])
    """
    order = np.lexsort((known_h, known_day))
    at, hours = known_day[order].astype(np.float64), known_h[order]
    if np.isfinite(in_service_day) and in_service_day < at[0]:
        at, hours = np.concatenate([[in_service_day], at]), np.concatenate([[0.0], hours])
    on = day.astype(np.float64)
    after = np.clip(np.searchsorted(at, on, side="left"), 1, max(len(at) - 1, 1))
    total_h, sd_h = np.full(len(on), np.nan), np.full(len(on), np.nan)
    exact = np.isin(on, at)
    total_h[exact], sd_h[exact] = hours[np.searchsorted(at, on[exact], side="right") - 1], 0.0
    inside = ~exact & (on > at[0]) & (on < at[-1])
    left, right = at[after[inside] - 1], at[after[inside]]
    from_h, gain_h = hours[after[inside] - 1], hours[after[inside]] - hours[after[inside] - 1]
    share = (on[inside] - left) / (right - left)
    total_h[inside] = from_h + share * gain_h
    years = (right - left) / DAYS_PER_YEAR
    spread = use.sd_h if np.isfinite(use.sd_h) else SPREAD_WHERE_UNKNOWN * gain_h / years
    sd_h[inside] = spread * np.sqrt(years * share * (1.0 - share))
    return total_h, sd_h
