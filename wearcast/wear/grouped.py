"""Readings of many series in flat arrays: taken in, weighted, and laid out series by series."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.intp]


def as_readings(
    tau_kh: ArrayLike, z_um: ArrayLike, series: ArrayLike, n_series: int
) -> tuple[Floats, Floats, Ints]:
    """Give hours [kh], wear [µm] and series as arrays of one shape, or raise ValueError."""
    tau, z = np.asarray(tau_kh, dtype=np.float64), np.asarray(z_um, dtype=np.float64)
    group = np.asarray(series)
    if group.size == 0:
        group = group.astype(np.intp)
    if tau.ndim != 1 or not tau.shape == z.shape == group.shape:
        raise ValueError(f"one value a reading is needed, not {tau.shape}, {z.shape} and {group.shape}")
    if group.dtype.kind not in "iu":
        raise ValueError(f"series must be whole numbers, not {group.dtype}")
    if group.size and (group.min() < 0 or group.max() >= n_series):
        raise ValueError(f"series must lie in 0 … {n_series - 1}")
    if not (np.isfinite(tau).all() and np.isfinite(z).all()):
        raise ValueError("hours and wear must be finite")
    return tau, z, group.astype(np.intp, copy=False)


def known_weights(u_um: ArrayLike, group: Ints, count: Ints) -> tuple[NDArray[np.bool_], Floats | None]:
    """Which series have a stated u throughout, and 1/u² there (1 elsewhere); None where no series has."""
    u = np.asarray(u_um, dtype=np.float64)
    if u.shape != group.shape:
        raise ValueError(f"one u a reading is needed (NaN if not stated): {u.shape} for {group.shape}")
    unstated = np.isnan(u)
    if unstated.all():
        return np.zeros(count.shape, dtype=bool), None
    if not (np.isfinite(u) & (u > 0) | unstated).all():
        raise ValueError("a stated u must be finite and above zero")
    known = (count > 0) & (np.bincount(group[unstated], minlength=count.size) == 0)
    weight = np.square(np.where(known[group], u, 1.0) if unstated.any() else u)
    return known, np.reciprocal(weight, out=weight)


def or_zero(sum_of_squares: Floats, size: Floats, count: Ints) -> Floats:
    """Set to 0 what is only the rounding of the doubles it was summed from.

    Equal hours, equal wear and readings exactly on a line are then recognised as such.
    """
    rounding = 8 * np.finfo(np.float64).eps * np.maximum(count, 1)
    return np.where(sum_of_squares <= rounding**2 * size, 0.0, sum_of_squares)


def same_length(group: Ints, n_series: int) -> Iterator[tuple[Ints, Ints]]:
    """Series of equal length together: their numbers, shape (k,), and the rows of each, shape (k, n)."""
    count = np.bincount(group, minlength=n_series)
    order = np.argsort(group, kind="stable")
    start = np.cumsum(count) - count
    for length in np.unique(count[count >= 2]):
        ids = np.flatnonzero(count == length)
        yield ids, order[start[ids][:, None] + np.arange(length)]
