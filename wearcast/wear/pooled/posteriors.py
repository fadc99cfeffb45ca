"""Level, rate and running-in wear of every series given all readings of its class."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.clock import Clock, Kind, clocked, depths_um, hours_ahead, pace_after
from wearcast.wear.pooled.estimation import AVERAGED_BELOW_ENGINES
from wearcast.wear.pooled.passes import Clocks, slices_of_sets
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.series_pass import at_pace, joined, one_pass, with_positive_rates
from wearcast.wear.pooled.terms import Terms


@dataclass(frozen=True)
class Bend:
    """Wear past which the pace changes in future.

    Attributes
    ----------
    level_um : array (T, S)
        inf where it does not, or did already [µm].
    factor : array (T,)
        Of the pace past it.
    gain : array (T, S)
        The factor where it is past already, else 1: level and rate are counted by it.
    """

    level_um: FloatArray
    factor: FloatArray
    gain: FloatArray


@dataclass(frozen=True)
class Posterior:
    """Gaussian posterior of some series at each set of standard deviations.

    Attributes
    ----------
    weights : array (T,)
        Weights of the sets of standard deviations, given that all rates are above 0; they
        sum to 1.
    sigma_b : array (T, S)
        Unevenness of wear σ_B at today's pace [µm/√kh].
    opening_sd, error_sd, stated_error_sd : array (T,)
        Standard deviations of a common gauge error, of a reading error where none is stated,
        and beyond a stated one [µm].
    mean : array (T, S, 3)
        Level now [µm], rate [µm/kh], running-in wear α [µm]; the rate not truncated.
    covariance : array (T, S, 3, 3)
    pair : int array (K, 2)
        Pairs of series of one shell, places in `series`.
    pair_covariance : array (T, K, 3, 3)
        Covariance of the three of the first with those of the second of each pair.
    wall_mean : array (T, S)
        New wall against the reference, δ + η [µm]; wear of the metal is level less this.
    class_pull : array (T, S, 3)
        What one standard deviation of the class rate moves the three less, now that all rates
        are above 0.
    readings : ClassReadings
    series : int array (S,)
        Rows of the series table that are forecast.
    running_in_kh : float
    power : array (T,)
        Power of the shell hours by which wear goes on; 1 for a steady pace.
    bend : Bend or None
        Where the pace will change with the depth of wear.
    """

    weights: FloatArray
    sigma_b: FloatArray
    opening_sd: FloatArray
    error_sd: FloatArray
    stated_error_sd: FloatArray
    mean: FloatArray
    covariance: FloatArray
    pair: IntArray
    pair_covariance: FloatArray
    wall_mean: FloatArray
    class_pull: FloatArray
    readings: ClassReadings
    series: IntArray
    running_in_kh: float
    power: FloatArray = field(default_factory=lambda: np.ones(1))
    bend: Bend | None = None

    @property
    def shell(self) -> IntArray:
        """Shell of every series, int array (S,)."""
        return self.readings.series_shell[self.series]

    @property
    def tau_now_kh(self) -> FloatArray:
        """Shell hours now of every series, array (S,) [kh]."""
        return self.readings.shell_tau_now_kh[self.shell]

    @property
    def fitting_known(self) -> BoolArray:
        """Whether the fitting time is known, bool array (S,)."""
        return self.readings.shell_fitting_known[self.shell]

    @property
    def limit_um(self) -> FloatArray:
        """Wear at the limit, array (S,) [µm]; nan for none."""
        return self.readings.series_limit_um[self.series]

    def ahead_kh(self, hours_kh: FloatArray, series: IntArray | slice, sets: slice) -> FloatArray:
        """Hours ahead counted at today's pace, array (1, s, H) or (T, s, H) [kh]."""
        power = self.power[sets]
        if (power == 1.0).all():
            return hours_kh[None]
        powers = np.where(self.fitting_known[series], power[:, None], 1.0)[..., None]
        return hours_ahead(hours_kh, self.tau_now_kh[series][:, None], powers)

    def pace_gained(self, hours_kh: FloatArray, series: IntArray) -> FloatArray:
        """Pace after some hours over the pace today, array (1 or T, k)."""
        if (self.power == 1.0).all():
            return np.ones((1, len(series)))
        powers = np.where(self.fitting_known[series], self.power[:, None], 1.0)
        return pace_after(hours_kh, self.tau_now_kh[series], powers)

    def unbent_um(self, bound_um: FloatArray, series: IntArray | slice, sets: slice) -> FloatArray:
        """Bounds of wear (s, H) as if the pace of today went on, array (1, s, H) or (T, s, H) [µm]."""
        if self.bend is None:
            return bound_um[None]
        level, factor = self.bend.level_um[sets, series][..., None], self.bend.factor[sets, None, None]
        over = bound_um - np.where(np.isfinite(level), level, 0.0)
        return np.where(bound_um > level, bound_um - over * (1.0 - 1.0 / factor), bound_um)

    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Mean (S, 3) and covariance (S, 3, 3) of the mixture over the standard deviations."""
        mean = np.einsum("t,tsi->si", self.weights, self.mean)
        off = self.mean - mean
        spread = np.einsum("t,tsi,tsj->sij", self.weights, off, off)
        return mean, np.einsum("t,tsij->sij", self.weights, self.covariance) + spread

    def pair_covariances(self) -> FloatArray:
        """Covariance (K, 3, 3) of the mixture between the series of each pair."""
        off = self.mean - np.einsum("t,tsi->si", self.weights, self.mean)
        first, second = off[:, self.pair[:, 0]], off[:, self.pair[:, 1]]
        spread = np.einsum("t,tki,tkj->kij", self.weights, first, second)
        return np.asarray(np.einsum("t,tkij->kij", self.weights, self.pair_covariance) + spread)


def posterior(
    readings: ClassReadings,
    estimate: Estimate,
    series: IntArray | None = None,
    rates_above_zero: bool = True,
) -> Posterior:
    """Posterior of level, rate and running-in wear of the series asked for.

    Parameters
    ----------
    readings : ClassReadings
        The class; it may hold more engines than those the estimate was made from.
    estimate : Estimate
        Standard deviations of the class with their weights.
    series : int array (S,), optional
        Rows of the series table; all by default.
    rates_above_zero : bool
        Use in small classes that the rates of all shells are above 0; the forecast truncates
        each shell's own rate besides. Never where there are no priors.

    Returns
    -------
    Posterior
        In the order of `series`.
    """
    every = np.arange(readings.n_series)
    rows = every if series is None else np.asarray(series, dtype=np.intp)
    # The rates of all shells count in a small class, not of those asked for alone.
    small = rates_above_zero and not estimate.terms.flat and readings.n_engines < AVERAGED_BELOW_ENGINES
    terms, sigma, correlation = estimate.terms, estimate.sigma_points, estimate.correlation_points
    numbers, of_set = np.unique(estimate.set_clock, return_inverse=True)
    worn, paces = zip(*(clocked(readings, estimate.clocks[k]) for k in numbers), strict=True)
    several = len(worn) > 1
    clocks = Clocks(worn, of_set)
    asked_for = every if small else rows
    made = joined(
        [
            one_pass(
                worn[0],
                terms,
                sigma[at],
                None if correlation is None else correlation[at],
                asked_for,
                clocks.only(at) if several else None,
            )
            for at in slices_of_sets(readings, len(sigma), len(terms.variances) if several else 1)
        ]
    )
    log_weight = np.log(estimate.weights)
    if small and len(every):
        made, log_weight = with_positive_rates(made, estimate.weights, readings)
    shell = readings.series_shell[rows]
    pace = np.stack([one.now for one in paces])[of_set]
    made = at_pace(made, pace[:, readings.series_shell])
    weights = np.exp(log_weight - log_weight.max())
    place = np.empty(readings.n_series, dtype=np.intp)
    place[made.series] = np.arange(len(made.series))
    back = np.full(readings.n_series, -1, dtype=np.intp)
    back[rows] = np.arange(len(rows))
    asked = (back[made.pairs] >= 0).all(axis=1)
    plain = Posterior(
        weights=weights / weights.sum(),
        sigma_b=_sigma(terms, sigma, "uneven_wear")[:, None] * np.sqrt(pace[:, shell]),
        opening_sd=_sigma(terms, sigma, "opening_error"),
        error_sd=_sigma(terms, sigma, "reading_error"),
        stated_error_sd=_sigma(terms, sigma, "extra_error"),
        mean=made.mean[:, place[rows]],
        covariance=made.covariance[:, place[rows]],
        pair=back[made.pairs[asked]],
        pair_covariance=made.pair_covariance[:, asked],
        wall_mean=made.wall_mean[:, place[rows]],
        class_pull=made.class_pull[:, place[rows]],
        readings=readings,
        series=rows,
        running_in_kh=terms.running_in_kh,
        power=np.array([one.power for one in paces])[of_set],
    )
    return _past_bends(plain, [estimate.clocks[k] for k in estimate.set_clock])


def _past_bends(plain: Posterior, clocks: list[Clock]) -> Posterior:
    """The same where clocks change the pace with depth: series past it stand as they wear now, others will bend."""
    deep = [clock.part.kind is Kind.DEPTH for clock in clocks]
    if not any(deep):
        return plain
    level = np.full(plain.mean.shape[:2], np.inf)
    for t in np.flatnonzero(deep):
        depth = depths_um(plain.readings, clocks[t].part)[plain.series]
        level[t] = np.where(plain.fitting_known, depth + plain.wall_mean[t], np.inf)
    factor = np.array([clock.factor if d else 1.0 for clock, d in zip(clocks, deep, strict=True)])
    past = plain.mean[..., 0] > level
    gain = np.where(past, factor[:, None], 1.0)
    mean = plain.mean * gain[..., None]
    mean[past, 0] = level[past] + (plain.mean[past, 0] - level[past]) * gain[past]
    one, two = gain[:, plain.pair[:, 0]], gain[:, plain.pair[:, 1]]
    return replace(
        plain,
        mean=mean,
        covariance=plain.covariance * (gain**2)[..., None, None],
        pair_covariance=plain.pair_covariance * (one * two)[..., None, None],
        class_pull=plain.class_pull * gain[..., None],
        sigma_b=plain.sigma_b * gain,
        bend=Bend(np.where(past, np.inf, level), factor, gain),
    )


def _sigma(terms: Terms, sigma: FloatArray, name: str) -> FloatArray:
    at = terms.index(name)
    return sigma[:, at] if at >= 0 else np.zeros(len(sigma))
