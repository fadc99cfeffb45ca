"""The own line as an estimator."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Self

import numpy as np
import pandas as pd
from sklearn.utils.validation import check_is_fitted

from wearcast.estimators.common import WearEstimator
from wearcast.units import H_PER_KH
from wearcast.wear.inverse import REASONS, Reach, hours_at_limit
from wearcast.wear.own_line import COVERAGE, fit_lines

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from wearcast.wear.grouped import Floats


class OwnLine(WearEstimator):
    """Straight line through the readings of each group alone; nothing borrowed from the others.

    Parameters
    ----------
    hours, value : str
        Columns of shell hours [h] and of wear [µm].
    u : str or None
        Column of stated standard uncertainties (k = 1) [µm], empty where none is stated. A group in which
        every reading has one is fitted by weighted least squares with known variances, any other by ordinary
        least squares.
    groups : tuple of str
        Columns that tell one series from another; empty for one line through everything.
    coverage : float
        Two-sided coverage of the intervals.

    Attributes
    ----------
    table_ : DataFrame, one row a group
        readings, own_rate_um_per_kh, own_rate_u_um_per_kh, own_rate_lo, own_rate_hi [µm/kh],
        degrees_of_freedom (infinite for known variances that the scatter bears out).
    coefficients_ : DataFrame, one row a group
        intercept_um (level at 0 h) and rate_um_per_kh.
    variances_ : DataFrame, one row a group
        intercept [µm²], rate [µm²/kh²], covariance [µm²/kh], residual [µm²] (empty for known variances).

    Notes
    -----
    Assumes what `wearcast.wear.own_line.fit_lines` assumes. What cannot be said is NaN: one reading, all
    hours equal, or the interval of two readings without stated u.

    Examples
    --------
    >>> readings = pd.DataFrame({"shell": ["A"] * 3 + ["B"] * 3, "shell_h": [5000, 15000, 25000] * 2,
    ...                          "wear_um": [20, 58, 101, 8, 26, 39]})
    >>> line = OwnLine().fit(readings)
    >>> line.coefficients["rate_um_per_kh"].to_dict()
    {'A': 4.05, 'B': 1.55}
    >>> line.hours_at_limit(300).loc["A", ["lower_h", "line_h", "upper_h"]].astype(float).round(-2).to_list()
    [63300.0, 74300.0, 91700.0]
    """

    def __init__(
        self,
        hours: str = "shell_h",
        value: str = "wear_um",
        u: str | None = None,
        groups: tuple[str, ...] = ("shell",),
        coverage: float = COVERAGE,
    ) -> None:
        self.hours = hours
        self.value = value
        self.u = u
        self.groups = groups
        self.coverage = coverage

    def fit(self, X: pd.DataFrame, y: ArrayLike | None = None) -> Self:
        """Fit one line a group.

        Parameters
        ----------
        X : DataFrame
            The readings, one a row; further columns are left alone.
        y : array_like, optional
            Wear [µm] to use in place of the ``value`` column.

        Returns
        -------
        OwnLine
            Itself, fitted.

        Raises
        ------
        TypeError
            X is no DataFrame.
        ValueError
            A column is missing, a number is none, a u is not above zero, or a row has no group.
        """
        frame, wear = self._taken(X, y, [self.hours, *self.groups, *filter(None, [self.u])])
        u = np.full(len(frame), np.nan) if self.u is None else self._numbers(frame, self.u, gaps=True)
        of_row = self._keys(frame, list(self.groups))
        series, keys = of_row.factorize(sort=True)
        keys = keys.set_names(of_row.names)
        tau_kh = self._numbers(frame, self.hours) / H_PER_KH
        lines = fit_lines(tau_kh, wear, u, series, len(keys))
        half = lines.quantile(self.coverage) * lines.rate_u_um_per_kh
        self.lines_ = lines
        self.table_ = pd.DataFrame(
            {
                "readings": lines.readings,
                "own_rate_um_per_kh": lines.rate_um_per_kh,
                "own_rate_u_um_per_kh": lines.rate_u_um_per_kh,
                "own_rate_lo": lines.rate_um_per_kh - half,
                "own_rate_hi": lines.rate_um_per_kh + half,
                "degrees_of_freedom": lines.degrees_of_freedom,
            },
            index=keys,
        )
        self.coefficients_ = pd.DataFrame(
            {"intercept_um": lines.intercept_um, "rate_um_per_kh": lines.rate_um_per_kh}, index=keys
        )
        self.variances_ = pd.DataFrame(
            {
                "intercept": lines.intercept_u_um**2,
                "rate": lines.rate_u_um_per_kh**2,
                "covariance": lines.covariance_um2_per_kh,
                "residual": lines.residual_sd_um**2,
            },
            index=keys,
        )
        return self

    def predict(self, X: pd.DataFrame, return_std: bool = False) -> Floats | tuple[Floats, Floats]:
        """Give the level of each row's line at its hours.

        Parameters
        ----------
        X : DataFrame, n rows
            The ``hours`` and ``groups`` columns.
        return_std : bool
            Give the standard uncertainty of the mean line too.

        Returns
        -------
        wear : ndarray, shape (n,)
            [µm]; NaN for a group that was not fitted or has no line.
        wear_u : ndarray, shape (n,)
            [µm]; only with ``return_std``.
        """
        check_is_fitted(self)
        frame = self._need(X, [self.hours, *self.groups])
        which: NDArray[np.intp] = self.table_.index.get_indexer(self._keys(frame, list(self.groups)))
        lines, known = self.lines_, which >= 0
        d_tau = self._numbers(frame, self.hours)[known] / H_PER_KH - lines.tau_mean_kh[which[known]]
        wear, wear_u = np.full(which.shape, np.nan), np.full(which.shape, np.nan)
        wear[known] = lines.z_mean_um[which[known]] + lines.rate_um_per_kh[which[known]] * d_tau
        if not return_std:
            return wear
        wear_u[known] = np.hypot(
            lines.z_mean_u_um[which[known]], lines.rate_u_um_per_kh[which[known]] * d_tau
        )
        return wear, wear_u

    def hours_at_limit(self, limit_um: float | dict[Hashable, float] | pd.Series[float]) -> pd.DataFrame:
        """Give the shell hours at which each group's mean line reaches its limit, with Fieller's set.

        Parameters
        ----------
        limit_um : float, or one a group by its key
            Wear at the limit [µm].

        Returns
        -------
        DataFrame, one row a group
            lower_h, line_h, upper_h [h], NaN where open or not to be said (−∞: perhaps reached already), and
            ``reason``, a plain sentence, empty where there is nothing to say.

        Raises
        ------
        ValueError
            A group has no limit.
        """
        check_is_fitted(self)
        index = self.table_.index
        limits = limit_um if isinstance(limit_um, int | float) else pd.Series(limit_um).reindex(index)
        if np.isnan(limits).any():
            raise ValueError(f"no limit for {list(index[np.isnan(limits)])}")
        found = hours_at_limit(self.lines_, limits, self.coverage)
        return pd.DataFrame(
            {
                "lower_h": found.lower_kh * H_PER_KH,
                "line_h": found.line_kh * H_PER_KH,
                "upper_h": found.upper_kh * H_PER_KH,
                "reason": [REASONS[Reach(int(kind))] for kind in found.reach],
            },
            index=index,
        )
