"""Counts of independent needs: the Poisson-binomial distribution and its quantiles."""

from __future__ import annotations

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray


def poisson_binomial(probabilities: FloatArray) -> FloatArray:
    """Distribution of the number of independent events that happen.

    Parameters
    ----------
    probabilities : array (n,)
        Chance of each event.

    Returns
    -------
    array (n + 1,)
        Chance of 0, 1, … n events, by convolution (Hong 2013, Comput. Stat. Data Anal. 59,
        41-51).

    Raises
    ------
    ValueError
        A chance lies outside [0, 1].

    Examples
    --------
    >>> poisson_binomial(np.array([0.1, 0.2, 0.3])).round(3)
    array([0.504, 0.398, 0.092, 0.006])
    """
    chances = np.asarray(probabilities, dtype=float)
    if chances.size and not (chances.min() >= 0 and chances.max() <= 1):
        raise ValueError("a chance lies outside 0 to 1")
    made = np.ones(1)
    for p in chances:
        made = np.convolve(made, [1.0 - p, p])
    return made


def count_quantile(distribution: FloatArray, level: float) -> int:
    """Least count that is enough with at least the given chance.

    Parameters
    ----------
    distribution : array (n + 1,)
        Chance of 0, 1, … n.
    level : float
        Between 0 and 1.

    Returns
    -------
    int

    Raises
    ------
    ValueError
        The distribution does not reach the level.

    Examples
    --------
    >>> count_quantile(np.array([0.504, 0.398, 0.092, 0.006]), 0.95)
    2
    """
    # Rounding of the sum must not ask for one part more where the chance is exactly the level.
    enough = np.flatnonzero(np.cumsum(distribution) >= level - 1e-12)
    if not enough.size:
        raise ValueError(f"the distribution sums to less than {level}")
    return int(enough[0])
