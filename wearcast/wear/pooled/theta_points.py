"""Points around the mode of the standard deviations, with weights, to average forecasts over."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.linalg import hadamard

from wearcast.wear.pooled.arrays import FloatArray

_SMALLEST_CURVATURE = 0.25  # of the log posterior; the prior alone gives 1
_NEGLIGIBLE_WEIGHT = 1e-4


def theta_points(
    modes: list[tuple[FloatArray, FloatArray]],
    log_posterior: Callable[[FloatArray], FloatArray],
) -> tuple[FloatArray, FloatArray, float]:
    """Central composite points on the Gaussian approximation, weighted by the true density.

    Parameters
    ----------
    modes : list of (array (d,), array (d, d))
        Standardised log standard deviations at each mode, and the second derivatives of minus
        the log posterior there.
    log_posterior : function
        Of points (T, d), giving (T,).

    Returns
    -------
    points : array (T, d)
    weights : array (T,)
        They sum to 1; points of negligible weight are left out.
    log_integral : float
        Of the posterior density, less (d/2) log 2π.

    Notes
    -----
    Rue, Martino & Chopin (2009), J. R. Stat. Soc. B 71, 319-392, section 6.5. Each weight is
    multiplied by the ratio of the posterior density to its Gaussian approximation. Several modes
    share the weight as their approximations integrate.
    """
    parts = []
    for mode, hessian in modes:
        z, base = central_composite(len(mode))
        values, vectors = np.linalg.eigh(hessian)
        curvature = np.maximum(values, _SMALLEST_CURVATURE)
        x = mode + z @ (vectors / np.sqrt(curvature)).T
        log_ratio = log_posterior(x) + 0.5 * (z**2).sum(1) - 0.5 * np.log(curvature).sum()
        parts.append((x, np.log(base) + log_ratio))
    points, log_weight = (np.concatenate(part) for part in zip(*parts, strict=True))
    weights = np.exp(log_weight - log_weight.max())
    log_integral = float(log_weight.max() + np.log(weights.sum()))
    weights /= weights.sum()
    kept = weights > _NEGLIGIBLE_WEIGHT
    return points[kept], weights[kept] / weights[kept].sum(), log_integral


def axial(
    mode: FloatArray, hessian: FloatArray, log_posterior: Callable[[FloatArray], FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """The mode and two points on each axis of the Gaussian approximation, weighted by the true density.

    They have its first three moments; fewer than `theta_points`, for one component of many.
    """
    d = len(mode)
    values, vectors = np.linalg.eigh(hessian)
    z = np.sqrt(d + 1.0) * np.concatenate([np.zeros((1, d)), np.eye(d), -np.eye(d)])
    base = np.r_[1.0 / (d + 1.0), np.full(2 * d, 0.5 / (d + 1.0))]
    x = mode + z @ (vectors / np.sqrt(np.maximum(values, _SMALLEST_CURVATURE))).T
    log_weight = np.log(base) + log_posterior(x) + 0.5 * (z**2).sum(1)
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    kept = weights > 20 * _NEGLIGIBLE_WEIGHT
    return x[kept], weights[kept] / weights[kept].sum()


def central_composite(d: int) -> tuple[FloatArray, FloatArray]:
    """Central composite points that have the moments of a standard normal in d dimensions.

    The corners are a two-level fraction folded over, in which no main effect is mixed up with
    another or with a product of two (resolution IV). Corners and axes share the weight so that
    fourth moments hold as well (Stroud 1971, Approximate Calculation of Multiple Integrals,
    ch. 8), but for products of four different directions, which the fraction mixes up.

    Parameters
    ----------
    d : int
        At least 1.

    Returns
    -------
    points : array (T, d)
        Centre, corners and axes; the outer points at distance √(d + 2).
    weights : array (T,)
        They sum to 1.
    """
    half = hadamard(1 << max(d - 1, 0).bit_length())[:, :d].astype(float)
    axes = np.sqrt(d) * np.eye(d)
    radius = np.sqrt(1.0 + 2.0 / d)
    outer = radius * np.concatenate([half, -half, axes, -axes])
    share = 1.0 / radius**2  # of all outer points in the whole, and of the corners in the outer
    corners, ends = 2 * len(half), 2 * d
    weights = share * np.r_[np.full(corners, share / corners), np.full(ends, (1.0 - share) / ends)]
    return np.concatenate([np.zeros((1, d)), outer]), np.concatenate([[1.0 - share], weights])
