"""Several points of one shell: the chance that any of them stands at its limit.

The points share most of what is uncertain. Their chances are joined by one common factor: given
it they are independent, and one integral over it gives the chance of any (Dunnett & Sobel 1955,
Biometrika 42, 258-260).
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from wearcast.wear.pooled.arrays import FloatArray

_FACTOR = np.linspace(-6.0, 6.0, 49)
_FACTOR_WEIGHT = np.exp(-0.5 * _FACTOR**2) / np.exp(-0.5 * _FACTOR**2).sum()
_LARGEST_LOADING = 0.985


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
