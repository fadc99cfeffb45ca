"""Array types and the batched linear algebra of the pooled model."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


_SMALL, _MANY = 8, 100  # matrices for which a call each costs more than the numbers in them (measured)
_NUMBERS_AT_ONCE = 32768  # stay in the nearest cache


def _small_inverses(matrices: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same for many small matrices, all at once by Gauss-Jordan steps; positive definite ones need no pivoting."""
    n = matrices.shape[-1]
    flat = matrices.reshape(-1, n, n)
    inverse, pivots = np.empty_like(flat), np.empty((n, len(flat)))
    many = _NUMBERS_AT_ONCE // n**2
    for start in range(0, len(flat), many):
        part = slice(start, start + many)
        a = flat[part].transpose(1, 2, 0).copy()
        for k in range(n):
            pivot = a[k, k].copy()
            row, column = a[k] / pivot, a[:, k].copy()
            a -= column[:, None] * row
            a[k], a[:, k], a[k, k] = row, -column / pivot, 1.0 / pivot
            pivots[k, part] = pivot
        inverse[part] = a.transpose(2, 0, 1)
    if not (pivots > 0).all():
        raise np.linalg.LinAlgError("a matrix is not positive definite")
    log_det = np.log(pivots).sum(0).reshape(matrices.shape[:-2])
    return inverse.reshape(matrices.shape), log_det


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
    n, count = matrices.shape[-1], matrices[..., 0, 0].size
    if n <= _SMALL and count >= _MANY:
        return _small_inverses(matrices)
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
