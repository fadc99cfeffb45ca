"""Diagnostics of one series by statsmodels: the long way round to the own line, and what to look at beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wearcast.wear.grouped import as_readings
from wearcast.wear.own_line import COVERAGE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from wearcast.wear.grouped import Floats


@dataclass(frozen=True, eq=False)
class Line:
    """One slope with its level at τ = 0, and the ends of the slope's interval; NaN where a method has none.

    Attributes
    ----------
    rate_um_per_kh, rate_u_um_per_kh, rate_lo, rate_hi : float
        Slope, its standard uncertainty and its interval [µm/kh].
    intercept_um, intercept_u_um : float
        Level at τ = 0 and its standard uncertainty [µm].
    """

    rate_um_per_kh: float
    rate_u_um_per_kh: float
    rate_lo: float
    rate_hi: float
    intercept_um: float
    intercept_u_um: float


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """What one series looks like: four lines, and each reading against the own line without it.

    Attributes
    ----------
    own : Line
        Least squares, weighted and widened exactly as `fit_lines` does.
    through_origin : Line
        Least squares held through zero wear at τ = 0. Far from ``own``: running-in, or a new wall that was
        not where it was taken to be.
    huber, theil_sen : Line
        Robust lines; stated uncertainties are not used. Theil-Sen has limits and no standard uncertainty.
    residual_um : ndarray, shape (n,)
        Reading minus own line [µm].
    leverage : ndarray, shape (n,)
        Diagonal of the hat matrix, 0 … 1 [1].
    left_out_residual : ndarray, shape (n,)
        Residual over its standard error with that reading left out of the scatter (or the stated variance)
        [1]; NaN with three readings and no stated u, where leaving one out leaves no scatter.
    fit : statsmodels regression results
        Of ``own``, to look further: level and rate are its parameters.
    """

    own: Line
    through_origin: Line
    huber: Line
    theil_sen: Line
    residual_um: Floats
    leverage: Floats
    left_out_residual: Floats
    fit: Any

    def summary(self, coverage: float = COVERAGE) -> str:
        """Table of the own line as statsmodels prints it.

        Parameters
        ----------
        coverage : float
            Two-sided coverage of the intervals.

        Returns
        -------
        str
            Lines of text; level in µm, rate in µm per 1000 h.
        """
        import warnings

        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore"
            )  # tests of normality that few readings do not carry are not printed
            told = self.fit.summary("wear_um", ["level", "rate"], alpha=round(1 - coverage, 9), slim=True)
        return "\n".join(line.rstrip() for line in told.as_text().splitlines())


def least_squares(design: ArrayLike, z: ArrayLike, u: ArrayLike | None = None) -> Any:
    """Fit any linear model by QR: ordinary, or weighted with known variances and widened only.

    Parameters
    ----------
    design : array_like, shape (n, p)
        Columns of the model; n > p.
    z : array_like, shape (n,)
        Observations.
    u : array_like, shape (n,), optional
        Stated standard uncertainties, in the unit of ``z``; all above zero.

    Returns
    -------
    statsmodels regression results
        Student's t without ``u``; with it variances times max(1, χ²/(n − p)), and normal quantiles where that is 1.

    Raises
    ------
    ValueError
        No more observations than columns.
    """
    from statsmodels.regression.linear_model import OLS, WLS

    x, y = np.asarray(design, dtype=np.float64), np.asarray(z, dtype=np.float64)
    if x.shape[0] <= x.shape[1]:
        raise ValueError(f"{x.shape[1]} coefficients need more than {x.shape[0]} readings")
    if u is None:
        return OLS(y, x).fit(method="qr")
    model = WLS(y, x, weights=1 / np.asarray(u, dtype=np.float64) ** 2)
    factor = max(1.0, float(model.fit(method="qr").scale))
    return model.fit(method="qr", cov_type="fixed scale", cov_kwds={"scale": factor}, use_t=factor > 1.0)


def diagnose(tau_kh: ArrayLike, z_um: ArrayLike, u_um: ArrayLike, coverage: float = COVERAGE) -> Diagnosis:
    """Look at one series closely with general libraries.

    Parameters
    ----------
    tau_kh, z_um : array_like, shape (n,)
        Shell hours [kh] and wear [µm] of three or more readings, not all at the same hours.
    u_um : array_like, shape (n,)
        Stated standard uncertainties [µm]; used only if every reading has one, as in `fit_lines`.
    coverage : float
        Two-sided coverage of the intervals.

    Returns
    -------
    Diagnosis

    Raises
    ------
    ValueError
        Fewer than three readings, all hours equal, or a value that `fit_lines` would refuse.

    Notes
    -----
    Assumes what `fit_lines` assumes. Huber: k = 1.345, scale by the median absolute residual; Theil-Sen:
    Sen, P.K. (1968), J. Am. Stat. Assoc. 63, 1379-1389. Left-out residuals: Cook, R.D. & Weisberg, S. (1982),
    Residuals and Influence in Regression, ch. 2, from memory.
    """
    from scipy.stats import theilslopes
    from statsmodels.robust.norms import HuberT
    from statsmodels.robust.robust_linear_model import RLM

    n = np.size(tau_kh)
    tau, z, _ = as_readings(tau_kh, z_um, np.zeros(n, dtype=np.intp), 1)
    u = np.asarray(u_um, dtype=np.float64)
    if n < 3 or np.ptp(tau) == 0:
        raise ValueError("diagnostics need three readings, not all at the same hours")
    if u.shape != tau.shape or (u <= 0).any() or np.isinf(u).any():
        raise ValueError("one u a reading is needed, above zero, or NaN where none is stated")
    stated = None if np.isnan(u).any() else u

    design = np.column_stack([np.ones(n), tau])
    fit = least_squares(design, z, stated)
    theil_sen = theilslopes(z, tau, alpha=coverage)
    leverage, left_out = _influence(design, z, stated)
    return Diagnosis(
        own=_line(fit, coverage),
        through_origin=_line(least_squares(tau[:, None], z, stated), coverage),
        huber=_line(RLM(z, design, M=HuberT()).fit(maxiter=200), coverage),
        theil_sen=Line(
            rate_um_per_kh=float(theil_sen.slope),
            rate_u_um_per_kh=np.nan,
            rate_lo=float(theil_sen.low_slope),
            rate_hi=float(theil_sen.high_slope),
            intercept_um=float(theil_sen.intercept),
            intercept_u_um=np.nan,
        ),
        residual_um=np.asarray(fit.resid, dtype=np.float64),
        leverage=leverage,
        left_out_residual=left_out,
        fit=fit,
    )


def _line(fit: Any, coverage: float) -> Line:
    """Read slope (the last coefficient) and intercept, if there is one, off a fit."""
    lo, hi = fit.conf_int(alpha=1 - coverage)[-1]
    free = len(fit.params) == 2
    return Line(
        rate_um_per_kh=float(fit.params[-1]),
        rate_u_um_per_kh=float(fit.bse[-1]),
        rate_lo=float(lo),
        rate_hi=float(hi),
        intercept_um=float(fit.params[0]) if free else 0.0,
        intercept_u_um=float(fit.bse[0]) if free else 0.0,
    )


def _influence(design: Floats, z: Floats, u: Floats | None) -> tuple[Floats, Floats]:
    """Leverage of each reading and its residual over its standard error, the reading itself left out."""
    from statsmodels.regression.linear_model import OLS
    from statsmodels.stats.outliers_influence import OLSInfluence

    unit = np.ones_like(z) if u is None else u
    influence = OLSInfluence(OLS(z / unit, design / unit[:, None]).fit(method="qr"))
    leverage = np.asarray(influence.hat_matrix_diag, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        if u is not None:
            left_out = influence.resid / np.sqrt(1 - leverage)
        elif z.size > 3:
            left_out = influence.resid_studentized_external
        else:
            left_out = np.full(z.shape, np.nan)
    return leverage, np.asarray(left_out, dtype=np.float64)
