"""Scores of forecasts against what came: pinball loss, PIT, means of clusters."""

from __future__ import annotations

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray


def pinball_loss(observed: FloatArray, quantiles: FloatArray, probabilities: FloatArray) -> FloatArray:
    """Loss of each quantile forecast; its mean is least for the true quantile.

    Parameters
    ----------
    observed : array (n,)
    quantiles : array (n, q)
    probabilities : array (q,)

    Returns
    -------
    array (n, q)
        In the unit of `observed` (Koenker & Bassett 1978, Econometrica 46, 33-50).

    Examples
    --------
    >>> pinball_loss(np.array([10.0]), np.array([[8.0, 12.0]]), np.array([0.1, 0.9])).round(3)
    array([[0.2, 0.2]])
    """
    miss = np.asarray(observed, dtype=float)[:, None] - quantiles
    return np.maximum(probabilities * miss, (probabilities - 1.0) * miss)


def pit(below: FloatArray, at_or_below: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Probability integral transform, drawn evenly across the jump where the forecast has one.

    Parameters
    ----------
    below, at_or_below : arrays (n,)
        Forecast chance of less than what was observed, and of no more.
    rng : numpy.random.Generator

    Returns
    -------
    array (n,)
        Uniform on (0, 1) where the forecast is right (Czado, Gneiting & Held 2009, Biometrics
        65, 1254-1261).
    """
    return np.asarray(below + rng.random(len(below)) * (at_or_below - below))


def clustered_mean(values: FloatArray, cluster: IntArray) -> tuple[float, float]:
    """Mean and its standard error when values of one cluster move together.

    Parameters
    ----------
    values : array (n,)
    cluster : int array (n,)
        Labels, e.g. of the opening or the fleet.

    Returns
    -------
    mean, standard_error : float
        nan without values; the standard error with the factor G/(G − 1) of G clusters
        (Liang & Zeger 1986, Biometrika 73, 13-22), nan for a single cluster.

    Examples
    --------
    >>> mean, se = clustered_mean(np.array([0.0, 0.0, 1.0, 1.0]), np.array([1, 1, 2, 2]))
    >>> mean, round(se, 3)
    (0.5, 0.5)
    """
    if not len(values):
        return float("nan"), float("nan")
    mean = float(np.mean(values))
    _, group = np.unique(cluster, return_inverse=True)
    sums = np.bincount(group, np.asarray(values, dtype=float) - mean)
    g = len(sums)
    if g < 2:
        return mean, float("nan")
    return mean, float(np.sqrt(g / (g - 1) * (sums**2).sum()) / len(values))
