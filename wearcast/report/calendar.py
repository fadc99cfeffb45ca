"""When an engine stood, or will stand, at given hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from weakref import WeakKeyDictionary

import numpy as np

from wearcast.report.gather import EngineRecords
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import month


@dataclass(frozen=True)
class Calendar:
    """When an engine stood, or will stand, at given hours.

    Attributes
    ----------
    hours, days : tuple of float
        Total running hours [h] that were read, rising, and their days as ordinals.
    hours_per_year : float
        Yearly use from the last of them on [h]; NaN where not known.
    """

    hours: tuple[float, ...]
    days: tuple[float, ...]
    hours_per_year: float

    def month_at(self, hours: float) -> str:
        """Year and month; empty where it cannot be told."""
        if not self.hours or hours < self.hours[0]:
            return ""
        if hours <= self.hours[-1]:
            return month(date.fromordinal(int(np.interp(hours, self.hours, self.days))))
        if not self.hours_per_year > 0:
            return ""
        ahead = timedelta(days=(hours - self.hours[-1]) / self.hours_per_year * DAYS_PER_YEAR)
        return month(date.fromordinal(int(self.days[-1])) + ahead)

    def hours_on(self, day: date) -> float:
        """Total running hours on a day up to as-of [h]; NaN before the first known."""
        at = day.toordinal()
        known = bool(self.days) and self.days[0] <= at <= self.days[-1]
        return float(np.interp(at, self.days, self.hours)) if known else float("nan")


_known: WeakKeyDictionary[EngineRecords, Calendar] = WeakKeyDictionary()


def calendar_of(records: EngineRecords) -> Calendar:
    """From the counter readings of an engine, its as-of moment and its yearly use; worked out once."""
    if records not in _known:
        _known[records] = _calendar_of(records)
    return _known[records]


def _calendar_of(records: EngineRecords) -> Calendar:
    engine = records.engine
    read = {
        (float(reading.row.total_h), reading.row.date.toordinal())
        for readings in records.readings.values()
        for reading in readings
        if np.isfinite(reading.row.total_h) and reading.row.date == reading.row.date
    }
    read |= {(e.total_h, e.on.toordinal()) for e in records.events if e.on and np.isfinite(e.total_h)}
    known = sorted(one for one in read if one[0] < engine.as_of_h)
    known.append((engine.as_of_h, engine.as_of.toordinal()))
    return Calendar(
        tuple(h for h, _ in known),
        tuple(float(day) for _, day in known),
        engine.use.hours_per_year if engine.use.known else float("nan"),
    )
