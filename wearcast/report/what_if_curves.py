"""Chances over the hours in few numbers, so that a page can carry them for every shell.

A curve of `HoursToLimit` is read on the scales log(hours) and Φ⁻¹(chance). A page carries it at the hours that all
shells of the page share, and, where dates hang on it, at the hours of the chances forecast, with the slope there.
Between them the script of the page goes on by the same monotone cubics (`wearcast.wear.curves`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from wearcast.forecasting.outlook import QUANTILES
from wearcast.wear.crossing import HoursToLimit

Floats = NDArray[np.float64]

Z_UNIT = 1e-5
"""Step in which Φ⁻¹(chance) is carried: some 0.003 % of the hours."""

Z_ENDS = 5.2
"""Beyond Φ⁻¹ of this, a chance of 1e-7 or less, nothing is carried."""

SLOPE_UNIT = 1e-4
H_PER_KH = 1000.0


def shared_hours(curves: list[HoursToLimit]) -> Floats:
    """Hours at which every one of the curves has a node, ascending [kh]; the first is 0.

    Parameters
    ----------
    curves : list of HoursToLimit
        Made by one program, whose first hours are the same for all shells.
    """
    rows = [row for one in curves for row in one.curve_hours_kh]
    return np.asarray(reduce(np.intersect1d, rows)) if rows else np.zeros(0)


@dataclass(frozen=True, eq=False)
class Curves:
    """Curves of some shells made ready to be carried.

    Attributes
    ----------
    grid_kh : ndarray, shape (g,)
        The hours shared.
    grid_z : ndarray, shape (M, g)
        Φ⁻¹(chance) there.
    own_h, own_z, own_slope : ndarray, shape (M, 7)
        Hours of the chances forecast [h], Φ⁻¹(chance) there and its slope over log(hours); NaN where not reached.
    """

    grid_kh: Floats
    grid_z: Floats
    own_h: Floats
    own_z: Floats
    own_slope: Floats

    @staticmethod
    def of(hours: HoursToLimit, grid_kh: Floats) -> Curves:
        """Take up the curves of a class."""
        t, z = hours.curve_hours_kh, ndtri(np.clip(hours.curve, 1e-12, 1 - 1e-12))
        rows = np.arange(len(t))
        at = np.stack([np.searchsorted(row, grid_kh) for row in t]) if len(t) else np.zeros((0, 0), int)
        slope = slopes(t, z)
        levels = [float(ndtri(q)) for q in QUANTILES]
        own = np.stack([np.abs(z - level).argmin(axis=1) for level in levels], axis=1)
        h, own_z, own_slope = (part[rows[:, None], own] for part in (t, z, slope))
        here = (np.abs(own_z - levels) < _AT_LEVEL) & ~np.isin(h, grid_kh)
        return Curves(
            grid_kh=grid_kh,
            grid_z=np.take_along_axis(z, at, 1) if len(t) else np.zeros((0, len(grid_kh))),
            own_h=np.where(here, h * H_PER_KH, np.nan),
            own_z=own_z,
            own_slope=own_slope,
        )

    def carried(self, row: int, with_own: bool = True) -> list[Any] | None:
        """One curve: number of its first shared hour, Φ⁻¹ from there on, and own hours with Φ⁻¹ and slope.

        Returns
        -------
        list or None
            None where no limit governs.
        """
        z = self.grid_z[row]
        if not np.isfinite(z).all():
            return None
        first = max(int(np.searchsorted(z, -Z_ENDS, side="right")) - 1, 0)
        last = min(int(np.searchsorted(z, Z_ENDS)), len(z) - 1)
        shared = np.rint(z[first : last + 1] / Z_UNIT).astype(int).tolist()
        if not with_own:
            return [first, shared]
        own = {
            float(f"{h:.6g}"): (round(z_at / Z_UNIT), round(slope / SLOPE_UNIT))
            for h, z_at, slope in zip(self.own_h[row], self.own_z[row], self.own_slope[row], strict=True)
            if np.isfinite(h)
        }
        return [first, shared, [[h, *own[h]] for h in sorted(own)]]


_AT_LEVEL = 1e-2
"""A node this near to Φ⁻¹ of a chance stands for it: the search for the hours ends far closer."""


def slopes(hours: Floats, z: Floats) -> Floats:
    """Slopes at the nodes over log(hours), array (M, H), as `wearcast.wear.curves.interpolate_curve` takes them."""
    first = np.maximum(hours[:, 1:2], 1e-6)
    x = np.log(np.maximum(hours, 0.1 * first))
    run, rise = np.diff(x, axis=1), np.diff(z, axis=1)
    secant = np.where(run > 0, rise / np.where(run > 0, run, 1.0), 0.0)
    before, after = np.pad(secant, ((0, 0), (1, 0))), np.pad(secant, ((0, 0), (0, 1)))
    total = before + after
    return np.where(before * after > 0, 2 * before * after / np.where(total != 0, total, 1.0), 0.0)
