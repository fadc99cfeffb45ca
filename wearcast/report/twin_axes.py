"""What stands under a chart at each stroke of its hours axis: total hours, hours since fitted, and the month."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np

from wearcast.lives.shells import Life
from wearcast.quantities import QUANTITIES
from wearcast.report.calendar import calendar_of
from wearcast.report.gather import EngineRecords
from wearcast.words import whole

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
    fine: bool = False


def ticks_of(
    records: EngineRecords, life: Life, axis: tuple[float, float], view: tuple[float, float] | None = None
) -> tuple[Tick, ...]:
    """Strokes of the hours axis at round hours, for a chart whose foremost life is `life`.

    With a `view` they are those of the hours in view, carried on over the axis, with fine ones between for who looks
    closer.
    """
    calendar = calendar_of(records)
    ages = bool(QUANTITIES[life.quantity].restarts_at) and np.isfinite(life.fitted_h)
    until_h = np.inf if life.in_service else life.ended_h
    return tuple(
        Tick(
            h,
            whole(h - life.fitted_h) if ages and life.fitted_h <= h <= until_h else "",
            calendar.month_at(h),
            fine,
        )
        for h, fine in ([(h, False) for h in round_hours(axis)] if view is None else _carried_on(axis, view))
    )


FINER, COARSER = 2, 5
"""Fine strokes to one stroke in view, and strokes to one that stands out of view."""


def _carried_on(axis: tuple[float, float], view: tuple[float, float]) -> list[tuple[float, bool]]:
    strokes = round_hours(view, 2 * MOST_TICKS)  # every other on a telephone
    if len(strokes) < 2:
        return [(h, False) for h in strokes]
    step = strokes[1] - strokes[0]
    every = range(ceil(axis[0] / step), floor(axis[1] / step) + 1)
    coarse = [k * step for k in every if not k % COARSER or view[0] <= k * step <= view[1]]
    fine = step / FINER
    between = [k * fine for k in range(ceil(view[0] / fine), floor(view[1] / fine) + 1) if k % FINER]
    free = (view[0], view[0] + LEFT_FREE * (view[1] - view[0]))
    found = [(h, False) for h in coarse] + [(h, True) for h in between]
    return [one for one in found if not free[0] <= one[0] < free[1]]


def round_hours(axis: tuple[float, float], most: int = MOST_TICKS) -> tuple[float, ...]:
    """Round hours inside an axis, four at most by default, none so far left that its text runs into the names.

    >>> round_hours((-500.0, 43_000.0)), round_hours((69_000.0, 91_000.0))
    ((10000.0, 20000.0, 30000.0, 40000.0), (75000.0, 80000.0, 85000.0, 90000.0))
    >>> round_hours((5_000.0, 5_000.0))
    ()
    """
    low, high = axis[0] + LEFT_FREE * (axis[1] - axis[0]), axis[1]
    if not high > low:
        return ()
    rough = (high - low) / most
    base = 10.0 ** floor(log10(rough))
    for factor in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0):
        step = factor * base
        first, last = ceil(low / step), floor(high / step)
        if last - first + 1 <= most:
            return tuple(k * step + 0.0 for k in range(first, last + 1))
    return ()
