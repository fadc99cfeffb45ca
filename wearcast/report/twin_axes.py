"""What stands under a chart at each stroke of its hours axis: total hours, hours since fitted, and the month."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, log10

import numpy as np

from wearcast.lives.shells import Life
from wearcast.quantities import QUANTITIES
from wearcast.report.gather import EngineRecords
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import month, whole

MOST_TICKS = 4
"""So many fit under a chart on a telephone."""


LEFT_FREE = 0.07
"""Share of the axis at its left that has no stroke (layout)."""


@dataclass(frozen=True)
class Tick:
    """One stroke: total running hours [h], and the same moment in hours since fitted and as a month.

    Both are texts, empty where they cannot be said: before the fitting, or where no date is known.
    """

    hours: float
    shell_h: str
    month: str


def ticks_of(records: EngineRecords, life: Life, axis: tuple[float, float]) -> tuple[Tick, ...]:
    """Strokes of the hours axis at round hours, for a chart whose foremost life is `life`."""
    calendar = calendar_of(records)
    ages = bool(QUANTITIES[life.quantity].restarts_at) and np.isfinite(life.fitted_h)
    until_h = np.inf if life.in_service else life.ended_h
    return tuple(
        Tick(
            h,
            whole(h - life.fitted_h) if ages and life.fitted_h <= h <= until_h else "",
            calendar.month_at(h),
        )
        for h in round_hours(axis)
    )


def round_hours(axis: tuple[float, float]) -> tuple[float, ...]:
    """Round hours inside an axis, four at most, none so far left that its text runs into the names.

    >>> round_hours((-500.0, 43_000.0)), round_hours((69_000.0, 91_000.0))
    ((10000.0, 20000.0, 30000.0, 40000.0), (75000.0, 80000.0, 85000.0, 90000.0))
    """
    low, high = axis[0] + LEFT_FREE * (axis[1] - axis[0]), axis[1]
    rough = (high - low) / MOST_TICKS
    base = 10.0 ** floor(log10(rough))
    for factor in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0):
        step = factor * base
        first, last = ceil(low / step), floor(high / step)
        if last - first + 1 <= MOST_TICKS:
            return tuple(k * step + 0.0 for k in range(first, last + 1))
    return ()


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


def calendar_of(records: EngineRecords) -> Calendar:
    """From the counter readings of an engine, its as-of moment and its yearly use."""
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
