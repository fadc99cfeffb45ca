"""Each engine as a whole against its sisters, over all places that can be compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.compare_rows import CompareRow
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import engine_key

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Whole:
    """One engine: how many times as fast as its sisters it wears, with the 90 % range, over how many places."""

    key: EngineKey
    times: float
    lo90: float
    hi90: float
    places: int

    @property
    def differs(self) -> bool:
        """Whether the range leaves out that it wears as they do."""
        return not self.lo90 <= 1.0 <= self.hi90


def wholes(classes: Sequence[tuple[Sequence[CompareRow], Floats]]) -> tuple[Whole, ...]:
    """Every engine that has places to be compared.

    Parameters
    ----------
    classes : sequence of (rows, rates)
        The rows of a class and joint draws of their rates, array (N, k) [µm/kh].

    Notes
    -----
    The sum of the rates of its places against the sum of what its sisters wear there in the mean, draw by draw; the
    rates of a class are first divided by their mean, so that a class that wears fast counts no more than another.
    """
    n_draws = min((len(rates) for _, rates in classes), default=0)
    mine: dict[EngineKey, list[Floats]] = {}
    theirs: dict[EngineKey, list[Floats]] = {}
    for rows, rates in classes:
        scaled = rates[:n_draws] / rates.mean()
        for k, row in enumerate(rows):
            beside = [
                j
                for j, other in enumerate(rows)
                if other.position == row.position
                and engine_key(other) != engine_key(row)
                and (other.shell_size, other.duty) == (row.shell_size, row.duty)
                and not other.not_comparable
            ]
            if beside and not row.not_comparable:
                mine.setdefault(engine_key(row), []).append(scaled[:, k])
                theirs.setdefault(engine_key(row), []).append(scaled[:, beside].mean(axis=1))
    found = []
    for key, own in mine.items():
        times = np.sum(own, axis=0) / np.sum(theirs[key], axis=0)
        lo, hi = np.quantile(times, [0.05, 0.95])
        found.append(Whole(key, float(np.median(times)), float(lo), float(hi), len(own)))
    return tuple(found)
