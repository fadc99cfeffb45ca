"""Changes of wear found in some readings of a class, for other readings of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearcast.wear.pooled.clock import STEADY, Clock, Kind, clocked
from wearcast.wear.pooled.clock_scores import series_rates
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings


def carried_to(estimate: Estimate, before: ClassReadings, now: ClassReadings) -> Estimate | None:
    """The estimate with its changes as the readings of now number dates and series.

    Dates are found again by their day, depths are passed where the readings of now say. None where a date or the
    engines are numbered otherwise: the class must then be estimated anew.

    Parameters
    ----------
    estimate : Estimate
    before : ClassReadings
        Those it was estimated from.
    now : ClassReadings
        Others of the same class that call for the same terms.
    """
    clocks = []
    for clock in estimate.clocks:
        date = _same_date(clock.part.date, before, now)
        until = _same_date(clock.part.until, before, now)
        if date is None or until is None:
            return None
        moved = replace(clock, part=replace(clock.part, date=date, until=until))
        clocks.append(_at_depth(moved, estimate, now) if clock.part.kind is Kind.DEPTH else moved)
    return replace(estimate, clocks=tuple(clocks))


def _same_date(date: int, before: ClassReadings, now: ClassReadings) -> int | None:
    """The number of a date in another calendar, -1 for none; None where it is not in it."""
    if date < 0:
        return -1
    old, new = before.calendar, now.calendar
    if old is None or new is None:
        return None
    if not (np.array_equal(old.engines, new.engines) and np.array_equal(old.vessel, new.vessel)):
        return None
    same_day = np.isclose(new.years, old.years[date], rtol=0.0, atol=1e-9)
    found = np.flatnonzero(same_day & (new.recorded == old.recorded[date]))
    return int(found[0]) if len(found) else None


def _at_depth(clock: Clock, estimate: Estimate, now: ClassReadings) -> Clock:
    found = STEADY
    for _ in range(2):
        found = replace(clock, line=series_rates(clocked(now, found)[0], estimate.terms, estimate.sigma))
    return found
