"""Mean and spread of wear rates that cannot be negative."""

from __future__ import annotations

import numpy as np
from scipy.special import log_ndtr

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.posteriors import Posterior


def rates_above_zero(posterior: Posterior) -> tuple[FloatArray, FloatArray]:
    """Mean and standard deviation of every series' rate, each normal of the mixture truncated to above 0.

    Parameters
    ----------
    posterior : Posterior
        S series.

    Returns
    -------
    mean, sd : arrays (S,)
        [um/kh].

    Notes
    -----
    With a = m/s and r = phi(a)/Phi(a): mean m + s r, variance s^2 (1 - r (r + a)); Johnson, Kotz &
    Balakrishnan (1994), Continuous Univariate Distributions 1, section 13.10.1 (from memory).
    """
    mean = posterior.mean[..., 1]
    sd = np.sqrt(np.maximum(posterior.covariance[..., 1, 1], 1e-300))
    a = np.maximum(mean / sd, -30.0)
    ratio = np.exp(-0.5 * a**2 - 0.5 * np.log(2 * np.pi) - log_ndtr(a))
    above = np.maximum(sd * (a + ratio), 0.0)
    variance = sd**2 * np.maximum(1.0 - ratio * (ratio + a), 0.0)
    overall = posterior.weights @ above
    return overall, np.sqrt(posterior.weights @ (variance + (above - overall) ** 2))
