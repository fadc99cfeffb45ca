"""Where the whole fleet stands when a decision is made: every engine carried forward to one date."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.outlook import QUANTILES
from wearcast.forecasting.pooled_outlook import PooledClass
from wearcast.forecasting.run import Forecast, carried_to, forecast
from wearcast.forecasting.table import Row
from wearcast.lives.build import build
from wearcast.lives.history import EngineAt
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.crossing import HoursToLimit, hours_to_limit
from wearcast.wear.dates import probability_within
from wearcast.wear.pooled import ClassReadings, Posterior, posterior

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ClassAhead:
    """What lies ahead of the shells in service of one class, arrays over its k shells.

    Attributes
    ----------
    readings : ClassReadings
        The readings in the fit.
    asked : ndarray of int
        Rows of the series table that are in service.
    known : Posterior
        Of these, doubted readings left out.
    hours : HoursToLimit
        With the doubted readings left in where that gives the earlier 10 % hour, until the query is settled.
    with_doubted : ndarray of bool, shape (k,)
        Where it does.
    lives : ndarray of int, shape (k,)
        Index into `History.lives`.
    use : tuple of ndarray, each (k,)
        Yearly use and its spread [kh], and years of history behind it; NaN where unknown.
    """

    fit: PooledClass
    readings: ClassReadings
    asked: NDArray[np.intp]
    known: Posterior
    hours: HoursToLimit
    with_doubted: NDArray[np.bool_]
    lives: NDArray[np.intp]
    use: tuple[Floats, Floats, Floats]

    def chance_within(self, years: Floats, hours: HoursToLimit | None = None) -> Floats:
        """Chance that the limit is reached within given years, array (k, n); NaN where nothing can be said.

        ``hours`` replaces the forecast of the shells in service, such as that of new ones.
        """
        ahead = self.hours if hours is None else hours
        chance = probability_within(ahead, np.nan_to_num(years), *self.use)
        sayable = np.isfinite(years) & (np.isfinite(self.use[0]) & (ahead.governing_series >= 0))[:, None]
        return np.where(sayable, chance, np.nan)


@dataclass(frozen=True, eq=False)
class Stand:
    """The fleet at one date.

    Attributes
    ----------
    forecast : Forecast
        Of all engines at `as_of`.
    classes : tuple of ClassAhead
    """

    forecast: Forecast
    as_of: date
    classes: tuple[ClassAhead, ...]

    def life(self, index: int) -> Life:
        """A shell life."""
        return self.forecast.history.lives[index]

    def engine_of(self, index: int) -> EngineAt:
        """The engine a shell life belongs to."""
        return self.forecast.history.engine_of(self.life(index))

    @cached_property
    def row_of_life(self) -> dict[int, Row]:
        """Rows of the forecast table by shell life."""
        return {row.life: row for row in self.forecast.rows}

    @cached_property
    def limits_of_life(self) -> dict[int, list[Limit]]:
        """Limits of the series of every shell life."""
        found: dict[int, list[Limit]] = {}
        for one in self.forecast.history.series:
            if one.limit is not None:
                found.setdefault(one.life, []).append(one.limit)
        return found

    def years_to(self, on: date) -> float:
        """Years from as-of to a date."""
        return (on - self.as_of).days / DAYS_PER_YEAR


def take_stand(
    records: RecordSet,
    as_of: date | None = None,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
) -> Stand:
    """Forecast every engine at one date, by default the latest counter reading of the fleet.

    Parameters
    ----------
    records : RecordSet
        From `wearcast.read`.
    as_of : date, optional
        Use only rows up to this date and stand every engine there.
    settings : Settings, optional
    leave_out_faulty : bool
        Go on without the rows that cannot be used.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    if as_of is None:
        engines = build(records, None, leave_out_faulty).engines
        as_of = max(engine.as_of for engine in engines.values())
    return stand_of(forecast(records, as_of, settings, leave_out_faulty), as_of)


def stand_after(known: Forecast, leave_out_faulty: bool = False) -> Stand:
    """The stand of the records of a forecast; where its engines all stand at one date already, it is that forecast's.

    Parameters
    ----------
    known : Forecast
    leave_out_faulty : bool
        As the forecast was made.
    """
    history = known.history
    as_of = history.as_of or max(engine.as_of for engine in history.engines.values())
    at_once = all(engine.as_of == as_of for engine in history.engines.values())
    if at_once:
        return stand_of(known, as_of)
    return stand_of(carried_to(known, as_of, leave_out_faulty), as_of)


def stand_of(made: Forecast, as_of: date) -> Stand:
    """The fleet of a forecast whose engines all stand at one date."""
    classes = [_ahead(made, fit) for fit in made.fits]
    return Stand(made, as_of, tuple(one for one in classes if len(one.lives)))


def _ahead(made: Forecast, fit: PooledClass) -> ClassAhead:
    history, one, left_out = made.history, fit.one, fit.screened.left_out
    serving = np.array([history.lives[k].in_service for k in one.lives], dtype=bool)
    asked = np.flatnonzero(serving[one.readings.series_shell])
    kept = one.readings.only(~left_out)
    known = posterior(kept, fit.screened.estimate, asked)
    hours = hours_to_limit(known, QUANTILES)
    earlier = np.zeros(len(hours.shell), dtype=bool)
    if left_out.any():
        doubted = hours_to_limit(posterior(one.readings, fit.screened.estimate, asked), QUANTILES)
        p10 = QUANTILES.index(0.10)
        earlier = np.nan_to_num(doubted.hours_kh[:, p10], nan=np.inf) < np.nan_to_num(
            hours.hours_kh[:, p10], nan=np.inf
        )
        hours = _either(earlier, doubted, hours)
    lives = one.lives[hours.shell]
    use = [history.engine_of(history.lives[k]).use for k in lives]
    return ClassAhead(
        fit=fit,
        readings=kept,
        asked=asked,
        known=known,
        hours=hours,
        with_doubted=earlier,
        lives=lives,
        use=(
            np.array([one.hours_per_year for one in use]) / H_PER_KH,
            np.array([one.sd_h for one in use]) / H_PER_KH,
            np.array([one.years for one in use]),
        ),
    )


def _either(first: NDArray[np.bool_], one: HoursToLimit, other: HoursToLimit) -> HoursToLimit:
    """Shell by shell the one forecast or the other."""
    wide = first[:, None]
    return replace(
        other,
        governing_series=np.where(first, one.governing_series, other.governing_series),
        hours_kh=np.where(wide, one.hours_kh, other.hours_kh),
        curve_hours_kh=np.where(wide, one.curve_hours_kh, other.curve_hours_kh),
        curve=np.where(wide, one.curve, other.curve),
    )


def left_of_fixed_h(stand: Stand, life: int) -> float:
    """Hours left of the maker's fixed hours of a shell [h], not below 0; NaN where there are none."""
    history = stand.forecast.history
    fixed_h = fixed_hours_h(stand, life)
    age_h = history.engine_of(history.lives[life]).as_of_h - history.lives[life].fitted_h
    return float(np.maximum(fixed_h - age_h, 0.0)) if np.isfinite(fixed_h - age_h) else float("nan")


def fixed_hours_h(stand: Stand, life: int) -> float:
    """Maker's fixed hours of a shell [h], the least of its limits; NaN where there are none."""
    given = [
        limit.renew_at_h for limit in stand.limits_of_life.get(life, []) if np.isfinite(limit.renew_at_h)
    ]
    return min(given, default=float("nan"))


def chance_run_within(
    hours_kh: Floats, years: Floats, use: tuple[Floats, Floats, Floats], sd_kh: Floats
) -> Floats:
    """Chance that an engine runs given hours within given years.

    Parameters
    ----------
    hours_kh : array (k,)
        [kh]; NaN gives NaN.
    years : array (k, n)
    use : tuple of array (k,)
        Yearly use and its spread [kh], years of history behind it.
    sd_kh : array (k,)
        Uncertainty of the hours already run [kh].

    Returns
    -------
    array (k, n)
    """
    from scipy.special import ndtr

    mean, spread, history = (part[:, None] for part in use)
    sd = np.sqrt(spread**2 * (years + years**2 / history) + sd_kh[:, None] ** 2)
    short = mean * years - hours_kh[:, None]
    exact = np.where(np.isnan(short), np.nan, (short >= 0).astype(float))
    return np.where(sd > 0, ndtr(short / np.where(sd > 0, sd, 1.0)), exact)
