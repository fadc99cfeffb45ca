"""What straight lines through one series alone would have said of its next readings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from wearcast.backtesting.predictions import HOUR_LEVELS, HOURS_KH, LEVELS, Ahead, Predicted, hours_at
from wearcast.wear.curves import LONGEST_KH
from wearcast.wear.own_line import OwnLines

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


def own_line_predictions(lines: OwnLines, ahead: Ahead, default_u_um: float) -> Predicted:
    """Predict readings by the own line: the line, its uncertainty and that of one more reading.

    Student's t about an ordinary line of three or more readings, a normal distribution where every reading has a
    stated uncertainty. A line through two readings without one has no scatter to tell its range by: it gives the
    wear of the line and the hours of the line, at 50 %, and nothing else.

    Parameters
    ----------
    lines : OwnLines
        Own lines of a history.
    ahead : Ahead
        Its `series` number the lines.
    default_u_um : float
        Uncertainty of a reading that states none, beside a line of stated ones [µm].

    Notes
    -----
    Prediction of one further observation: Draper & Smith (1998), Applied Regression Analysis, 3rd ed., section 3.1
    (from memory).
    """
    at = ahead.series
    known = lines.known_u[at]
    u_um = np.where(np.isnan(ahead.u_um), default_u_um, ahead.u_um)
    reading_sd = np.where(known, lines.widening[at] * u_um, lines.residual_sd_um[at])
    degrees = lines.degrees_of_freedom[at]

    def line(tau_kh: Floats) -> tuple[Floats, Floats]:
        d_tau = tau_kh - _column(lines.tau_mean_kh[at], tau_kh)
        wear = _column(lines.z_mean_um[at], tau_kh) + _column(lines.rate_um_per_kh[at], tau_kh) * d_tau
        line_u = np.hypot(
            _column(lines.z_mean_u_um[at], tau_kh), _column(lines.rate_u_um_per_kh[at], tau_kh) * d_tau
        )
        return wear, np.hypot(line_u, _column(reading_sd, tau_kh))

    wear, sd = line(ahead.to_kh)
    middle = LEVELS.index(0.50)
    wear_um = wear[:, None] + sd[:, None] * _t_quantiles(degrees, LEVELS)
    wear_um[:, middle] = wear
    below = _t_cdf(degrees, (ahead.z_um - wear) / np.where(sd > 0, sd, np.nan))
    wear_later, sd_later = line(ahead.from_kh[:, None] + HOURS_KH)
    with np.errstate(divide="ignore", invalid="ignore"):
        chance = 1.0 - _t_cdf(degrees[:, None], (ahead.z_um[:, None] - wear_later) / sd_later)
    hours_kh = hours_at(np.nan_to_num(chance), HOUR_LEVELS)
    hours_kh[:, HOUR_LEVELS.index(0.50)] = _hours_of_line(
        ahead.z_um - wear, lines.rate_um_per_kh[at], ahead.hours_kh
    )
    return Predicted(wear_um, below, below, hours_kh)


def last_two_points(
    series: Ints, tau_kh: Floats, z_um: Floats, n_series: int
) -> tuple[Floats, Floats, Floats]:
    """The line through the last two points of every series: what a ruler on the chart does.

    Readings of one age count as one point, their mean.

    Returns
    -------
    tau_kh, z_um, rate_um_per_kh : ndarray, shape (n_series,)
        Last point and slope; NaN where there are not two.
    """
    last_tau, last_z, rate = (np.full(n_series, np.nan) for _ in range(3))
    for one in np.unique(series).tolist():
        mine = series == one
        ages, which = np.unique(tau_kh[mine], return_inverse=True)
        if len(ages) < 2:
            continue
        wear = np.bincount(which, z_um[mine]) / np.bincount(which)
        last_tau[one], last_z[one] = ages[-1], wear[-1]
        rate[one] = (wear[-1] - wear[-2]) / (ages[-1] - ages[-2])
    return last_tau, last_z, rate


def two_point_predictions(points: tuple[Floats, Floats, Floats], ahead: Ahead) -> tuple[Floats, Floats]:
    """Wear [µm] and hours from the last reading [kh] by the lines of `last_two_points`; each shape (n,)."""
    tau_kh, z_um, rate = (values[ahead.series] for values in points)
    wear = z_um + rate * (ahead.to_kh - tau_kh)
    return wear, _hours_of_line(ahead.z_um - wear, rate, ahead.hours_kh)


def _hours_of_line(short_um: Floats, rate: Floats, taken_kh: Floats) -> Floats:
    """Hours at which a bare line shows what came, `short_um` more than it says after `taken_kh`.

    0 where it shows that already, NaN where it does not rise to it within 200 kh.
    """
    now_short = short_um + rate * taken_kh
    with np.errstate(divide="ignore", invalid="ignore"):
        hours = np.where(now_short <= 0, 0.0, np.where(rate > 0, now_short / rate, np.nan))
    return np.where(np.isfinite(short_um) & (hours <= LONGEST_KH), hours, np.nan)


def _column(values: Floats, like: Floats) -> Floats:
    return values if like.ndim == 1 else values[:, None]


def _t_quantiles(degrees: Floats, levels: tuple[float, ...]) -> Floats:
    """Student's quantiles, normal for infinite degrees of freedom, NaN for none; shape (n, levels)."""
    safe = np.where(np.isfinite(degrees) & (degrees > 0), degrees, 1.0)[:, None]
    found = np.where(np.isinf(degrees)[:, None], ndtri(levels), stdtrit(safe, np.array(levels)))
    return np.where((degrees > 0)[:, None], found, np.nan)


def _t_cdf(degrees: Floats, x: Floats) -> Floats:
    safe = np.where(np.isfinite(degrees) & (degrees > 0), degrees, 1.0)
    return np.where(degrees > 0, np.where(np.isinf(degrees), ndtr(x), stdtr(safe, x)), np.nan)
