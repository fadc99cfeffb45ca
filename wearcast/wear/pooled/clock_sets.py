"""Sets of standard deviations with the readings in the hours of their clock."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wearcast.wear.pooled.clock import clocked
from wearcast.wear.pooled.passes import slices_of_sets
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings


def under_clocks(readings: ClassReadings, estimate: Estimate) -> Iterator[tuple[ClassReadings, slice]]:
    """The sets of an estimate in order, some at a time, with the readings in effective hours.

    Sets of one clock follow one another.
    """
    for number in np.unique(estimate.set_clock):
        sets = np.flatnonzero(estimate.set_clock == number)
        worn, _ = clocked(readings, estimate.clocks[number])
        for at in slices_of_sets(readings, len(sets)):
            yield worn, slice(sets[0] + at.start, sets[0] + min(at.stop, len(sets)))
