"""Hours to the limit of whole shells: quantiles, governing point, and the curve of chances."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearcast.wear.any_point import any_of, common_factor
from wearcast.wear.chances import probability_beyond
from wearcast.wear.curves import LONGEST_KH, curve_nodes, hours_at_levels, interpolate_curve
from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.posteriors import Posterior

__all__ = ["LONGEST_KH", "QUANTILES", "HoursToLimit", "hours_to_limit", "probability_beyond"]

QUANTILES = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
"""Chances at which hours to the limit are given; the small ones are the early, cautious end."""

_FIRST_HOURS = np.r_[0.0, np.geomspace(0.1, LONGEST_KH, 31)]
_REFINEMENTS = 3
_SHELLS_AT_ONCE = 20_000


@dataclass(frozen=True)
class HoursToLimit:
    """When shells reach their limits.

    Attributes
    ----------
    shell : int array (M,)
        Rows of the shell table.
    governing_series : int array (M,)
        Row of the series table with the largest chance at the shell's 10 % hour; -1 where no
        point has a limit.
    probabilities : array (q,)
    hours_kh : array (M, q)
        Hours from now within which the limit is reached with those chances [kh]; 0 where it is
        already, nan where not within 200 kh or without a limit.
    curve_hours_kh, curve : arrays (M, H)
        Hours, ascending, and the chance within them; nan without a limit.
    """

    shell: IntArray
    governing_series: IntArray
    probabilities: FloatArray
    hours_kh: FloatArray
    curve_hours_kh: FloatArray
    curve: FloatArray

    @cached_property
    def _nodes(self) -> FloatArray:
        return curve_nodes(self.curve_hours_kh, self.curve)

    def probability_before(self, hours_kh: FloatArray) -> FloatArray:
        """Chance that the limit is reached within given hours from now.

        Parameters
        ----------
        hours_kh : array (M, n) or (M,)
            Negative hours count as 0, hours beyond 200 kh as 200 kh.

        Returns
        -------
        array of the same shape
        """
        hours = np.asarray(hours_kh, dtype=float)
        wide = hours if hours.ndim == 2 else hours[:, None]
        return interpolate_curve(self._nodes, wide).reshape(hours.shape)


def hours_to_limit(posterior: Posterior, probabilities: tuple[float, ...] = QUANTILES) -> HoursToLimit:
    """Hours to the limit of every shell that has a series in the posterior.

    The chance within h is the largest chance at any hour up to h that the wear trend stands at
    or past the limit. A shell counts as soon as one of its points does.

    Parameters
    ----------
    posterior : Posterior
    probabilities : tuple of float
        Ascending.

    Returns
    -------
    HoursToLimit
    """
    shells = np.unique(posterior.shell)
    group = np.searchsorted(shells, posterior.shell)
    levels = np.asarray(probabilities, dtype=float)
    parts = []
    order = np.argsort(group, kind="stable")
    for start in range(0, len(shells), _SHELLS_AT_ONCE):
        stop = min(start + _SHELLS_AT_ONCE, len(shells))
        rows = order[np.searchsorted(group[order], start) : np.searchsorted(group[order], stop)]
        problem = _Shells.of(posterior, rows, group[rows] - start, stop - start)
        parts.append(_solve(problem, levels))
    if not parts:
        empty = np.zeros((0, len(levels)))
        curve = np.zeros((0, len(_FIRST_HOURS)))
        return HoursToLimit(shells, shells, levels, empty, curve, curve)
    governing = np.concatenate([p[0] for p in parts])
    return HoursToLimit(
        shell=shells,
        governing_series=np.where(governing >= 0, posterior.series[governing], -1),
        probabilities=levels,
        hours_kh=np.concatenate([p[1] for p in parts]),
        curve_hours_kh=np.concatenate([p[2] for p in parts]),
        curve=np.concatenate([p[3] for p in parts]),
    )


@dataclass(frozen=True)
class _Shells:
    """Some shells with the series that can govern them, padded to the most points of one."""

    posterior: Posterior
    series: IntArray  # (s,) places in the posterior, those with a limit
    shell: IntArray  # (s,)
    slot: IntArray  # (s,)
    n_shells: int
    n_points: int
    mean: FloatArray  # (M, P, 3) moments of the mixture
    covariance: FloatArray  # (M, P, P, 3, 3)
    diffusion: FloatArray  # (M,) mean of σ_B²

    @staticmethod
    def of(posterior: Posterior, rows: IntArray, shell: IntArray, n_shells: int) -> _Shells:
        limited = np.isfinite(posterior.limit_um[rows])
        series, shell = rows[limited], shell[limited]
        slot = np.arange(len(shell)) - np.searchsorted(shell, shell)
        n_points = int(slot.max()) + 1 if slot.size else 0
        mean = np.zeros((n_shells, n_points, 3))
        covariance = np.zeros((n_shells, n_points, n_points, 3, 3))
        if n_points > 1:
            means, variances = posterior.moments()
            mean[shell, slot] = means[series]
            covariance[shell, slot, slot] = variances[series]
            at = np.full((len(posterior.series), 2), -1, dtype=np.intp)
            at[series, 0], at[series, 1] = shell, slot
            first, second = at[posterior.pair[:, 0]], at[posterior.pair[:, 1]]
            here = (first[:, 0] >= 0) & (second[:, 0] >= 0)
            between = posterior.pair_covariances()[here]
            first, second = first[here], second[here]
            covariance[first[:, 0], first[:, 1], second[:, 1]] = between
            covariance[first[:, 0], second[:, 1], first[:, 1]] = np.swapaxes(between, -1, -2)
        diffusion = np.zeros(n_shells)
        diffusion[shell] = posterior.weights @ posterior.sigma_b[:, series] ** 2
        return _Shells(posterior, series, shell, slot, n_shells, n_points, mean, covariance, diffusion)

    def point_chances(self, hours: FloatArray) -> FloatArray:
        """Chance of every point at given hours (M, H), array (M, P, H); 0 where padded."""
        limit = self.posterior.limit_um[self.series][:, None]
        made = probability_beyond(self.posterior, hours[self.shell], limit, self.series)
        out = np.zeros((self.n_shells, self.n_points, hours.shape[1]))
        out[self.shell, self.slot] = made
        return out

    def chance(self, hours: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Chance of the shell (M, H) and of its points (M, P, H)."""
        points = self.point_chances(hours)
        if self.n_points == 1:
            return points[:, 0], points
        joined = points.max(axis=1, initial=0.0)
        several = np.flatnonzero(np.bincount(self.shell, minlength=self.n_shells) > 1)
        if several.size:
            loading = self._loadings(several, hours[several])
            joined[several] = any_of(points[several].transpose(0, 2, 1), loading)
        return joined, points

    def _loadings(self, rows: IntArray, hours: FloatArray) -> FloatArray:
        """Loadings of the points on their common factor at given hours, array (m, H, P)."""
        tau = np.zeros(self.n_shells)
        tau[self.shell] = self.posterior.tau_now_kh[self.series]
        known = np.zeros(self.n_shells, dtype=bool)
        known[self.shell] = self.posterior.fitting_known[self.series]
        scale = self.posterior.running_in_kh
        gain = np.exp(-tau[rows, None] / scale) * -np.expm1(-hours / scale) * known[rows, None]
        weights = np.stack([np.ones_like(hours), hours, gain], axis=-1)
        ahead = np.einsum("mhi,mpqij,mhj->mhpq", weights, self.covariance[rows], weights)
        present = np.zeros((self.n_shells, self.n_points), dtype=bool)
        present[self.shell, self.slot] = True
        both = present[rows][:, None, :, None] & present[rows][:, None, None, :]
        ahead = ahead + np.where(both, (self.diffusion[rows, None] * hours)[..., None, None], 0.0)
        variance = np.diagonal(ahead, axis1=-2, axis2=-1)
        sd = np.sqrt(np.where(variance > 0, variance, 1.0))
        return common_factor(ahead / (sd[..., :, None] * sd[..., None, :]))


def _solve(shells: _Shells, levels: FloatArray) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Governing place in the posterior, hours, curve hours and curve of some shells."""
    n = shells.n_shells
    hours = np.broadcast_to(_FIRST_HOURS, (n, len(_FIRST_HOURS)))
    total = len(_FIRST_HOURS) + _REFINEMENTS * len(levels)
    if shells.n_points == 0:
        nothing = np.full((n, total), np.nan)
        none = np.full(n, -1, dtype=np.intp)
        return none, np.full((n, len(levels)), np.nan), np.zeros((n, total)), nothing
    curve, _ = shells.chance(hours)
    for _ in range(_REFINEMENTS):
        more = hours_at_levels(hours, np.maximum.accumulate(curve, axis=1), levels)
        # Open-ended: look again where the curve is coarsest rather than at 200 kh twice.
        more = np.where(np.isnan(more), LONGEST_KH, more)
        new, _ = shells.chance(more)
        hours, curve = np.concatenate([hours, more], 1), np.concatenate([curve, new], 1)
        order = np.argsort(hours, axis=1, kind="stable")
        hours, curve = np.take_along_axis(hours, order, 1), np.take_along_axis(curve, order, 1)
    curve = np.maximum.accumulate(curve, axis=1)
    has_limit = np.bincount(shells.shell, minlength=n) > 0
    quantiles = hours_at_levels(hours, curve, levels)
    early = hours_at_levels(hours, curve, np.array([0.10]))
    _, points = shells.chance(np.where(np.isnan(early), LONGEST_KH, early))
    place = np.full((n, shells.n_points), -1, dtype=np.intp)
    place[shells.shell, shells.slot] = shells.series
    ranked = np.where(place >= 0, points[:, :, 0], -1.0)
    governing = place[np.arange(n), ranked.argmax(1)]
    curve = np.where(has_limit[:, None], curve, np.nan)
    return governing, np.where(has_limit[:, None], quantiles, np.nan), hours, curve
