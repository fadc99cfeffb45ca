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

from wearcast.wear.crossing import QUANTILES, HoursToLimit

Floats = NDArray[np.float64]

Z_UNIT = 1e-5
"""Step in which Φ⁻¹(chance) is carried: some 0.003 % of the hours."""

COARSE_Z_UNIT = 1e-4
"""The step where no dates hang on the curve, only chances: 4e-5 of one."""

Z_ENDS = 5.2
"""Beyond Φ⁻¹ of this, a chance of 1e-7 or less, nothing is carried."""

SLOPE_UNIT = 1e-3
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
    first, last : ndarray, shape (M, 7, 3)
        Hours [h], Φ⁻¹(chance) and its slope over log(hours) at the first and the last of the nodes that the search
        for the hours of each chance forecast left about them; NaN where not reached.
    """

    grid_kh: Floats
    grid_z: Floats
    first: Floats
    last: Floats

    @staticmethod
    def of(hours: HoursToLimit, grid_kh: Floats) -> Curves:
        """Take up the curves of a class."""
        t, z = hours.curve_hours_kh, ndtri(np.clip(hours.curve, 1e-12, 1 - 1e-12))
        rows = np.arange(len(t))
        at = np.stack([np.searchsorted(row, grid_kh) for row in t]) if len(t) else np.zeros((0, 0), int)
        nodes = np.stack([t * H_PER_KH, z, slopes(t, z)], axis=-1)
        levels = np.array([float(ndtri(q)) for q in QUANTILES])
        apart = np.abs(z[:, None, :] - levels[:, None])  # (M, 7, nodes)
        near = (apart < _AROUND_LEVEL) & ~np.isin(t, grid_kh)[:, None, :]
        found = (near & (apart < _AT_LEVEL)).any(axis=-1, keepdims=True)
        first = near.argmax(axis=-1)
        last = t.shape[1] - 1 - near[..., ::-1].argmax(axis=-1)
        return Curves(
            grid_kh=grid_kh,
            grid_z=np.take_along_axis(z, at, 1) if len(t) else np.zeros((0, len(grid_kh))),
            first=np.where(found, nodes[rows[:, None], first], np.nan),
            last=np.where(found, nodes[rows[:, None], last], np.nan),
        )

    def carried(self, row: int, with_own: bool = True) -> list[Any] | None:
        """One curve: number of its first shared hour, Φ⁻¹ from there on, and own hours with Φ⁻¹ and its slope, or
        both slopes, to and from them.

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
        unit = Z_UNIT if with_own else COARSE_Z_UNIT
        shared = np.rint(z[first : last + 1] / unit).astype(int).tolist()
        if not with_own:
            return [first, shared]
        own: dict[float, list[int]] = {}
        for (h, z_first, coming), (h_last, z_last, going) in zip(
            self.first[row].tolist(), self.last[row].tolist(), strict=True
        ):
            if h_last > h * (1 + _APART):
                own[_hours(h)] = [_steps(z_first, Z_UNIT), _steps(coming, SLOPE_UNIT)]
                own[_hours(h_last)] = [_steps(z_last, Z_UNIT), _steps(going, SLOPE_UNIT)]
            elif np.isfinite(h):
                own[_hours(h)] = [
                    _steps(z_first, Z_UNIT),
                    _steps(coming, SLOPE_UNIT),
                    _steps(going, SLOPE_UNIT),
                ]
        return [first, shared, [[h, *own[h]] for h in sorted(own)]]


def _hours(h: float) -> float:
    return float(f"{h:.7g}")


def _steps(value: float, unit: float) -> int:
    return round(value / unit)


_APART = 3e-4
"""Nodes nearer than this share of the hours are carried as one, with its slopes to both sides."""

_AT_LEVEL = 1e-2
"""A node this near to Φ⁻¹ of a chance stands for it: the search for the hours ends far closer."""

_AROUND_LEVEL = 0.15
"""What the search left this near belongs to that chance: chances forecast stand at least twice as far apart."""


def slopes(hours: Floats, z: Floats) -> Floats:
    """Slopes at the nodes over log(hours), array (M, H), as `wearcast.wear.curves.interpolate_curve` takes them."""
    first = np.maximum(hours[:, 1:2], 1e-6)
    x = np.log(np.maximum(hours, 0.1 * first))
    run, rise = np.diff(x, axis=1), np.diff(z, axis=1)
    secant = np.where(run > 0, rise / np.where(run > 0, run, 1.0), 0.0)
    before, after = np.pad(secant, ((0, 0), (1, 0))), np.pad(secant, ((0, 0), (0, 1)))
    total = before + after
    return np.where(before * after > 0, 2 * before * after / np.where(total != 0, total, 1.0), 0.0)
