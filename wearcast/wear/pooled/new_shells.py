"""Shells not yet fitted: told by their place and their sisters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearcast.wear.pooled.readings import ClassReadings


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
        shell_start_kh=shell("shell_start_kh", (readings.shell_start_kh + readings.shell_tau_now_kh)[shells]),
    )
    return wider, readings.n_series + np.arange(len(series))
