"""Array types and the batched linear algebra of the pooled model."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


def inverse_and_log_det(matrices: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inverses and log-determinants of a stack of positive definite matrices.

    Parameters
    ----------
    matrices : array (..., n, n)

    Returns
    -------
    inverse : array (..., n, n)
    log_det : array (...)

    Raises
    ------
    numpy.linalg.LinAlgError
        One of the matrices is not positive definite.
    """
    factor = np.linalg.cholesky(matrices)
    log_det = 2.0 * np.log(np.diagonal(factor, axis1=-2, axis2=-1)).sum(-1)
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64), log_det


def segment_sums(values: FloatArray, segment: IntArray, n_segments: int) -> FloatArray:
    """Sums over runs of equal `segment` along axis 1; `segment` is sorted.

    Parameters
    ----------
    values : array (t, b, ...)
    segment : int array (b,), ascending
    n_segments : int

    Returns
    -------
    array (t, n_segments, ...)
    """
    out = np.zeros((values.shape[0], n_segments, *values.shape[2:]))
    if segment.size:
        starts = np.flatnonzero(np.r_[True, segment[1:] != segment[:-1]])
        out[:, segment[starts]] = np.add.reduceat(values, starts, axis=1)
    return out
