"""F test of equal slopes among sisters: analysis of covariance on the readings of the own lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class SlopesTest:
    """Whether straight lines that may start anywhere have one slope.

    Attributes
    ----------
    f, p : float
        NaN where there are too few readings for a test.
    lines, df, df_residual : int
        Slopes compared, and degrees of freedom of numerator and denominator.
    p_holm : float
        Corrected for the tests beside it (Holm 1979, Scand. J. Stat. 6, 65-70).
    """

    f: float
    p: float
    lines: int
    df: int
    df_residual: int
    p_holm: float = float("nan")


def equal_slopes(readings: pd.DataFrame) -> SlopesTest:
    """Test that all groups wear at one rate, each shell life with a level of its own.

    Parameters
    ----------
    readings : DataFrame
        `wear_um`, `tau_kh`, `life` (its level is free) and `group` (its slope may differ; a life is of one group);
        lives with readings at one age tell no slope and are left out.

    Returns
    -------
    SlopesTest
        Of the line with one slope against the line with one a group.

    Notes
    -----
    The levels are swept out: least squares of the deviations from the means of each life leaves the residuals of
    the whole regression (Frisch and Waugh 1933, Econometrica 1, 387-401), without a column for every life.
    """
    ages = readings.groupby("life")["tau_kh"].transform("nunique")
    used = readings[ages > 1]
    lives, groups = used["life"].nunique(), used["group"].nunique()
    spare = len(used) - lives - groups
    if groups < 2 or spare < 1:
        return SlopesTest(np.nan, np.nan, groups, max(groups - 1, 0), max(spare, 0))
    life, group = (used[name].factorize()[0] for name in ("life", "group"))
    tau, wear = (_within(used[name].to_numpy(dtype=np.float64), life) for name in ("tau_kh", "wear_um"))
    by_group = np.bincount(group, tau * wear) / np.bincount(group, tau * tau)
    one, each = wear - (tau @ wear) / (tau @ tau) * tau, wear - by_group[group] * tau
    ssr = float(each @ each)
    if ssr <= 1e-20 * used["wear_um"].var():
        return SlopesTest(np.nan, np.nan, groups, groups - 1, spare)  # exact lines leave no error to judge by
    from scipy.special import fdtrc

    f = (float(one @ one) - ssr) / (groups - 1) / (ssr / spare)
    return SlopesTest(f, float(fdtrc(groups - 1, spare, max(f, 0.0))), groups, groups - 1, spare)


def _within(values: NDArray[np.float64], life: NDArray[np.intp]) -> NDArray[np.float64]:
    """Deviations from the mean of each life."""
    return np.asarray(values - (np.bincount(life, values) / np.bincount(life))[life])


def holm(p_values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Holm's correction; NaN stays NaN and does not count as a look.

    By `statsmodels.stats.multitest`.

    Parameters
    ----------
    p_values : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> holm(np.array([0.01, 0.04, np.nan, 0.03])).tolist()
    [0.03, 0.06, nan, 0.06]
    """
    from statsmodels.stats.multitest import multipletests

    corrected, told = np.full(len(p_values), np.nan), np.isfinite(p_values)
    if told.any():
        corrected[told] = multipletests(p_values[told], method="holm")[1]
    return corrected
