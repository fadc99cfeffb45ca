"""Readings yet to be taken: their predictive distribution, and what one more would be worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearcast.wear.crossing import hours_to_limit, probability_beyond
from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.posteriors import Posterior

_BISECTIONS = 60


@dataclass(frozen=True)
class ReadingForecast:
    """Predictive distribution of one reading of each of some series, gauge error included.

    Attributes
    ----------
    posterior : Posterior
    series : int array (k,)
        Places in the posterior.
    hours_kh : array (k,)
        Hours from now [kh].
    extra_variance : array (T, k)
        Of gauge and reading [µm²].
    mean_um, sd_um : arrays (k,)
        Moments of the mixture, the rate not truncated [µm].
    """

    posterior: Posterior
    series: IntArray
    hours_kh: FloatArray
    extra_variance: FloatArray
    mean_um: FloatArray
    sd_um: FloatArray

    @property
    def rate_um_per_kh(self) -> FloatArray:
        """Mean rate of the mixture, not truncated, array (k,) [µm/kh]."""
        return np.asarray(self.posterior.weights @ self.posterior.mean[:, self.series, 1])

    def beyond(self, hours_kh: FloatArray, z_um: FloatArray) -> FloatArray:
        """Chance of a reading at or beyond given wear after given hours from now, arrays (k, m)."""
        return np.asarray(
            probability_beyond(self.posterior, hours_kh, z_um, self.series, self.extra_variance)
        )

    def cdf(self, z_um: FloatArray) -> FloatArray:
        """Chance of a reading at or below given wear, array (k,) or (k, m)."""
        z = np.asarray(z_um, dtype=float)
        bound = z if z.ndim == 2 else z[:, None]
        hours = np.broadcast_to(self.hours_kh[:, None], bound.shape)
        return np.asarray(1.0 - self.beyond(hours, bound)).reshape(z.shape)

    def quantile(self, probabilities: FloatArray) -> FloatArray:
        """Wear read with given chances of no more, array (k, q) [µm]."""
        levels = np.asarray(probabilities, dtype=float)
        low = np.repeat((self.mean_um - 12 * self.sd_um)[:, None], len(levels), axis=1)
        high = np.repeat((self.mean_um + 12 * self.sd_um)[:, None], len(levels), axis=1)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            below = self.cdf(middle) < levels
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return 0.5 * (low + high)


def predict_readings(
    posterior: Posterior,
    series: IntArray,
    hours_kh: FloatArray,
    u_um: FloatArray,
    step_um: FloatArray,
    shared_gauge: bool = True,
) -> ReadingForecast:
    """Predictive distribution of readings some hours from now.

    Parameters
    ----------
    posterior : Posterior
        Its now is the moment of the last reading used, or later.
    series : int array (k,)
        Places in the posterior, one a reading.
    hours_kh : array (k,)
        Hours from now to the reading, not negative [kh].
    u_um : array (k,)
        Stated standard uncertainty [µm]; nan where not stated.
    step_um : array (k,)
        Rounding step [µm].
    shared_gauge : bool
        The reading carries a common gauge error of an opening not yet seen.

    Returns
    -------
    ReadingForecast
    """
    series, hours = np.asarray(series, dtype=np.intp), np.asarray(hours_kh, dtype=float)
    extra = reading_variance(posterior, np.asarray(u_um, float), np.asarray(step_um, float))
    if shared_gauge:
        extra = extra + posterior.opening_sd[:, None] ** 2
    ahead = _carried(posterior, series, hours)
    off = ahead[0][..., 0]
    mean = posterior.weights @ off
    variance = posterior.weights @ (ahead[1][..., 0, 0] + extra + (off - mean) ** 2)
    return ReadingForecast(posterior, series, hours, extra, mean, np.sqrt(variance))


def reading_variance(posterior: Posterior, u_um: FloatArray, step_um: FloatArray) -> FloatArray:
    """Variance of single readings without the gauge, array (T, k) [µm²]."""
    stated = np.isfinite(u_um)
    own = np.where(stated, posterior.stated_error_sd[:, None] ** 2, posterior.error_sd[:, None] ** 2)
    return np.asarray(own + np.where(stated, u_um, 0.0) ** 2 + step_um**2 / 12.0)


def _carried(posterior: Posterior, series: IntArray, hours: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean (T, k, 3) and covariance (T, k, 3, 3) of level, rate and running-in after some hours."""
    move = _move(posterior, series, hours)
    mean = (move @ posterior.mean[:, series, :, None])[..., 0]
    covariance = move @ posterior.covariance[:, series] @ np.swapaxes(move, -1, -2)
    covariance[..., 0, 0] += posterior.sigma_b[:, series] ** 2 * move[..., 0, 1]
    return mean, covariance


def _move(posterior: Posterior, series: IntArray, hours: FloatArray) -> FloatArray:
    """Matrix that carries level, rate and running-in forward, array (1 or T, k, 3, 3)."""
    scale = posterior.running_in_kh
    gain = np.exp(-posterior.tau_now_kh[series] / scale) * -np.expm1(-hours / scale)
    paced = posterior.ahead_kh(hours[:, None], series, slice(None))[..., 0]
    move = np.broadcast_to(np.eye(3), (*paced.shape, 3, 3)).copy()
    move[..., 0, 1] = paced
    move[..., 1, 1] = posterior.pace_gained(hours, series)
    move[..., 0, 2] = np.where(posterior.fitting_known[series], gain, 0.0)
    return move


def carried_forward(posterior: Posterior, hours_kh: FloatArray) -> Posterior:
    """The same knowledge at a later now.

    Parameters
    ----------
    posterior : Posterior
    hours_kh : array (M,)
        Hours to carry every shell of the shell table forward [kh].

    Returns
    -------
    Posterior
    """
    series = np.arange(len(posterior.series))
    hours = np.asarray(hours_kh, dtype=float)[posterior.shell]
    mean, covariance = _carried(posterior, series, hours)
    move = _move(posterior, series, hours)
    first, second = posterior.pair[:, 0], posterior.pair[:, 1]
    between = move[:, first] @ posterior.pair_covariance @ np.swapaxes(move[:, second], -1, -2)
    between[..., 0, 0] += posterior.sigma_b[:, first] ** 2 * move[:, first, 0, 1]
    now = posterior.readings.shell_tau_now_kh + hours_kh
    return replace(
        posterior,
        mean=mean,
        covariance=covariance,
        pair_covariance=between,
        sigma_b=posterior.sigma_b * np.sqrt(move[..., 1, 1]),
        readings=replace(posterior.readings, shell_tau_now_kh=now),
    )


@dataclass(frozen=True)
class WorthOfReading:
    """What opening a shell once more would tell.

    Attributes
    ----------
    shell : int array (M,)
    before_kh, after_kh : arrays (M,)
        Hours between the 10 % and the 90 % quantile, from the window on, without and with one
        more reading of every point [kh]; a quantile beyond 200 kh counts as 200 kh.
    """

    shell: IntArray
    before_kh: FloatArray
    after_kh: FloatArray

    @property
    def shrinks(self) -> FloatArray:
        """Share by which the range shrinks, array (M,)."""
        wide = self.before_kh > 0
        return np.where(wide, 1.0 - self.after_kh / np.where(wide, self.before_kh, 1.0), 0.0)


def worth_of_reading(
    posterior: Posterior, hours_kh: FloatArray, u_um: float = np.nan, step_um: float = 0.0
) -> WorthOfReading:
    """How much one more reading of every point narrows the hours to the limit, in closed form.

    The variance after a reading does not hang on what it will say. The forecast with that
    variance is taken at the mean expected now.

    Parameters
    ----------
    posterior : Posterior
    hours_kh : array (M,)
        Hours from now to the window, by shell of the shell table [kh].
    u_um : float
        Standard uncertainty of the reading [µm]; nan: as estimated from the class.
    step_um : float
        Its rounding step [µm].

    Returns
    -------
    WorthOfReading
        In the order of `hours_to_limit`.
    """
    later = carried_forward(posterior, hours_kh)
    noise = reading_variance(posterior, np.array([u_um]), np.array([step_um]))[:, 0]
    before = hours_to_limit(later, (0.10, 0.90))
    after = hours_to_limit(_read_once(later, noise), (0.10, 0.90))
    spans = []
    for made in (before, after):
        hours = np.where(np.isnan(made.hours_kh), 200.0, made.hours_kh)
        spans.append(hours[:, 1] - hours[:, 0])
    return WorthOfReading(before.shell, spans[0], spans[1])


def _read_once(posterior: Posterior, noise: FloatArray) -> Posterior:
    """The posterior after every point was read once, gauge error shared within the shell."""
    shells, group = np.unique(posterior.shell, return_inverse=True)
    order = np.argsort(group, kind="stable")
    slot = np.empty(len(group), dtype=np.intp)
    starts = np.searchsorted(group[order], np.arange(len(shells)))
    slot[order] = np.arange(len(group)) - starts[group[order]]
    n_points = int(slot.max(initial=0)) + 1
    n_sets = len(posterior.weights)
    joint = np.zeros((n_sets, len(shells), n_points, 3, n_points, 3))
    joint[:, group, slot, :, slot] = posterior.covariance.transpose(1, 0, 2, 3)
    first, second = posterior.pair[:, 0], posterior.pair[:, 1]
    between = posterior.pair_covariance.transpose(1, 0, 2, 3)
    joint[:, group[first], slot[first], :, slot[second]] = between
    joint[:, group[first], slot[second], :, slot[first]] = np.swapaxes(between, -1, -2)
    levels = joint[..., 0]  # (T, M, P, 3, P): covariance of everything with the levels
    among = levels[..., 0, :]
    present = np.zeros((len(shells), n_points))
    present[group, slot] = 1.0
    seen = present[:, :, None] * present[:, None, :]
    read = among + seen * posterior.opening_sd[:, None, None, None] ** 2
    read = read + np.eye(n_points) * (noise[:, None, None, None] * seen + (1.0 - present[..., None]))
    flat = levels.reshape(n_sets, len(shells), n_points * 3, n_points)
    told = flat @ np.linalg.solve(read, np.swapaxes(flat, -1, -2))
    after = joint - told.reshape(joint.shape)
    return replace(
        posterior,
        covariance=after[:, group, slot, :, slot].transpose(1, 0, 2, 3),
        pair_covariance=after[:, group[first], slot[first], :, slot[second]].transpose(1, 0, 2, 3),
    )
