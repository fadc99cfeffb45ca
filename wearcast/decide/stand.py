"""Where the whole fleet stands when a decision is made: every engine carried forward to one date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast, forecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Life
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Stand:
    """The fleet at one date.

    Attributes
    ----------
    forecast : Forecast
        Of all engines at `as_of`.
    classes : tuple of ClassForecast
        Those with a shell in service.
    """

    forecast: Forecast
    as_of: date
    classes: tuple[ClassForecast, ...]

    def life(self, index: int) -> Life:
        """A shell life."""
        return self.forecast.history.lives[index]

    def engine_of(self, index: int) -> EngineAt:
        """The engine a shell life belongs to."""
        return self.forecast.history.engine_of(self.life(index))

    @cached_property
    def row_of_life(self) -> dict[int, ShellForecast]:
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

    def windows_to(self, key: EngineKey, end: date) -> tuple[Window, ...]:
        """Windows of an engine before a date: those listed, and those they go on with."""
        return self.forecast.going_on[key].until(self.forecast.windows[key], self.as_of, end)

    def years_to(self, on: date) -> float:
        """Years from as-of to a date."""
        return (on - self.as_of).days / DAYS_PER_YEAR


def take_stand(
    records: RecordSet,
    as_of: date | None = None,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
) -> Stand:
    """Forecast every engine at one date, by default the day of the run.

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
    return stand_of(forecast(records, as_of, settings, leave_out_faulty))


def stand_of(made: Forecast) -> Stand:
    """The stand of the records of a forecast: its engines carried to the day of the run, or to the date asked for."""
    at = made.at(made.decides_at)
    return Stand(at, made.decides_at, tuple(one for one in at.classes if len(one.lives)))


def left_of_fixed_h(stand: Stand, life: int) -> float:
    """Hours left of the maker's fixed hours of a shell by as-of [h], not below 0; NaN where there are none."""
    return _left_h(stand, life, stand.engine_of(life).as_of_h)


def left_at_counter_h(stand: Stand, life: int) -> float:
    """The same at the last counter reading, from which chances are reckoned [h]."""
    return _left_h(stand, life, stand.engine_of(life).last_counter_h)


def _left_h(stand: Stand, life: int, at_h: float) -> float:
    left_h = fixed_hours_h(stand, life) - (at_h - stand.life(life).fitted_h)
    return max(left_h, 0.0) if np.isfinite(left_h) else float("nan")


def fixed_hours_h(stand: Stand, life: int) -> float:
    """Maker's fixed hours of a shell [h], the least of its limits; NaN where there are none."""
    given = [
        limit.renew_at_h for limit in stand.limits_of_life.get(life, []) if np.isfinite(limit.renew_at_h)
    ]
    return min(given, default=float("nan"))


def chance_run_within(hours_kh: Floats, years: Floats, use: tuple[Floats, Floats, Floats]) -> Floats:
    """Chance that an engine runs given hours within given years.

    Parameters
    ----------
    hours_kh : array (k,)
        [kh]; NaN gives NaN.
    years : array (k, n)
    use : tuple of array (k,)
        Yearly use and its spread [kh], years of history behind it.

    Returns
    -------
    array (k, n)
    """
    from scipy.special import ndtr

    mean, spread, history = (part[:, None] for part in use)
    sd = spread * np.sqrt(years + years**2 / history)
    short = mean * years - hours_kh[:, None]
    exact = np.where(np.isnan(short), np.nan, (short >= 0).astype(float))
    return np.where(sd > 0, ndtr(short / np.where(sd > 0, sd, 1.0)), exact)
