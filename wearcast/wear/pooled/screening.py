"""Readings and openings that the rest of their class does not bear out, the worst first.

Three things can be wrong with what was written at an opening: one reading, the gauge (all positions moved
together), or the end it was counted from. Each leaves traces of the other two. So in each round only the
explanation that would gain most likelihood is taken, its readings are left out, and all is judged anew.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray
from wearcast.wear.pooled.clock_search import weigh_changes
from wearcast.wear.pooled.estimation import estimate, mode_only
from wearcast.wear.pooled.openings import OpeningErrors, end_swaps, mirrored_wear, opening_errors
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.residuals import left_out_residuals
from wearcast.wear.priors import Priors


@dataclass(frozen=True)
class Screens:
    """From where on something is doubted.

    Attributes
    ----------
    reading : float
        Size of the leave-one-out standardised residual.
    share : float
        Largest share of the class that may be left out reading by reading; one always may.
    opening : float
        Size of an opening's common error by its own standard deviation and that of ordinary ones.
    opening_positions : int
        Positions read before a common error is judged.
    swap, swap_left_out : float
        Gain in log-likelihood of an opening written from the other end from which it is asked about, and
        from which it is left out until settled.
    swap_positions : int
        Positions read before that is judged.
    """

    reading: float = 4.0
    share: float = 0.05
    opening: float = 3.5
    opening_positions: int = 3
    swap: float = 4.0
    swap_left_out: float = 8.0
    swap_positions: int = 4


@dataclass(frozen=True)
class DoubtedReading:
    """One reading the rest does not bear out: its row, residual score and expected wear [µm]."""

    row: int
    score: float
    expected_um: float


@dataclass(frozen=True)
class DoubtedGauge:
    """One opening whose positions moved together by `error_um` (flat prior), and its score."""

    opening: int
    error_um: float
    score: float
    positions: int


@dataclass(frozen=True)
class DoubtedEnd:
    """One opening that fits better written from the other end, the log-likelihood gained, and whether it counts."""

    opening: int
    gain: float
    left_out: bool


@dataclass(frozen=True)
class Screened:
    """What is doubted in a class, and what remains.

    Attributes
    ----------
    left_out : bool array (n,)
        Readings that do not count until settled.
    disagree : bool
        More readings would have to go than the largest share allows; none beyond it was left out.
    estimate : Estimate
        Made without the readings left out.
    """

    left_out: BoolArray
    readings: tuple[DoubtedReading, ...]
    gauges: tuple[DoubtedGauge, ...]
    ends: tuple[DoubtedEnd, ...]
    disagree: bool
    estimate: Estimate


def screen(
    readings: ClassReadings,
    priors: Priors,
    screens: Screens | None = None,
    confirmed: BoolArray | None = None,
    seed: int = 0,
    changes: bool = False,
) -> Screened:
    """Leave out the worst explanation, estimate again, repeat while one is worse than allowed.

    Parameters
    ----------
    readings : ClassReadings
        n readings.
    priors : Priors
    screens : Screens, optional
    confirmed : bool array (n,), optional
        Readings measured again and found right: never left out, and no evidence against their opening.
    seed : int
        Of the subset of engines in a big class.
    changes : bool
        Look for changes of the wear as well and average over them.
    """
    limits = screens or Screens()
    free = np.ones(readings.n_readings, dtype=bool) if confirmed is None else ~confirmed
    kept = np.ones(readings.n_readings, dtype=bool)
    most = math.ceil(limits.share * readings.n_readings)
    found_readings: list[DoubtedReading] = []
    found_gauges: list[DoubtedGauge] = []
    found_ends: list[DoubtedEnd] = []
    disagree = False
    mode = mode_only(readings, priors, seed=seed)
    while kept.any():
        look = _Look(readings, kept, free, priors, mode, limits)
        one, gauge, ends = look.worst_reading(), look.worst_gauge(), look.ends()
        end = max((end for end in ends if end.left_out), key=lambda end: end.gain, default=None)
        strengths = [0.0 if one is None else one.score**2, 0.0 if gauge is None else gauge.score**2]
        strengths.append(0.0 if end is None else 2.0 * end.gain)
        worst = int(np.argmax(strengths))
        if strengths[worst] == 0.0 or (worst == 0 and len(found_readings) >= most):
            disagree = strengths[worst] > 0.0
            found_ends += [asked for asked in ends if not asked.left_out]
            break
        if worst == 0 and one is not None:
            found_readings.append(one)
            kept[one.row] = False
        elif worst == 1 and gauge is not None:
            found_gauges.append(gauge)
            kept &= (readings.opening != gauge.opening) | ~free
        elif end is not None:
            found_ends.append(end)
            kept &= (readings.opening != end.opening) | ~look.mirrored
        mode = mode_only(readings.only(kept), priors, mode, seed)
    final = estimate(readings.only(kept), priors, seed=seed, near=mode)
    if changes:
        final = weigh_changes(readings.only(kept), priors, final, seed)
    return Screened(
        ~kept,
        tuple(found_readings),
        tuple(found_gauges),
        tuple(found_ends),
        disagree,
        final,
    )


@dataclass(frozen=True)
class _Look:
    """One round: what could be wrong, given the readings still kept."""

    readings: ClassReadings
    kept: BoolArray
    free: BoolArray
    priors: Priors
    mode: Estimate
    limits: Screens

    @cached_property
    def part(self) -> ClassReadings:
        """The readings kept."""
        return self.readings.only(self.kept)

    @cached_property
    def scores(self) -> tuple[FloatArray, FloatArray]:
        """Leave-one-out residuals [µm] and scores of the readings kept."""
        return left_out_residuals(self.part, self.mode)

    @cached_property
    def mirrored(self) -> BoolArray:
        """Readings (n,) that have a counterpart at the other end, both of them still open to doubt."""
        swapped = mirrored_wear(self.readings.only(self.kept & self.free))
        found = np.zeros(self.readings.n_readings, dtype=bool)
        found[np.flatnonzero(self.kept & self.free)[np.isfinite(swapped)]] = True
        return found & (self.readings.opening >= 0)

    def worst_reading(self) -> DoubtedReading | None:
        """The reading furthest off, if beyond the screen."""
        residual_um, score = self.scores
        rows = np.flatnonzero(self.kept)
        size: FloatArray = np.where(self.free[rows], np.abs(score), 0.0)
        at = int(size.argmax())
        if size[at] <= self.limits.reading:
            return None
        row = int(rows[at])
        return DoubtedReading(row, float(score[at]), float(self.readings.z_um[row] - residual_um[at]))

    def worst_gauge(self) -> DoubtedGauge | None:
        """The opening with the largest common error, if it stands without its worst reading, too."""
        free = self.free[self.kept]
        judged = self._gauge_errors(np.ones(len(free), dtype=bool), self.limits.opening_positions)
        for at in np.argsort(-np.abs(judged.score)).tolist():
            opening = int(judged.opening[at])
            if not judged.doubted[at] or not (free & (self.part.opening == opening)).any():
                continue
            inside = self.part.opening == opening
            if not free[inside].all() and self._positions(inside & free) < self.limits.opening_positions:
                continue
            worst = int(np.where(inside, np.abs(self.scores[1]), -1.0).argmax())
            without = self._gauge_errors(
                np.arange(len(free)) != worst, max(2, self.limits.opening_positions - 1)
            )
            stands = without.doubted[without.opening == opening]
            if stands.any():
                return DoubtedGauge(
                    opening, float(judged.error_um[at]), float(judged.score[at]), int(judged.positions[at])
                )
        return None

    def _gauge_errors(self, used: BoolArray, positions: int) -> OpeningErrors:
        return opening_errors(self.part.only(used), self.priors, self.mode, self.limits.opening, positions)

    def _positions(self, rows: BoolArray) -> int:
        return len(np.unique(self.part.shell_position[self.part.reading_shell[rows]]))

    def ends(self) -> tuple[DoubtedEnd, ...]:
        """Openings that fit better written from the other end."""
        swapped = np.full(self.readings.n_readings, np.nan)
        open_to_doubt = np.flatnonzero(self.kept & self.free)
        swapped[open_to_doubt] = mirrored_wear(self.readings.only(self.kept & self.free))
        opening, gain = end_swaps(self.part, self.mode, swapped[self.kept])
        place = self.readings.shell_position[self.readings.reading_shell]
        pairs = np.unique(np.stack([self.readings.opening[self.mirrored], place[self.mirrored]]), axis=1)
        read = np.bincount(np.searchsorted(opening, pairs[0]), minlength=len(opening))
        found = np.flatnonzero((read >= self.limits.swap_positions) & (gain > self.limits.swap))
        return tuple(
            DoubtedEnd(int(opening[k]), float(gain[k]), bool(gain[k] > self.limits.swap_left_out))
            for k in found.tolist()
        )
