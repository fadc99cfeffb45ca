"""Changes of wear found in some readings of a class, for other readings of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearcast.wear.pooled.arrays import IntArray
from wearcast.wear.pooled.calendar import Calendar
from wearcast.wear.pooled.clock import Kind, Part, Scope
from wearcast.wear.pooled.clock_search import lined
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings


def carried_to(
    estimate: Estimate, before: Calendar | None, now: ClassReadings, engines: IntArray
) -> Estimate | None:
    """The estimate with its changes as the readings of now number dates, engines and series.

    Dates are found again by their day, depths are passed where the readings of now say. None where a date is not
    in the calendar of now: the class must then be estimated anew.

    Parameters
    ----------
    estimate : Estimate
    before : Calendar or None
        Of the readings it was estimated from.
    now : ClassReadings
        Others of the same class that call for the same terms.
    engines : int array (E,)
        Labels now of the engines of `before`.
    """
    clocks = []
    for number, clock in enumerate(estimate.clocks):
        part = _carried(clock.part, before, now.calendar, engines)
        if part is None:
            return None
        moved = replace(clock, part=part)
        if part.kind is Kind.DEPTH:
            of = np.flatnonzero(estimate.set_clock == number)
            heaviest = of[int(estimate.weights[of].argmax())]
            moved = lined(moved, now, estimate.terms, estimate.sigma_points[heaviest])
        clocks.append(moved)
    return replace(estimate, clocks=tuple(clocks))


def _carried(part: Part, before: Calendar | None, now: Calendar | None, engines: IntArray) -> Part | None:
    """The same part in another calendar; None where its dates are not in it."""
    if part.date < 0:
        return part
    if before is None or now is None:
        return None
    on, until = (_same_date(date, before, now) for date in (part.date, part.until))
    if on is None or until is None:
        return None
    label = part.label
    if part.scope is Scope.ENGINE:
        label = int(engines[np.searchsorted(before.engines, label)])
    elif part.scope is Scope.VESSEL:
        one = engines[np.flatnonzero(before.vessel == label)[0]]
        label = int(now.vessel[np.searchsorted(now.engines, one)])
    return replace(part, label=label, date=on, until=until)


def _same_date(date: int, before: Calendar, now: Calendar) -> int | None:
    """The number of a date in another calendar, -1 for none; None where it is not in it."""
    if date < 0:
        return -1
    same_day = np.isclose(now.years, before.years[date], rtol=0.0, atol=1e-9)
    found = np.flatnonzero(same_day & (now.recorded == before.recorded[date]))
    return int(found[0]) if len(found) else None
