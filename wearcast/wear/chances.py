"""Chance that wear stands at or past a bound after given hours.

Wear ahead of now is level + rate·h + α·[g(τ + h) − g(τ)] + W(h), jointly normal with the rate,
and the rate cannot be negative. The chance at h is therefore a ratio of a bivariate and a
univariate normal probability; the one-dimensional integral over the rate is taken in closed
form by Owen's T function (Owen 1956, Ann. Math. Stat. 27, 1075-1090). No random numbers.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, owens_t

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.posteriors import Posterior

_TRUNCATION_MATTERS_BELOW = 4.0  # standard deviations the rate lies above 0: 3e-5 of chance
_CERTAIN = 6.5  # scores beyond which a chance is 0 or 1 whatever the rate
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
        paced = posterior.ahead_kh(hours_kh, series, at)
        bound = posterior.unbent_um(bound_um, series, at)
        ahead = mean[:, :, 0] + mean[:, :, 1] * paced + mean[:, :, 2] * gain - bound
        with_rate = cov[:, :, 0, 1] + cov[:, :, 1, 1] * paced + cov[:, :, 1, 2] * gain
        variance = (
            cov[:, :, 0, 0]
            + paced * (cov[:, :, 0, 1] + with_rate + cov[:, :, 1, 2] * gain)
            + gain * (2 * cov[:, :, 0, 2] + gain * cov[:, :, 2, 2])
            + posterior.sigma_b[at, series, None] ** 2 * paced
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
