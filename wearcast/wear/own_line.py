"""The own line: a straight line through each shell's readings alone, closed form, all shells at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri, stdtrit

from wearcast.wear.grouped import as_readings, known_weights, or_zero

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from wearcast.wear.grouped import Floats, Ints

COVERAGE = 0.90
"""Two-sided coverage of every interval of the own line unless the caller asks for another."""


@dataclass(frozen=True, eq=False)
class OwnLines:
    """Straight lines z = z̄ + rate · (τ − τ̄), one a series, as arrays of length ``n_series``.

    Stored about the centroid (τ̄, z̄), where level and rate are uncorrelated; the intercept follows.
    NaN means "cannot be said": no reading, all hours equal, or (for the u) two readings without stated u.

    Attributes
    ----------
    readings : ndarray of int
        Readings in the line [1].
    known_u : ndarray of bool
        True where every reading has a stated u, so the line is weighted and its variances are known.
    tau_mean_kh, z_mean_um : ndarray
        Centroid, weighted where the line is [kh], [µm].
    z_mean_u_um : ndarray
        Standard uncertainty of the line at the centroid [µm].
    rate_um_per_kh, rate_u_um_per_kh : ndarray
        Slope and its standard uncertainty [µm/kh].
    residual_sd_um : ndarray
        √(RSS/(n − 2)) of an unweighted line of three or more readings [µm]; NaN for the others.
    widening : ndarray
        √max(1, χ²/(n − 2)), already in the uncertainties of a weighted line [1]; 1 for the others.
    degrees_of_freedom : ndarray
        n − 2; infinite for known variances that the scatter bears out; 0 where there is a rate but no interval;
        NaN where no line [1].
    """

    readings: Ints
    known_u: NDArray[np.bool_]
    tau_mean_kh: Floats
    z_mean_um: Floats
    z_mean_u_um: Floats
    rate_um_per_kh: Floats
    rate_u_um_per_kh: Floats
    residual_sd_um: Floats
    widening: Floats
    degrees_of_freedom: Floats

    @property
    def intercept_um(self) -> Floats:
        """Level of the line at τ = 0 [µm]."""
        return self.z_mean_um - self.rate_um_per_kh * self.tau_mean_kh

    @property
    def intercept_u_um(self) -> Floats:
        """Standard uncertainty of the level at τ = 0 [µm]."""
        return np.hypot(self.z_mean_u_um, self.tau_mean_kh * self.rate_u_um_per_kh)

    @property
    def covariance_um2_per_kh(self) -> Floats:
        """Covariance of intercept and rate [µm²/kh]."""
        return -self.tau_mean_kh * self.rate_u_um_per_kh**2

    @cached_property
    def rate_lo90(self) -> Floats:
        """Lower end of the 90 % interval of the rate [µm/kh]."""
        return self.rate_um_per_kh - self.quantile() * self.rate_u_um_per_kh

    @cached_property
    def rate_hi90(self) -> Floats:
        """Upper end of the 90 % interval of the rate [µm/kh]."""
        return self.rate_um_per_kh + self.quantile() * self.rate_u_um_per_kh

    def quantile(self, coverage: float = COVERAGE) -> Floats:
        """Student's (or, for known variances, the normal) two-sided quantile of each line [1]."""
        if not 0 < coverage < 1:
            raise ValueError(f"coverage must lie between 0 and 1, not {coverage}")
        upper = (1 + coverage) / 2
        out = np.full(self.readings.shape, np.nan)
        out[np.isinf(self.degrees_of_freedom)] = ndtri(upper)
        student = np.isfinite(self.degrees_of_freedom) & (self.degrees_of_freedom > 0)
        # Few different n among many series: one t quantile for each of them, not for each series.
        degrees, which = np.unique(self.degrees_of_freedom[student], return_inverse=True)
        out[student] = stdtrit(degrees, upper)[which]
        return out


def fit_lines(
    tau_kh: ArrayLike, z_um: ArrayLike, u_um: ArrayLike, series: ArrayLike, n_series: int
) -> OwnLines:
    """Fit the own line of every series by least squares in closed form on grouped arrays.

    Where every reading of a series has a stated u: weighted least squares with known variances and normal
    quantiles. Where they scatter by more than the stated u allows, the uncertainties are widened by
    √(χ²/(n − 2)), never narrowed, and that scatter is known from n − 2 degrees of freedom only: Student's t.
    Elsewhere: ordinary least squares with Student's t on n − 2 degrees of freedom; two such readings give a
    rate and no interval.

    Parameters
    ----------
    tau_kh, z_um : array_like, shape (n,)
        Shell hours [kh] and wear [µm] of each reading; finite.
    u_um : array_like, shape (n,)
        Stated standard uncertainty of each reading (k = 1) [µm]; NaN where none is stated.
    series : array_like of int, shape (n,)
        Series of each reading, 0 … n_series − 1, in any order.
    n_series : int
        Number of series; those without a reading come out as NaN.

    Returns
    -------
    OwnLines
        Arrays of length ``n_series``.

    Raises
    ------
    ValueError
        Shapes differ, a value is not finite, a u is not above zero, or a series is out of range.

    Notes
    -----
    Assumes independent errors about a straight line, hours without error, and (unweighted) one error
    variance within a series. Sums are taken of centred data, which keeps the figures when hours are large
    against their spread. Line and weights: Draper, N.R. & Smith, H. (1998), Applied Regression Analysis,
    3rd ed., ch. 1 and 9; widening: Birge, R.T. (1932), Phys. Rev. 40, 207; both from memory. With true errors
    twice the stated ones, normal quantiles held 76 to 80 % at n = 3 and 4 where 90 % was stated.

    Examples
    --------
    >>> lines = fit_lines([10, 20, 30], [52, 98, 151], [float("nan")] * 3, [0, 0, 0], 1)
    >>> round(float(lines.rate_um_per_kh[0]), 3), int(lines.degrees_of_freedom[0])
    (4.95, 1)
    """
    tau, z, group = as_readings(tau_kh, z_um, series, n_series)
    count = np.bincount(group, minlength=n_series)
    known, weight = known_weights(u_um, group, count)

    work = np.empty_like(z)  # one buffer for all products: fresh pages cost more than the arithmetic

    def total(*factors: Floats) -> Floats:
        """Sum the (weighted) product of the factors in every series."""
        first, *rest = factors if weight is None else (*factors, weight)
        for factor in rest:
            first = np.multiply(first, factor, out=work)
        # bincount gives whole numbers where there are no readings at all
        return np.bincount(group, weights=first, minlength=n_series).astype(np.float64, copy=False)

    def spread(per_series: Floats) -> Floats:
        return np.take(per_series, group, out=np.empty_like(z), mode="clip")

    w_sum = count.astype(np.float64) if weight is None else total()
    with np.errstate(divide="ignore", invalid="ignore"):
        tau_mean, z_mean = total(tau) / w_sum, total(z) / w_sum
        d_tau, d_z = spread(tau_mean), spread(z_mean)
        np.subtract(tau, d_tau, out=d_tau)
        np.subtract(z, d_z, out=d_z)
        s_tau = or_zero(total(d_tau, d_tau), w_sum * tau_mean**2, count)
        s_tau[s_tau == 0] = np.nan
        s_cross = total(d_tau, d_z)
        explained = or_zero(s_cross**2 / s_tau, w_sum * z_mean**2, count)
        rate = np.where(explained == 0, 0.0, s_cross / s_tau)
        d_tau *= np.take(rate, group, out=work, mode="clip")
        d_z -= d_tau  # the residuals
        rss = or_zero(total(d_z, d_z), w_sum * z_mean**2 + explained, count)
        df, per_df = count - 2.0, rss / np.maximum(count - 2, 1)

    lined = np.isfinite(rate)
    # The factor of known variances only widens: readings that agree by luck do not make a gauge better.
    widening = np.where(known & lined, np.sqrt(np.maximum(1.0, np.where(df > 0, per_df, 0.0))), 1.0)
    residual_sd = np.where(~known & lined & (df > 0), np.sqrt(per_df), np.nan)
    unit = np.where(known & lined, widening, residual_sd)
    with np.errstate(divide="ignore", invalid="ignore"):
        z_mean_u, rate_u = unit / np.sqrt(w_sum), unit / np.sqrt(s_tau)
    return OwnLines(
        readings=count,
        known_u=known & lined,
        tau_mean_kh=tau_mean,
        z_mean_um=z_mean,
        z_mean_u_um=z_mean_u,
        rate_um_per_kh=rate,
        rate_u_um_per_kh=rate_u,
        residual_sd_um=residual_sd,
        widening=widening,
        degrees_of_freedom=np.where(lined, np.where(known & (widening == 1.0), np.inf, df), np.nan),
    )


def band_um(
    lines: OwnLines, series_index: int, tau_kh: ArrayLike, coverage: float = COVERAGE
) -> tuple[Floats, Floats, Floats]:
    """Lower end, line and upper end of the pointwise band of one mean line, for drawing.

    Parameters
    ----------
    lines : OwnLines
        Fitted lines.
    series_index : int
        Which of them.
    tau_kh : array_like, shape (k,)
        Shell hours to draw at [kh].
    coverage : float
        Two-sided coverage at each hour, between 0 and 1.

    Returns
    -------
    lower, line, upper : ndarray, shape (k,)
        Wear [µm]; NaN where the line gives none (two readings without stated u have a line and no band).
    """
    d_tau = np.asarray(tau_kh, dtype=np.float64) - lines.tau_mean_kh[series_index]
    line = lines.z_mean_um[series_index] + lines.rate_um_per_kh[series_index] * d_tau
    line_u = np.hypot(lines.z_mean_u_um[series_index], lines.rate_u_um_per_kh[series_index] * d_tau)
    half = lines.quantile(coverage)[series_index] * line_u
    return line - half, line, line + half
