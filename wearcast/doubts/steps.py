"""Steps and single slips in lines with uneven wear: every place they could be at, for many lines at once.

The readings of a line are taken one after another, the wear known only as well as those before tell it (a random
walk seen through errors, filtered): the work grows with the readings, not with their cube.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Lines:
    """B lines of n openings each, in order of age; arrays of shape (B, n), the variances below of shape (B,).

    Attributes
    ----------
    tau_kh, wear_um, error_var : ndarray
        Age [kh], wear read less wear expected [µm], variance of its error [µm²].
    other_um, other_var : ndarray
        The same wear read another way, but for a constant; NaN where it was not.
    constant : ndarray of int
        Which constant, from 0.
    level_var, rate_var, uneven_var : ndarray
        Of level [µm²], rate [µm²/kh²] and uneven wear [µm²/kh].
    """

    tau_kh: Floats
    wear_um: Floats
    error_var: Floats
    other_um: Floats
    other_var: Floats
    constant: NDArray[np.int64]
    level_var: Floats
    rate_var: Floats
    uneven_var: Floats


@dataclass(frozen=True, eq=False)
class Steps:
    """Steps before each opening by generalised least squares, shape (B, n); of no meaning before the first.

    Attributes
    ----------
    size_um, u_um : ndarray
        Size and standard uncertainty [µm]; a step has no prior.
    gain : ndarray
        Half the fall of χ² that it brings, (size / u)² / 2.
    slip_gain : ndarray
        The same for one wrong reading of the wear beside it, the better of the two; -inf where only one reading
        stands on either side.
    """

    size_um: Floats
    u_um: Floats
    gain: Floats
    slip_gain: Floats


def steps(lines: Lines, first_um: Floats, last_um: Floats, unknown_um: float) -> Steps:
    """Fit a step before every opening of every line, each by itself.

    Parameters
    ----------
    first_um, last_um : ndarray, shape (B,)
        Taken off the first reading where it stands alone before the step, off the last where alone after it [µm].
    unknown_um : float
        Spread of the constants [µm].

    Notes
    -----
    V = E + uneven wear from age 0 + X P X', X with level, rate and constants: E and the walk are whitened by the
    filter, X is taken in by the Woodbury identity.
    """
    n = lines.tau_kh.shape[1]
    products, squares = _whitened(lines)
    m = products.shape[1]
    X = slice(1, m - 2)
    spread = np.full((len(products), m - 3), unknown_um**2)
    spread[:, 0], spread[:, 1] = lines.level_var, lines.rate_var
    inner = products[:, X, X] + np.eye(m - 3) / spread[:, None, :]
    taken = np.linalg.solve(inner, products[:, X])
    squares = squares - (products[:, X] * taken).sum(axis=1)
    ends = products[:, [0, m - 2, m - 1]]
    read, first, last = np.moveaxis(ends - ends[:, :, X] @ taken, 1, 0)
    at = np.arange(n)
    off_first = np.where(at == 1, first_um[:, None], 0.0)
    off_last = np.where(at == n - 1, last_um[:, None], 0.0)

    def told(columns: slice, moved: int) -> Floats:
        """Inner product with the readings as they are for the step `moved` openings later."""
        of_first, of_last = np.roll(off_first, -moved, axis=1), np.roll(off_last, -moved, axis=1)
        return np.asarray(read[:, columns] - of_first * first[:, columns] - of_last * last[:, columns])

    of_steps, of_slips = slice(m, None, 2), slice(m + 1, None, 2)
    along = told(of_steps, 0)
    slip_at = told(of_slips, 0) ** 2 / squares[:, of_slips] / 2
    slip_before = np.roll(told(of_slips, 1) ** 2 / squares[:, of_slips] / 2, 1, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Steps(
            size_um=along / squares[:, of_steps],
            u_um=squares[:, of_steps] ** -0.5,
            gain=along**2 / squares[:, of_steps] / 2,
            slip_gain=np.fmax(
                np.where(at == n - 1, -np.inf, slip_at), np.where(at == 1, -np.inf, slip_before)
            ),
        )


def _whitened(lines: Lines) -> tuple[Floats, Floats]:
    """Inner products of columns whitened by errors and uneven wear, and their squared lengths.

    Columns: readings, level, rate, constants, first and last reading moved (m in all); then step and slip of each
    opening in turn. Shapes (B, m, m + 2 n) and (B, m + 2 n).
    """
    B, n = lines.tau_kh.shape
    constants = int(lines.constant.max(initial=-1)) + 1
    m = 5 + constants
    products, squares = np.zeros((B, m, m + 2 * n)), np.zeros((B, m + 2 * n))
    wear, var, before = np.zeros((B, m + 2 * n)), np.zeros(B), np.zeros(B)
    other = np.isfinite(lines.other_um)
    for t in range(n):
        tau = lines.tau_kh[:, t]
        var, before = var + lines.uneven_var * (tau - before), tau
        some = slice(0, m + 2 * (t + 1))  # later steps and slips have not been seen
        data = np.zeros((B, m + 2 * (t + 1)))
        data[:, 0], data[:, 1], data[:, 2] = lines.wear_um[:, t], 1.0, tau
        data[:, m - 2], data[:, m - 1], data[:, -1] = t == 0, t == n - 1, 1.0
        data[:, m::2] = 1.0
        for of_other in (False, True) if other[:, t].any() else (False,):
            error_var = lines.error_var[:, t]
            weight = np.ones(B)
            if of_other:
                weight, error_var = other[:, t].astype(np.float64), lines.other_var[:, t]
                data[:, 0], data[:, m - 2 : m], data[:, -1] = lines.other_um[:, t], 0.0, 0.0
                data[other[:, t], 3 + lines.constant[other[:, t], t]] = 1.0
            told = weight > 0
            weight[told] /= (var + error_var)[told]
            innovation = np.where(told[:, None], data - wear[:, some], 0.0)
            weighted = weight[:, None] * innovation
            products[:, :, some] += weighted[:, :m, None] * innovation[:, None, :]
            squares[:, some] += weighted * innovation
            wear[:, some] += var[:, None] * weighted
            var = var * (1.0 - var * weight)
    return products, squares
