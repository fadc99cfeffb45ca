"""The records as they stood the evening before a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.doubts.doubt import FAMILIES, doubt
from wearcast.errors import InputRefused, WrongUse
from wearcast.forecasting.classes import ClassKey, WearClass, engines_of, one_class, series_by_class
from wearcast.forecasting.own import tau_now_h
from wearcast.lives.build import build
from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import Place
from wearcast.records.records import RecordSet
from wearcast.settings import Settings

Floats = NDArray[np.float64]
ReadingKey = tuple[str, str, str, int]
"""Table, file, sheet and row: what a reading is known by in histories of different length."""


@dataclass(frozen=True, eq=False)
class Past:
    """What was known the evening before a day, fleet-wide.

    Attributes
    ----------
    counted, confirmed : ndarray of bool, shape (n readings,)
        Readings that no quick doubt takes out, and those measured again and found right.
    keys : tuple of ReadingKey
        Of the readings of the history.
    class_series : mapping
        Index into `History.series` of the trends of every class.
    series_of : mapping
        Index into `History.series` by place, quantity, number of the shell, and point.
    began_h, last_tau_h : ndarray, shape (lives,)
        Total hours from which the ages of each life count, and the age at its last reading (0 without one) [h].
    """

    history: History
    counted: NDArray[np.bool_]
    confirmed: NDArray[np.bool_]
    keys: tuple[ReadingKey, ...]
    class_series: Mapping[ClassKey, NDArray[np.intp]]
    series_of: Mapping[tuple[Place, str, int, str], int]
    began_h: Floats
    last_tau_h: Floats
    settings: Settings

    def wear_class(self, key: ClassKey, change_grid: Floats | None = None) -> WearClass:
        """One of the classes as arrays; most are never asked for.

        Parameters
        ----------
        change_grid : ndarray, optional
            Dates at which its wear is taken to have changed; from its readings by default [years].
        """
        asked = self.settings
        return one_class(
            self.history,
            key,
            self.class_series[key],
            self.counted,
            self._now_h,
            asked.priors,
            asked.follow_gauges,
            change_grid,
        )

    def engines(self, one: WearClass) -> list[EngineKey]:
        """The engines of a class in the order of their labels."""
        places = [self.history.lives[k].place for k in one.lives]
        return engines_of([(place.vessel, place.engine) for place in places])

    @cached_property
    def _now_h(self) -> Floats:
        return tau_now_h(self.history)

    @cached_property
    def counted_after_all_doubts(self) -> NDArray[np.bool_]:
        """Readings that no doubt of any family takes out, shape (n readings,)."""
        return doubt(self.history, [family for family in FAMILIES if family.takes_out]).counted


@dataclass
class Pasts:
    """The pasts of one record set; days between which nothing was written share one."""

    records: RecordSet
    settings: Settings
    _made: dict[tuple[int, int], Past | None] = field(default_factory=dict)

    def before(self, day: date) -> Past | None:
        """What was known the evening before a day; None where nothing had been read."""
        dates = (self.records.readings["date"], self.records.events["date"])
        readings, events = (int((column < pd.Timestamp(day)).sum()) for column in dates)
        rows = (readings, events)
        if rows not in self._made:
            self._made[rows] = past(self.records, day, self.settings)
        return self._made[rows]


def past(records: RecordSet, day: date, settings: Settings) -> Past | None:
    """Rows dated before a day, read as if nothing had come after; None where nothing was read before.

    Events of the day itself belong to the future: what was found at an opening is of the shell that was in
    service until then.
    """
    try:
        history = build(records, day - timedelta(days=1), leave_out_faulty=True)
    except (WrongUse, InputRefused):
        return None  # nothing is left once the rows that cannot be used are gone
    counted = np.ones(len(history.readings), dtype=bool)
    for family in FAMILIES:
        if family.quick:  # the others are asked once a calendar year
            counted[list(family.find(history, counted.copy()).not_counted)] = False
    readings = history.readings
    series_of = {}
    for k, one in enumerate(history.series):
        life = history.lives[one.life]
        if life.in_service:
            series_of[(life.place, life.quantity, life.shell_no, one.point)] = k
    began_h, last_tau_h = _ages(history)
    return Past(
        history=history,
        counted=counted,
        confirmed=readings["confirmed"].eq(True).to_numpy(dtype=bool),
        keys=tuple(
            zip(
                readings["table"].tolist(),
                readings["file"].tolist(),
                readings["sheet"].tolist(),
                readings["row"].astype(int).tolist(),
                strict=True,
            )
        ),
        class_series=series_by_class(history),
        series_of=series_of,
        began_h=began_h,
        last_tau_h=last_tau_h,
        settings=settings,
    )


def _ages(history: History) -> tuple[Floats, Floats]:
    """Where the ages of every life begin, and its age at the last reading [h]."""
    readings = history.readings
    life = readings["life"].to_numpy(dtype=np.intp)
    total_h = readings["total_h"].to_numpy(dtype=np.float64)
    first_h = np.full(len(history.lives), np.inf)
    np.fmin.at(first_h, life, total_h)
    fitted_h = np.array([one.fitted_h for one in history.lives])
    began_h = np.where(np.isfinite(fitted_h), fitted_h, np.where(np.isfinite(first_h), first_h, np.nan))
    last_tau_h = np.zeros(len(history.lives))
    tau_h = readings["tau_h"].to_numpy(dtype=np.float64)
    np.maximum.at(last_tau_h, life, np.nan_to_num(tau_h))
    return began_h, last_tau_h
