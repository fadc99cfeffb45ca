"""F test of equal slopes among sisters: analysis of covariance on the readings of the own lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

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
        `wear_um`, `tau_kh`, `life` (its level is free) and `group` (its slope may differ); lives with readings at
        one age tell no slope and are left out.

    Returns
    -------
    SlopesTest
        By `statsmodels.stats.anova.anova_lm` of the line with one slope against the line with one a group.
    """
    ages = readings.groupby("life")["tau_kh"].transform("nunique")
    used = readings[ages > 1]
    lives, groups = used["life"].nunique(), used["group"].nunique()
    spare = len(used) - lives - groups
    if groups < 2 or spare < 1:
        return SlopesTest(np.nan, np.nan, groups, max(groups - 1, 0), max(spare, 0))
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    one = ols("wear_um ~ C(life) + tau_kh", data=used).fit()
    each = ols("wear_um ~ C(life) + C(group):tau_kh", data=used).fit()
    if each.ssr <= 1e-20 * used["wear_um"].var():
        return SlopesTest(np.nan, np.nan, groups, groups - 1, spare)  # exact lines leave no error to judge by
    table = anova_lm(one, each)
    f, p = float(table["F"].iloc[1]), float(table["Pr(>F)"].iloc[1])
    return SlopesTest(f, p, groups, groups - 1, spare)


def holm(p_values: np.ndarray) -> np.ndarray:
    """Holm's correction; NaN stays NaN and does not count as a look."""
    from statsmodels.stats.multitest import multipletests

    corrected = np.full(len(p_values), np.nan)
    told = np.isfinite(p_values)
    if told.any():
        corrected[told] = multipletests(p_values[told], method="holm")[1]
    return corrected
