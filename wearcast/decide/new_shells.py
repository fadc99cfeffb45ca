"""Shells not yet fitted: how long one put in today at the same place would last, told by place and sisters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearcast.decide.stand import ClassAhead
from wearcast.forecasting.outlook import QUANTILES
from wearcast.wear.crossing import HoursToLimit, hours_to_limit
from wearcast.wear.pooled import ClassReadings, posterior


def hours_of_new_shells(ahead: ClassAhead) -> HoursToLimit:
    """Hours to the limit of a new shell of the same size at the place of every shell in service.

    Returns
    -------
    HoursToLimit
        In the order of `ahead.lives`. A new shell on a bad seat inherits what is known of the place.
    """
    wider, asked = with_new_shells(ahead.readings, ahead.asked)
    return hours_to_limit(posterior(wider, ahead.fit.screened.estimate, asked), QUANTILES)


def with_new_shells(readings: ClassReadings, series: np.ndarray) -> tuple[ClassReadings, np.ndarray]:
    """The class with one more shell, new and unread, at the place of every shell of the given series.

    Returns
    -------
    readings : ClassReadings
    series : int array
        The series of the new shells, in the order of those given.
    """
    shells = np.unique(readings.series_shell[series])
    number = np.full(readings.n_shells, -1, dtype=np.intp)
    number[shells] = readings.n_shells + np.arange(len(shells))

    def shell(name: str, value: np.ndarray) -> np.ndarray:
        return np.concatenate([getattr(readings, name), value])

    def point(name: str) -> np.ndarray:
        value = getattr(readings, name)
        return np.concatenate([value, value[series]])

    spread = readings.shell_delta_sd_um[shells]
    wider = replace(
        readings,
        series_shell=np.concatenate([readings.series_shell, number[readings.series_shell[series]]]),
        series_group=point("series_group"),
        series_limit_um=point("series_limit_um"),
        series_point=point("series_point"),
        series_overlay_um=point("series_overlay_um"),
        shell_engine=shell("shell_engine", readings.shell_engine[shells]),
        shell_position=shell("shell_position", readings.shell_position[shells]),
        shell_fitting_known=shell("shell_fitting_known", np.ones(len(shells), dtype=bool)),
        shell_tau_now_kh=shell("shell_tau_now_kh", np.zeros(len(shells))),
        shell_delta_sd_um=shell("shell_delta_sd_um", spread),
        shell_tau_now_sd_kh=shell("shell_tau_now_sd_kh", np.zeros(len(shells))),
    )
    return wider, readings.n_series + np.arange(len(series))
