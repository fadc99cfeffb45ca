"""Chance that wear stands at or past its limit within given hours, and hours to given chances.

Wear ahead of now is level + rate·h + α·[g(τ + h) − g(τ)] + W(h), jointly normal with the rate,
and the rate cannot be negative. The chance at h is therefore a ratio of a bivariate and a
univariate normal probability; the one-dimensional integral over the rate is taken in closed
form by Owen's T function (Owen 1956, Ann. Math. Stat. 27, 1075-1090). No random numbers.

Several points of one shell share most of what is uncertain. Their chances are joined by one
common factor: given it they are independent, and one integral over it gives the chance that
any of them stands at its limit (Dunnett & Sobel 1955, Biometrika 42, 258-260).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri, owens_t

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.posterior import Posterior

PROBABILITIES = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
LONGEST_KH = 200.0
_FIRST_HOURS = np.r_[0.0, np.geomspace(0.1, LONGEST_KH, 31)]
_REFINEMENTS = 3
_TRUNCATION_MATTERS_BELOW = 4.0  # standard deviations the rate lies above 0: 3e-5 of chance
_CERTAIN = 6.5  # scores beyond which a chance is 0 or 1 whatever the rate
_FACTOR = np.linspace(-6.0, 6.0, 49)
_FACTOR_WEIGHT = np.exp(-0.5 * _FACTOR**2) / np.exp(-0.5 * _FACTOR**2).sum()
_LARGEST_LOADING = 0.985
_SHELLS_AT_ONCE = 20_000
_NUMBERS_AT_ONCE = 200_000


def both_below(first: FloatArray, second: FloatArray, correlation: FloatArray) -> FloatArray:
    """P(X ≤ first, Y ≤ second) of two standard normals, by Owen's T function.

    Parameters
    ----------
    first, second, correlation : arrays that broadcast

    Returns
    -------
    array
        Owen (1956), eq. 2.1 with T(h, a) = ∫₀ᵃ exp[−h²(1 + x²)/2]/(1 + x²) dx / 2π.

    Examples
    --------
    >>> float(both_below(np.array(0.0), np.array(0.0), np.array(0.5)).round(6))
    0.333333
    """
    first = np.where(np.abs(first) < 1e-14, 1e-14, first)
    second = np.where(np.abs(second) < 1e-14, 1e-14, second)
    root = np.sqrt(np.maximum(1.0 - correlation**2, 1e-14))
    by_first = owens_t(first, (second / first - correlation) / root)
    by_second = owens_t(second, (first / second - correlation) / root)
    opposite = np.where(first * second > 0, 0.0, 0.5)
    return np.asarray(0.5 * (ndtr(first) + ndtr(second)) - by_first - by_second - opposite)


def probability_beyond(
    posterior: Posterior,
    hours_kh: FloatArray,
    bound_um: FloatArray,
    series: IntArray | slice = slice(None),
    extra_variance: FloatArray | None = None,
) -> FloatArray:
    """Chance that wear stands at or past a bound after given hours from now.

    Parameters
    ----------
    posterior : Posterior
    hours_kh : array (s, H)
        Hours from now [kh].
    bound_um : array (s, H) or (s, 1)
        Wear at the bound [µm].
    series : index of the s series, optional
        All by default.
    extra_variance : array (T, s), optional
        Added to the variance of the wear, e.g. of a reading [µm²].

    Returns
    -------
    array (s, H)
        Averaged over the standard deviations; nan where the bound is.
    """
    tau = posterior.tau_now_kh[series][:, None]
    known = posterior.fitting_known[series][:, None]
    scale = posterior.running_in_kh
    gain = np.where(known, np.exp(-tau / scale) * -np.expm1(-hours_kh / scale), 0.0)
    total = np.zeros(np.broadcast_shapes(hours_kh.shape, bound_um.shape))
    sets = max(_NUMBERS_AT_ONCE // max(total.size, 1), 1)
    for start in range(0, len(posterior.weights), sets):
        at = slice(start, start + sets)
        mean = posterior.mean[at, series][..., None]
        cov = posterior.covariance[at, series][..., None]
        ahead = mean[:, :, 0] + mean[:, :, 1] * hours_kh + mean[:, :, 2] * gain - bound_um
        with_rate = cov[:, :, 0, 1] + cov[:, :, 1, 1] * hours_kh + cov[:, :, 1, 2] * gain
        variance = (
            cov[:, :, 0, 0]
            + hours_kh * (cov[:, :, 0, 1] + with_rate + cov[:, :, 1, 2] * gain)
            + gain * (2 * cov[:, :, 0, 2] + gain * cov[:, :, 2, 2])
            + posterior.sigma_b[at, None, None] ** 2 * hours_kh
        )
        if extra_variance is not None:
            variance = variance + extra_variance[at][..., None]
        sd = np.sqrt(np.maximum(variance, 1e-12))
        chance = _given_positive_rate(ahead / sd, mean[:, :, 1], cov[:, :, 1, 1], with_rate / sd)
        total += np.einsum("t,tsh->sh", posterior.weights[at], chance)
    return total


def _given_positive_rate(
    score: FloatArray, rate: FloatArray, rate_variance: FloatArray, covariance: FloatArray
) -> FloatArray:
    """P(X ≤ score | rate > 0) where X is standard normal with the given covariance."""
    rate_sd = np.sqrt(np.maximum(rate_variance, 1e-24))
    margin = rate / rate_sd
    chance = ndtr(score)
    near = (margin < _TRUNCATION_MATTERS_BELOW) & (np.abs(score) < np.maximum(_CERTAIN, _CERTAIN - margin))
    if near.any():
        bound = np.maximum(np.broadcast_to(margin, score.shape)[near], -30.0)
        joint = both_below(score[near], bound, (covariance / rate_sd)[near])
        chance[near] = np.clip(joint / ndtr(bound), 0.0, 1.0)
    return np.asarray(chance)


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
        return interpolate_curve(self.curve_hours_kh, self.curve, wide).reshape(hours.shape)


def hours_to_limit(posterior: Posterior, probabilities: tuple[float, ...] = PROBABILITIES) -> HoursToLimit:
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
    diffusion: float  # mean of σ_B²

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
        diffusion = float(posterior.weights @ posterior.sigma_b**2)
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
        ahead = ahead + np.where(both, self.diffusion * hours[..., None, None], 0.0)
        variance = np.diagonal(ahead, axis1=-2, axis2=-1)
        sd = np.sqrt(np.where(variance > 0, variance, 1.0))
        return common_factor(ahead / (sd[..., :, None] * sd[..., None, :]))


def common_factor(correlation: FloatArray) -> FloatArray:
    """Loadings of one common factor that come closest to given correlations.

    Exact for two variables, and for three where one factor can be; principal-factor steps
    otherwise. Negative correlations count as 0, which overstates the chance of "any".

    Parameters
    ----------
    correlation : array (..., P, P)
        A padded variable has zeros in its row and column.

    Returns
    -------
    array (..., P)
        Between 0 and 0.985.
    """
    off = np.clip(correlation, 0.0, 1.0)
    p = off.shape[-1]
    off = np.where(np.eye(p, dtype=bool), 0.0, off)
    loading = np.sqrt(off.max(-1))
    for _ in range(30):
        reduced = (off * loading[..., None, :]).sum(-1)
        others = (loading**2).sum(-1, keepdims=True) - loading**2
        step = np.where(others > 0, reduced / np.where(others > 0, others, 1.0), 0.0)
        loading = np.clip(0.5 * (loading + step), 0.0, _LARGEST_LOADING)
    return np.asarray(loading)


def any_of(chances: FloatArray, loading: FloatArray) -> FloatArray:
    """Chance that at least one of several events happens that share one normal factor.

    Parameters
    ----------
    chances : array (..., P)
        Chance of each.
    loading : array (..., P)
        Loading of each on the common factor; 0 for independent events.

    Returns
    -------
    array (...)

    Examples
    --------
    >>> float(any_of(np.array([0.5, 0.5]), np.array([0.0, 0.0])).round(6))
    0.75
    """
    bound = -ndtri(np.clip(chances, 0.0, 1.0))
    own = np.sqrt(1.0 - loading**2)
    none = np.zeros(chances.shape[:-1])
    for factor, weight in zip(_FACTOR, _FACTOR_WEIGHT, strict=True):
        none += weight * ndtr((bound - loading * factor) / own).prod(-1)
    # Rounding of the integral must not put "any" below the likeliest or above the sum.
    return np.clip(1.0 - none, chances.max(-1), np.minimum(chances.sum(-1), 1.0))


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
        more = _crossing_hours(hours, np.maximum.accumulate(curve, axis=1), levels)
        # Open-ended: look again where the curve is coarsest rather than at 200 kh twice.
        more = np.where(np.isnan(more), LONGEST_KH, more)
        new, _ = shells.chance(more)
        hours, curve = np.concatenate([hours, more], 1), np.concatenate([curve, new], 1)
        order = np.argsort(hours, axis=1, kind="stable")
        hours, curve = np.take_along_axis(hours, order, 1), np.take_along_axis(curve, order, 1)
    curve = np.maximum.accumulate(curve, axis=1)
    has_limit = np.bincount(shells.shell, minlength=n) > 0
    quantiles = _crossing_hours(hours, curve, levels)
    early = _crossing_hours(hours, curve, np.array([0.10]))
    _, points = shells.chance(np.where(np.isnan(early), LONGEST_KH, early))
    place = np.full((n, shells.n_points), -1, dtype=np.intp)
    place[shells.shell, shells.slot] = shells.series
    ranked = np.where(place >= 0, points[:, :, 0], -1.0)
    governing = place[np.arange(n), ranked.argmax(1)]
    curve = np.where(has_limit[:, None], curve, np.nan)
    return governing, np.where(has_limit[:, None], quantiles, np.nan), hours, curve


def _crossing_hours(hours: FloatArray, curve: FloatArray, levels: FloatArray) -> FloatArray:
    """Hours (M, q) at which an ascending curve reaches given levels; nan where it does not.

    Linear between neighbours on the scales log(hours) and Φ⁻¹(chance), on which the curves are
    nearly straight.
    """
    above = curve[:, None, :] >= levels[:, None]
    reached = above.any(-1)
    right = above.argmax(-1)
    left = np.maximum(right - 1, 0)
    t0, t1 = np.take_along_axis(hours, left, 1), np.take_along_axis(hours, right, 1)
    y0, y1 = np.take_along_axis(curve, left, 1), np.take_along_axis(curve, right, 1)
    z0, z1, z = (ndtri(np.clip(v, 1e-12, 1 - 1e-12)) for v in (y0, y1, levels))
    share = np.clip((z - z0) / np.maximum(z1 - z0, 1e-12), 0.0, 1.0)
    straight = t0 + share * (t1 - t0)
    logs = np.log(np.where(t0 > 0, t0, 1.0)), np.log(np.where(t1 > 0, t1, 1.0))
    found = np.where(t0 > 0, np.exp(logs[0] + share * (logs[1] - logs[0])), straight)
    found = np.where(right == 0, 0.0, found)
    return np.where(reached, found, np.nan)


def interpolate_curve(hours: FloatArray, curve: FloatArray, at: FloatArray) -> FloatArray:
    """Chance at given hours, row by row, by monotone cubics on the scales log(hours) and Φ⁻¹(chance).

    Parameters
    ----------
    hours, curve : arrays (M, H)
        Ascending along each row, the first hours 0.
    at : array (M, n)
        Held within 0 and 200 kh.

    Returns
    -------
    array (M, n)
        Slopes at the nodes by Fritsch & Butland (1984), SIAM J. Sci. Stat. Comput. 5, 300-304.
    """
    n_rows, n_nodes = hours.shape
    clipped = np.clip(at, 0.0, LONGEST_KH)
    shift = 10 * LONGEST_KH * np.arange(n_rows)[:, None]
    place = np.searchsorted((hours + shift).ravel(), (clipped + shift).ravel(), side="right")
    right = np.clip(place.reshape(at.shape) - np.arange(n_rows)[:, None] * n_nodes, 1, n_nodes - 1)
    index = np.clip(right[..., None] + np.arange(-2, 2), 0, n_nodes - 1)
    rows = np.arange(n_rows)[:, None, None]
    t, y = hours[rows, index], curve[rows, index]
    # Hours of 0 stand one step below the first node on the scale of logarithms.
    first = np.maximum(hours[:, 1:2], 1e-6)
    x = np.log(np.maximum(t, 0.1 * first[..., None]))
    z = ndtri(np.clip(y, 1e-12, 1 - 1e-12))
    rise, run = np.diff(z), np.diff(x)
    slope = np.where(run > 0, rise / np.where(run > 0, run, 1.0), 0.0)
    left_end, right_end = (_monotone(slope[..., k], slope[..., k + 1]) for k in (0, 1))
    width = run[..., 1]
    u = (np.log(np.maximum(clipped, 0.1 * first)) - x[..., 1]) / np.where(width > 0, width, 1.0)
    u = np.clip(np.where(width > 0, u, 1.0), 0.0, 1.0)
    low, high = z[..., 1], z[..., 2]
    cubic = (
        low * (1 + 2 * u) * (1 - u) ** 2
        + high * u**2 * (3 - 2 * u)
        + width * u * (1 - u) * (left_end * (1 - u) - right_end * u)
    )
    # Within the first step the chance is straight in the hours.
    share = clipped / np.where(t[..., 2] > 0, t[..., 2], 1.0)
    early = y[..., 1] + share * (y[..., 2] - y[..., 1])
    found = np.where(t[..., 1] > 0, ndtr(cubic), early)
    return np.asarray(np.where(y[..., 1] == y[..., 2], y[..., 1], found))


def _monotone(before: FloatArray, after: FloatArray) -> FloatArray:
    """Slope at a node between two secants: their harmonic mean, 0 where they turn."""
    total = before + after
    same = before * after > 0
    return np.where(same, 2 * before * after / np.where(same, total, 1.0), 0.0)
