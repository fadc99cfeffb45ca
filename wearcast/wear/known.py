"""What some readings of a class tell of some of its shells: posterior, hours, and what follows from them, each once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearcast.wear.crossing import QUANTILES, HoursToLimit, hours_to_limit
from wearcast.wear.pooled import ClassReadings, Estimate, Posterior, posterior
from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.borrowed import borrowed
from wearcast.wear.pooled.draws import JointDraws, joint_draws
from wearcast.wear.pooled.mixture import mixed, mixed_draws
from wearcast.wear.pooled.rates import rates_above_zero
from wearcast.wear.predict import ReadingForecast, predict_readings


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of the k shells of some series, given readings and standard deviations.

    Attributes
    ----------
    readings : ClassReadings
        Those that count.
    estimate : Estimate
    series : int array (S,)
        Rows of the series table that are asked for.
    """

    readings: ClassReadings
    estimate: Estimate
    series: IntArray

    @cached_property
    def posterior(self) -> Posterior:
        """Level, rate and running-in wear of every series."""
        return posterior(self.readings, self.estimate, self.series)

    @cached_property
    def hours(self) -> HoursToLimit:
        """Hours to the limit of every shell at `QUANTILES`."""
        return hours_to_limit(self.posterior, QUANTILES)

    @cached_property
    def place(self) -> IntArray:
        """Place of every row of the series table in the posterior, -1 where not asked for."""
        place = np.full(self.readings.n_series, -1, dtype=np.intp)
        place[self.series] = np.arange(len(self.series))
        return place

    @cached_property
    def shown(self) -> IntArray:
        """Place in the posterior of each shell's governing series, of its first where none governs, array (k,)."""
        return self.shown_by(self.hours)

    def shown_by(self, hours: HoursToLimit) -> IntArray:
        """The same, by hours found at other chances."""
        shell, governing = self.posterior.shell, hours.governing_series
        first = np.argsort(shell, kind="stable")[np.searchsorted(np.sort(shell), hours.shell)]
        return np.where(governing >= 0, self.place[np.maximum(governing, 0)], first)

    @cached_property
    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Mean (k, 3) and covariance (k, 3, 3) of level, rate and running-in wear at the series shown."""
        mean, covariance = self.posterior.moments()
        return mean[self.shown], covariance[self.shown]

    @cached_property
    def rate(self) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of the rate above 0 at the series shown, arrays (k,) [µm/kh]."""
        mean, sd = rates_above_zero(self.posterior)
        return mean[self.shown], sd[self.shown]

    @cached_property
    def metal_worn_um(self) -> FloatArray:
        """Level less the new wall at the series shown: wear of the metal, array (k,) [µm]."""
        known = self.posterior
        worn = known.weights @ known.mean[:, :, 0] - known.weights @ known.wall_mean
        return np.asarray(worn[self.shown])

    @cached_property
    def uneven_um2_per_kh(self) -> FloatArray:
        """Mean variance of uneven wear at the series shown, array (k,) [µm²/kh]."""
        return np.asarray(self.posterior.weights @ self.posterior.sigma_b[:, self.shown] ** 2)

    @cached_property
    def borrowed(self) -> FloatArray:
        """Share of the knowledge of the rate that is borrowed at the series shown, array (k,)."""
        return borrowed(self.readings, self.estimate, self.series)[self.shown]

    def readings_to_come(
        self, series: IntArray, hours_kh: FloatArray, u_um: FloatArray, step_um: FloatArray
    ) -> ReadingForecast:
        """What readings of some of the series will show so many hours from now; see `predict_readings`."""
        return predict_readings(self.posterior, self.place[series], hours_kh, u_um, step_um)

    def draws(self, n_draws: int, rng: np.random.Generator, hours: bool = True) -> JointDraws:
        """Joint draws of all series; see `joint_draws`."""
        return joint_draws(self.posterior, self.estimate, n_draws, rng, hours)


@dataclass(frozen=True, eq=False)
class KnownEither(Known):
    """The same while nobody knows whether the last readings of some shells are slips or faults coming on.

    Attributes
    ----------
    slips, faults : Known
        Without those readings, and with level and rate following them.
    fault_chance : float
        Share of the forecast in which they are faults.
    """

    slips: Known
    faults: Known
    fault_chance: float

    @cached_property
    def posterior(self) -> Posterior:
        """Both halves in one mixture."""
        return mixed(self.slips.posterior, self.faults.posterior, self.fault_chance)

    def draws(self, n_draws: int, rng: np.random.Generator, hours: bool = True) -> JointDraws:
        """Joint draws of the mixture, each half by its share."""
        n_faults = round(self.fault_chance * n_draws)
        halves = [
            half.draws(n, rng, hours)
            for half, n in ((self.slips, n_draws - n_faults), (self.faults, n_faults))
            if n
        ]
        return halves[0] if len(halves) == 1 else mixed_draws(halves[0], halves[1], rng)
