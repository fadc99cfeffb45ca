"""What one class tells at one as-of moment, worked out once: every command asks it, none reaches behind it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.classes import ClassKey, WearClass
from wearcast.wear.crossing import QUANTILES, HoursToLimit, hours_to_limit
from wearcast.wear.dates import probability_within, years_to_limit
from wearcast.wear.known import Known, KnownEither
from wearcast.wear.pooled import ClassReadings, Theta, estimate_at
from wearcast.wear.pooled.clock_said import SaidChange, said_changes, scope_of
from wearcast.wear.pooled.new_shells import with_new_shells
from wearcast.wear.pooled.rate_effects import RateEffects, rate_effects
from wearcast.wear.pooled.screening import Screened
from wearcast.wear.predict import ReadingForecast
from wearcast.wear.priors import Priors
from wearcast.wear.worth import Worth, worth_of_opening

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

Use = tuple[Floats, Floats, Floats]
"""Yearly use and its spread [kh], and years of history behind it, each (k,); NaN where unknown."""

DATE_QUANTILES = (0.10, 0.50, 0.90)
EARLY = QUANTILES.index(0.10)


class Early(NamedTuple):
    """10 % hour [kh], years from the last counter reading to its date, level [µm], chance by now; arrays (k,)."""

    hours_kh: Floats
    years: Floats
    level_um: Floats
    by_now: Floats


@dataclass(frozen=True, eq=False)
class ClassForecast:
    """The forecast of one class, arrays over its k shells in service; each part is worked out when first asked for.

    Attributes
    ----------
    one : WearClass
    screened : Screened
        What is doubted, and the standard deviations estimated without it.
    series : ndarray of int
        Rows of the series table that are asked for: those in service.
    use : Use
        Of the engine of every shell.
    carried_years : ndarray, shape (k,)
        Years from the last counter reading to where the engine of every shell stands.
    counter : ClassForecast or None
        The same where the engines stand at their last counter readings; None where they do.

    Notes
    -----
    Dates and the chances of dated events are reckoned from the last counter reading, whatever the as-of moment: the
    use scatters over the whole time to the event, and the moment one asks at adds nothing to what is known.
    """

    one: WearClass
    screened: Screened
    series: Ints
    use: Use
    carried_years: Floats
    counter: ClassForecast | None = None

    @property
    def at_counter(self) -> ClassForecast:
        """The same at the last counter readings."""
        return self.counter or self

    def since_counter(self, years: Floats) -> Floats:
        """Years from as-of, array (k, n), as years from the last counter reading."""
        return years + self.carried_years[:, None]

    @property
    def key(self) -> ClassKey:
        """What the sisters share."""
        return self.one.key

    @cached_property
    def kept(self) -> ClassReadings:
        """The readings in the fit."""
        return self.screened.without(self.one.readings)

    @property
    def unread(self) -> bool:
        """Whether nothing of this class was read, so that its forecast is the priors alone."""
        return not len(self.kept.z_um)

    @property
    def doubted(self) -> Ints:
        """Rows of `History.readings` left out by the fit."""
        return self.one.rows[self.screened.left_out]

    @property
    def held(self) -> Ints:
        """Those of them that half of the forecast rests on: slip or fault, until it is settled."""
        return self.one.rows[self.screened.towards]

    @property
    def counted(self) -> Ints:
        """Rows of `History.readings` in the fit."""
        return self.one.rows[~self.screened.left_out]

    @cached_property
    def shells(self) -> Ints:
        """Rows of the shell table, array (k,)."""
        return np.unique(self.one.readings.series_shell[self.series])

    @property
    def lives(self) -> Ints:
        """Index into `History.lives`, array (k,)."""
        return self.one.lives[self.shells]

    @cached_property
    def _without(self) -> Known:
        """Known without the doubted readings."""
        return Known(self.kept, self.screened.estimate, self.series)

    @cached_property
    def _known(self) -> Known:
        """The forecast: while a doubted reading may be a fault coming on, the mixture of slip and fault."""
        if not self.screened.towards.any():
            return self._without
        estimate, slips = self.screened.estimate, self._without
        faults = Known(self.screened.with_faults(self.one.readings), estimate, self.series)
        return KnownEither(self.kept, estimate, self.series, slips, faults, self.screened.fault_chance)

    @cached_property
    def _with(self) -> Known | None:
        """Known with all doubted readings left in, at the same standard deviations; None where there are none."""
        if not self.screened.left_out.any():
            return None
        return Known(self.screened.with_all(self.one.readings), self.screened.estimate, self.series)

    # The fit

    @property
    def n_readings(self) -> int:
        """Readings the standard deviations are estimated from."""
        return self.screened.estimate.n_readings

    @property
    def readings_strained(self) -> bool:
        """Whether the readings scatter more than gauges do."""
        return "reading_error" in self.screened.estimate.strained

    @property
    def theta(self) -> Theta:
        """The standard deviations with which the class can be held again."""
        return Theta.of(self.screened.estimate)

    @property
    def objective(self) -> float:
        """Log posterior density of the standard deviations at their mode."""
        return self.screened.estimate.objective

    @property
    def spreads(self) -> dict[str, float]:
        """Standard deviations of the terms of the model at the mode."""
        estimate = self.screened.estimate
        return dict(zip(estimate.terms.variances, estimate.sigma.tolist(), strict=True))

    @cached_property
    def changed(self) -> tuple[SaidChange, ...]:
        """Changes of the wear that the readings bear out; empty where wear goes on as it went."""
        return tuple(said_changes(self.kept, self.screened.estimate))

    @cached_property
    def changed_at(self) -> NDArray[np.bool_]:
        """Shells whose forecast rests on a changed rate, array (k,)."""
        scopes = [scope_of(self.kept, one) for one in self.changed]
        every = np.any(scopes, axis=0) if scopes else np.zeros(self.kept.n_shells, dtype=bool)
        return np.asarray(every[self.shells])

    # What is shown of each shell

    @property
    def hours(self) -> HoursToLimit:
        """Hours to the limit; a doubted reading that may be a fault coming on counts by its chance to be one."""
        return self._known.hours

    @property
    def governing(self) -> Ints:
        """Series (index into `History.series`) that reaches its limit first; -1 where no point has a limit."""
        at = self.hours.governing_series
        return np.where(at >= 0, self.one.series[np.maximum(at, 0)], -1)

    @cached_property
    def shown(self) -> Ints:
        """The governing series, or the first of the shell where none governs."""
        return self.one.series[self.series[self._known.shown]]

    @property
    def moments(self) -> tuple[Floats, Floats]:
        """Mean (k, 3) and covariance (k, 3, 3) of level, rate and running-in wear at the series shown."""
        return self._known.moments

    @property
    def rate(self) -> tuple[Floats, Floats]:
        """Mean and standard deviation of the rate above 0 at the series shown [µm/kh]."""
        return self._known.rate

    @property
    def metal_worn_um(self) -> Floats:
        """Wear of the metal, the new wall taken off, at the series shown [µm]."""
        return self._known.metal_worn_um

    @property
    def uneven_um2_per_kh(self) -> Floats:
        """Variance of uneven wear at the series shown [µm²/kh]."""
        return self._known.uneven_um2_per_kh

    @property
    def borrowed(self) -> Floats:
        """Var(rate | all readings) / Var(rate | all but this shell's own)."""
        return self._without.borrowed

    @cached_property
    def years(self) -> Floats:
        """Years from the last counter reading to the limit at `DATE_QUANTILES`, array (k, 3).

        NaN where too far or undated.
        """
        return years_to_limit(self.at_counter.hours, *self.use, DATE_QUANTILES)

    def years_at(self, chance: float) -> Floats:
        """The same at one chance, array (k,)."""
        return years_to_limit(self.at_counter.hours, *self.use, (chance,))[:, 0]

    @cached_property
    def by_now(self) -> Floats:
        """Chance that the limit is reached by as-of, array (k,); NaN where no limit governs."""
        return self._by_now(self.at_counter.hours)

    def _by_now(self, at_counter: HoursToLimit) -> Floats:
        at_once = at_counter.probability_before(np.zeros(len(self.shells)))
        now = np.zeros((len(self.shells), 1))
        within = self._within(self.since_counter(now), at_counter)[:, 0]
        return np.where(np.isfinite(within), within, at_once)

    # With the doubted readings left in, and without

    @cached_property
    def hours_with_doubted(self) -> HoursToLimit | None:
        """The 10 % hour with the doubted readings left in; None where nothing is doubted."""
        return None if self._with is None else hours_to_limit(self._with.posterior, (0.10,))

    @property
    def hours_without_doubted(self) -> HoursToLimit:
        """Hours to the limit, all that is doubted left out."""
        return self._without.hours

    @cached_property
    def early_with_doubted(self) -> Early:
        """The early end with the doubted readings left in."""
        if self._with is None:
            return self.early_without_doubted
        at = self.at_counter
        return self._early(
            self._with, self.hours_with_doubted or self.hours, at.hours_with_doubted or at.hours
        )

    @cached_property
    def early_without_doubted(self) -> Early:
        """The early end with all that is doubted left out."""
        return self._early(self._without, self._without.hours, self.at_counter.hours_without_doubted)

    def _early(self, known: Known, hours: HoursToLimit, at_counter: HoursToLimit) -> Early:
        at = hours.probabilities.tolist().index(0.10)
        return Early(
            hours.hours_kh[:, at],
            years_to_limit(at_counter, *self.use, (0.10,))[:, 0],
            known.posterior.moments()[0][known.shown_by(hours), 0],
            self._by_now(at_counter),
        )

    @cached_property
    def unsettled(self) -> NDArray[np.bool_]:
        """Shells whose last reading may be a fault coming on, bool array (k,)."""
        asked = self.one.readings.reading_shell[self.screened.towards]
        return np.isin(self.shells, asked)

    # What decisions go by

    @cached_property
    def hours_of_new_shells(self) -> HoursToLimit:
        """Hours to the limit of a new shell of the same size at the place of every shell in service.

        A new shell on a bad seat inherits what is known of the place.
        """
        return self._known_of_new.hours

    @cached_property
    def _known_of_new(self) -> Known:
        wider, asked = with_new_shells(self.kept, self.series)
        return Known(wider, self.screened.estimate, asked)

    def chance_within(self, years: Floats) -> Floats:
        """Chance that the limit is reached within given years from as-of, array (k, n); NaN: cannot be said."""
        return self._within(self.since_counter(years), self.at_counter.hours)

    def chance_of_new_shells(self, years: Floats) -> Floats:
        """The same of new shells, within given years from their fitting."""
        return self._within(years, self.at_counter.hours_of_new_shells)

    def _within(self, years: Floats, hours: HoursToLimit) -> Floats:
        chance = probability_within(hours, np.nan_to_num(years), *self.use)
        sayable = np.isfinite(years) & (np.isfinite(self.use[0]) & (hours.governing_series >= 0))[:, None]
        return np.where(sayable, chance, np.nan)

    def worth_of_opening(self, years: Floats, next_years: Floats, risk: float) -> Worth:
        """Worth of one more reading of every shell at one window each; see `wearcast.wear.worth`."""
        at, since = self.at_counter, self.carried_years
        return worth_of_opening(at._known, at.hours, self.use[0], years + since, next_years + since, risk)

    def drawn_hours_kh(self, n_draws: int, seed: int) -> Floats:
        """Joint draws of the hours from the last counter to the limit, array (N, k) [kh]; inf beyond 200 kh."""
        return self.at_counter._known.draws(n_draws, np.random.default_rng(seed)).hours_kh

    def drawn_hours_of_new_kh(self, n_draws: int, seed: int) -> Floats:
        """Joint draws of the hours of new shells at the places of those in service, array (N, k) [kh]."""
        return self.at_counter._known_of_new.draws(n_draws, np.random.default_rng(seed)).hours_kh

    def drawn_rates_um_per_kh(self, n_draws: int, seed: int) -> Floats:
        """Joint draws of the wear rates, array (N, k) [µm/kh]; of several points of one shell the mean."""
        drawn = self._known.draws(n_draws, np.random.default_rng(seed), hours=False)
        of = np.searchsorted(drawn.shell, self.one.readings.series_shell[drawn.series])
        total = np.zeros((n_draws, len(drawn.shell)))
        np.add.at(total.T, of, drawn.rate_um_per_kh.T)
        return np.asarray(total / np.bincount(of))

    @cached_property
    def rate_effects(self) -> RateEffects:
        """What engine, position, place and shell add to the rate."""
        weights = self._without.posterior.weights
        return rate_effects(self.kept, self.screened.estimate, weights, self.shells)

    # Readings to come

    def readings_to_come(
        self, series: Ints, hours_kh: Floats, u_um: Floats, step_um: Floats
    ) -> ReadingForecast:
        """What readings of some rows of the series table will show so many hours from now; each must be asked for."""
        return self._known.readings_to_come(series, hours_kh, u_um, step_um)

    def held_at(self, theta: Theta, masks: dict[str, NDArray[np.bool_]], priors: Priors) -> ClassForecast:
        """The same class at given standard deviations, given readings left out.

        Parameters
        ----------
        masks : dict of bool array (n,)
            ``left_out``, ``towards`` and ``quickened`` as in `Screened`.

        Raises
        ------
        ValueError
            If the readings call for other standard deviations.
        """
        screened = replace(
            self.screened, left_out=masks["left_out"], towards=masks["towards"], quickened=masks["quickened"]
        )
        estimate = estimate_at(screened.without(self.one.readings), priors, theta)
        held = replace(screened, estimate=estimate)
        counter = None if self.counter is None else replace(self.counter, screened=held)
        return replace(self, screened=held, counter=counter)
