"""When the engines of a class stood at which hours: what a change at a date needs to know."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Calendar:
    """Hours of the engines at the dates a change of wear may have fallen on.

    Parameters
    ----------
    years : array (D,)
        Dates, ascending [years, any origin].
    engines : int array (E,)
        Labels of the engines, sorted.
    hours_kh : array (D, E)
        Total hours of every engine at every date, as counted by `shell_start_kh` [kh].
    vessel : int array (E,)
        Label of the vessel of every engine.
    recorded : bool array (D,)
        Somebody wrote down a change on that date.
    touches : bool array (D, E)
        Engines the recorded change speaks of; of no account elsewhere.
    positions : tuple of int arrays, optional
        Positions a recorded change is confined to, one a date; empty for the whole engine.
    """

    years: FloatArray
    engines: IntArray
    hours_kh: FloatArray
    vessel: IntArray
    recorded: BoolArray
    touches: BoolArray
    positions: tuple[IntArray, ...] = ()

    def __post_init__(self) -> None:
        shape = (len(self.years), len(self.engines))
        if self.hours_kh.shape != shape or self.touches.shape != shape:
            raise ValueError(f"hours_kh and touches must have the shape {shape}")
        if len(self.recorded) != shape[0] or len(self.vessel) != shape[1]:
            raise ValueError("one `recorded` a date and one `vessel` an engine are needed")

    def hours_at(self, date: int, engine: IntArray) -> FloatArray:
        """Total hours at a date of the engines with these labels, array like `engine` [kh]."""
        return np.asarray(self.hours_kh[date, np.searchsorted(self.engines, engine)])

    def local(self, date: int) -> IntArray:
        """Positions a recorded change is confined to; empty for all."""
        return self.positions[date] if self.positions else np.zeros(0, dtype=np.intp)


DATES_A_YEAR = 2
MOST_DATES = 24
BEFORE_LAST_YEARS = 0.5
"""A change later than half a year of use before the last opening leaves too little to be seen by."""


def change_dates(first_opening: float, last_opening: float) -> FloatArray:
    """Dates of unrecorded changes that are looked for, ascending [years].

    At most two a year and 24 in all, from the first opening to half a year before the last: before the first a
    quicker pace cannot be told from running-in and unknown new walls.

    Parameters
    ----------
    first_opening, last_opening : float
        Dates of the first and the last opening of the class [years].
    """
    last = last_opening - BEFORE_LAST_YEARS
    span = last - first_opening
    if span <= 0:
        return np.zeros(0)
    n = int(min(np.floor(span * DATES_A_YEAR), MOST_DATES - 1))
    return np.asarray(last - span / max(n, 1) * np.arange(n, -1, -1), dtype=float)
