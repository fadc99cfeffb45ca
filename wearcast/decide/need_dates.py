"""From drawn hours to the dates at which shells are needed: pure arrays, one draw a row."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def years_until(
    hours_kh: Floats, use_kh_per_year: Floats, spread_kh: Floats, history_years: Floats, z: Floats
) -> Floats:
    """Years until given hours have been run, along one path of use a draw.

    The hours run in t years are m t + z s √(t + t²/n) with one standard normal z an engine and draw, so that
    over the draws P(years ≤ t) is that of the forecast table: the hours run in t are normal with mean m t and
    variance s²(t + t²/n).

    Parameters
    ----------
    hours_kh : array (N, k)
        Hours to run [kh]; inf allowed.
    use_kh_per_year, spread_kh, history_years : arrays (k,)
        Mean m and spread s of the yearly use [kh], and years n of history behind it.
    z : array (N, k)
        The same for all shells of one engine.

    Returns
    -------
    array (N, k)
        0 where no hours are left; inf where they are never run, or the use is unknown.

    Notes
    -----
    (h − m t)² = z² s² (t + t²/n) is a quadratic in t; a use above the mean (z > 0) takes its smaller root,
    one below the larger.

    Examples
    --------
    >>> years_until(np.array([[10.0]]), np.array([5.0]), np.array([0.0]), np.array([1.0]), np.array([[1.0]]))
    array([[2.]])
    """
    h = np.where(np.isfinite(hours_kh), hours_kh, 0.0)
    m, scatter = use_kh_per_year, (z * spread_kh) ** 2
    a = m**2 - scatter / history_years
    b = 2.0 * h * m + scatter
    root = np.sqrt(scatter * (4.0 * h * m + scatter + 4.0 * h**2 / history_years))  # of b² - 4 a h²
    # b - root loses its digits for small roots; 2h²/(b + root) is the same number.
    small = 2.0 * h**2 / np.where(b + root > 0, b + root, 1.0)
    large = (b + root) / np.where(a > 0, 2.0 * a, 1.0)
    years = np.where(z >= 0, small, np.where(a > 0, large, np.inf))
    years = np.where(h <= 0, 0.0, years)
    return np.where(
        np.isfinite(hours_kh) & np.isfinite(m) & (m > 0), years, np.where(hours_kh <= 0, 0.0, np.inf)
    )


def at_windows(limit_years: Floats, window_years: Floats, last_years: Floats, every_years: float) -> Floats:
    """When shells are needed: the last window on or before the limit, else the limit itself.

    Parameters
    ----------
    limit_years : array (N, k)
        Years from now to the limit.
    window_years : array (w,)
        Years from now to the windows listed ahead, ascending.
    last_years : array (N, 1)
        Years from now to the last window listed; drawn where none is.
    every_years : float
        After it there is one so often.

    Returns
    -------
    array (N, k)
        inf where the limit is.

    Examples
    --------
    >>> limits = np.array([[0.5, 1.5, 3.5, 8.2]])
    >>> at_windows(limits, np.array([1.0, 3.0]), np.array([[3.0]]), 2.0)
    array([[0.5, 1. , 3. , 7. ]])
    """
    limit = np.where(np.isfinite(limit_years), limit_years, 0.0)
    listed = np.r_[-np.inf, window_years]
    at = listed[np.searchsorted(window_years, limit, side="right")]
    on = last_years + np.floor((limit - last_years) / every_years + _ROUNDING) * every_years
    at = np.maximum(at, np.where(limit >= last_years, on, -np.inf))
    return np.where(np.isfinite(limit_years) & (at > 0), at, limit_years)


_ROUNDING = 1e-9
"""Of a spacing, so that a limit on the day of a window is at it."""


def count_within(need_years: Floats, years: float) -> NDArray[np.intp]:
    """How many shells are needed within given years in every draw, int array (N,)."""
    return np.asarray((need_years <= years).sum(axis=1), dtype=np.intp)


def enough(counts: NDArray[np.intp], service: float) -> int:
    """Least number that is enough in at least the given share of the draws.

    Examples
    --------
    >>> enough(np.array([0, 1, 1, 2]), 0.75)
    1
    """
    if not len(counts):
        return 0
    ordered = np.sort(counts)
    # The share of draws exactly at the level must not ask for one more (rounding of the product).
    place = int(np.ceil(service * len(ordered) - 1e-9)) - 1
    return int(ordered[max(place, 0)])


def order_quantity(
    counts: NDArray[np.intp], service: float, minimum: int, on_hand: int, on_order: int
) -> int:
    """Shells to order: q_service(N) + minimum on board − on hand − on order, not below 0."""
    return max(0, enough(counts, service) + minimum - on_hand - on_order)


def cover_ends(need_years: Floats, stock: int, service: float) -> float:
    """Years from now until a stock no longer covers the needs with the given chance.

    Parameters
    ----------
    need_years : array (N, k)
    stock : int
        Shells free to be used; below 0 where even the minimum on board is not there.

    Returns
    -------
    float
        The first moment at which more than `stock` shells are needed with a chance above 1 − service; inf where
        that never comes.
    """
    if stock < 0:
        return 0.0
    if stock >= need_years.shape[1]:
        return float("inf")
    short_at = np.sort(np.partition(need_years, stock, axis=1)[:, stock])
    # More than (1 - service) of the draws must be short: the next draw after that share.
    place = int(np.floor((1.0 - service) * len(short_at) + 1e-9))
    return float(short_at[min(place, len(short_at) - 1)])
