"""Classes fitted, and carried to where their engines stand: nothing is fitted again for another date."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wearcast.forecasting.classes import WearClass
from wearcast.forecasting.own import tau_now_h
from wearcast.forecasting.solved import ClassForecast
from wearcast.lives.history import History
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.pooled.screening import Screened, screen

NEVER = 10**9
"""More positions than any opening has: banks of bearings are not looked at for a swapped end."""


def screened_class(one: WearClass, settings: Settings, confirmed: NDArray[np.bool_]) -> Screened:
    """Fit the pooled model of a class, leaving out what the rest does not bear out.

    Parameters
    ----------
    confirmed : ndarray of bool, shape (n readings of the history,)
        Readings measured again and found right: never left out.
    """
    screens = settings.thresholds
    if not one.one_row:
        screens = replace(screens, end_swap_positions=NEVER)
    return screen(
        one.readings, settings.priors, screens, confirmed[one.rows], changes=settings.follow_changes
    )


def solved(history: History, one: WearClass, screened: Screened) -> ClassForecast:
    """The forecast of the shells in service of a class that is fitted."""
    serving = np.array([history.lives[k].in_service for k in one.lives], dtype=bool)
    series = np.flatnonzero(serving[one.readings.series_shell])
    lives = one.lives[np.unique(one.readings.series_shell[series])]
    use = [history.engine_of(history.lives[k]).use for k in lives]
    told = (
        np.array([one.hours_per_year for one in use]) / H_PER_KH,
        np.array([one.sd_h for one in use]) / H_PER_KH,
        np.array([one.years for one in use]),
    )
    at_counter = _standing(one, history.at_counter)
    return carried(ClassForecast(at_counter, screened, series, told, np.zeros(len(lives))), history)


def carried(known: ClassForecast, history: History) -> ClassForecast:
    """The same class of a history that differs only in where its engines stand."""
    base = known.at_counter
    engines = [history.engine_of(history.lives[k]) for k in base.lives]
    years = np.array([(one.as_of - one.last_counter_on).days / DAYS_PER_YEAR for one in engines])
    if not years.any():
        return base
    return replace(base, one=_standing(base.one, history), carried_years=years, counter=base)


def _standing(one: WearClass, history: History) -> WearClass:
    """The class with its shells at the ages of a history."""
    now_h = tau_now_h(history)[one.lives]
    sd_h = np.array([history.engine_of(history.lives[k]).as_of_sd_h for k in one.lives])
    readings = replace(one.readings, shell_tau_now_kh=now_h / H_PER_KH, shell_tau_now_sd_kh=sd_h / H_PER_KH)
    return replace(one, readings=readings)
