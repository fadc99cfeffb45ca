"""Readings and openings that the rest of their class does not bear out, the worst first.

A shell may have begun to fail, and three things can be wrong with what was written at an opening: one reading, the
gauge (all positions moved together), or the end it was counted from. Each leaves traces of the others. So in each
round only the explanation that would gain most likelihood is taken, its readings are left out, and all is judged
anew. A shell that began to fail is asked about first: what its last opening says is no slip until that is settled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray
from wearcast.wear.pooled.clock import STEADY, Clock, clocked
from wearcast.wear.pooled.clock_search import shared_clock, weigh_changes
from wearcast.wear.pooled.estimation import estimate, mode_only
from wearcast.wear.pooled.last_intervals import LastIntervals, last_intervals, last_readings
from wearcast.wear.pooled.openings import OpeningErrors, end_swaps, mirrored_wear, opening_errors
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.rate_scale import at_scale, rate_scale
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.residuals import left_out_residuals
from wearcast.wear.priors import Priors
from wearcast.wear.thresholds import Thresholds

_JUDGED_AGAIN = 2  # shells at most judged by variances estimated without them; judgement
_JUDGED_AGAIN_FROM = 2.4  # their scores; judgement


@dataclass(frozen=True)
class DoubtedShell:
    """One shell in service whose last interval stands out: the readings, its score, and wear beyond expectation [µm].

    Below 0 it has slowed; then it is left out of the fit only where the screen of readings would do so, too.
    """

    shell: int
    rows: tuple[int, ...]
    score: float
    off_um: float


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
    towards : bool array (n,)
        Those of them, at the last opening of a shell in service, that a fault coming on would explain.
    quickened : bool array (n,)
        Confirmed readings of shells that quickened: they count, and the rate since the opening before is theirs.
    disagree : bool
        More readings would have to go than the largest share allows; none beyond it was left out.
    estimate : Estimate
        Made without the readings left out.
    fault_chance : float
        Share of the forecast in which the readings of `towards` are faults.
    """

    left_out: BoolArray
    towards: BoolArray
    quickened: BoolArray
    shells: tuple[DoubtedShell, ...]
    readings: tuple[DoubtedReading, ...]
    gauges: tuple[DoubtedGauge, ...]
    ends: tuple[DoubtedEnd, ...]
    disagree: bool
    estimate: Estimate
    fault_chance: float = 0.5

    def without(self, readings: ClassReadings) -> ClassReadings:
        """The class without what is doubted."""
        return replace(readings, quickened=self.quickened).only(~self.left_out)

    def with_faults(self, readings: ClassReadings) -> ClassReadings:
        """The same were every doubted reading towards the limit a fault coming on: level and rate follow it."""
        made = replace(readings, quickened=self.quickened | self.towards)
        return made.only(~self.left_out | self.towards)

    def with_all(self, readings: ClassReadings) -> ClassReadings:
        """The class with all that is doubted, faults as in `with_faults`."""
        return replace(readings, quickened=self.quickened | self.towards)


def screen(
    readings: ClassReadings,
    priors: Priors,
    screens: Thresholds | None = None,
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
    screens : Thresholds, optional
    confirmed : bool array (n,), optional
        Readings measured again and found right: never left out, and no evidence against their opening.
    seed : int
        Of the subset of engines in a big class.
    changes : bool
        Look for changes of the wear as well and average over them.
    """
    limits = screens or Thresholds()
    free = np.ones(readings.n_readings, dtype=bool) if confirmed is None else ~confirmed
    found = _Doubts(readings, free, limits)
    mode = mode_only(readings, priors, seed=seed)
    scale = rate_scale(readings, priors, mode, seed) if changes else 1.0
    if scale != 1.0:
        priors = at_scale(priors, scale)
        mode = mode_only(readings, priors, mode, seed)
    clock = STEADY
    if changes and _Look(readings, found.kept, free, priors, mode, limits).several:
        # Where all sisters wear anew it is no slip: what is off is judged under the likeliest change.
        clock = shared_clock(readings, priors, mode, seed)
        mode = mode_only(clocked(readings, clock)[0], priors, mode, seed)
    while found.kept.any() and found.take_worst(
        _Look(found.counted, found.kept, free, priors, mode, limits, clock)
    ):
        mode = mode_only(clocked(found.counted.only(found.kept), clock)[0], priors, mode, seed)
    counted = found.counted.only(found.kept)
    final = estimate(counted, priors, seed=seed, near=mode)
    if changes:
        final = replace(weigh_changes(counted, priors, final, seed), rate_scale=scale)
    return Screened(
        ~found.kept,
        found.towards(),
        found.counted.quickened,
        tuple(found.shells),
        tuple(found.readings),
        tuple(found.gauges),
        tuple(found.ends),
        found.disagree,
        final,
        priors.fault_chance,
    )


class _Doubts:
    """What has been found so far, and what still counts."""

    def __init__(self, readings: ClassReadings, free: BoolArray, limits: Thresholds) -> None:
        self.counted = readings
        self.free, self.limits = free, limits
        self.kept = np.ones(readings.n_readings, dtype=bool)
        self.most = math.ceil(limits.doubted_share * readings.n_readings)
        self.shells: list[DoubtedShell] = []
        self.readings: list[DoubtedReading] = []
        self.gauges: list[DoubtedGauge] = []
        self.ends: list[DoubtedEnd] = []
        self.settled: set[int] = set()
        self.disagree = False

    def take_worst(self, look: _Look) -> bool:
        """Take the explanation that gains most; False where none is left, or no more may be left out."""
        shell, one, gauge = look.worst_shell(self.settled), look.worst_reading(), look.worst_gauge()
        ends = look.ends()
        end = max((end for end in ends if end.left_out), key=lambda end: end.gain, default=None)
        strengths = np.array([0.0 if found is None else found.score**2 for found in (shell, one, gauge)])
        strengths = np.append(strengths, 0.0 if end is None else 2.0 * end.gain)
        if not strengths.any():
            shell = look.judged_again(self.settled)
            strengths[0] = 0.0 if shell is None else shell.score**2
        # One reading off at the last opening is a shell gone wrong before it is a slip: of equals the first.
        worst = int(np.argmax(strengths * (1.0 + 1e-6 * np.arange(4, 0, -1))))
        full = len(self.readings) + sum(len(found.rows) for found in self.shells) >= self.most
        self.disagree = full and strengths[worst] > 0.0 and worst < 2
        if not strengths.any() or self.disagree:
            self.ends += [asked for asked in ends if not asked.left_out]
            return False
        if worst == 0 and shell is not None:
            self._take_shell(shell)
        elif worst == 1 and one is not None:
            self.readings.append(one)
            self.kept[one.row] = False
        elif worst == 2 and gauge is not None:
            self.gauges.append(gauge)
            self.kept &= (self.counted.opening != gauge.opening) | ~self.free
        elif end is not None:
            self.ends.append(end)
            self.kept &= (self.counted.opening != end.opening) | ~look.mirrored
        return True

    def _take_shell(self, shell: DoubtedShell) -> None:
        rows = np.array(shell.rows)
        if not self.free[rows].all():  # measured again: it is so
            self.settled.add(shell.shell)
            own = self.counted.quickened.copy()
            own[rows] = shell.score > 0
            self.counted = replace(self.counted, quickened=own)
            return
        self.shells.append(shell)
        if shell.score > 0 or shell.score < -self.limits.doubted_sd:
            self.kept[rows] = False
        else:
            self.settled.add(shell.shell)

    def towards(self) -> BoolArray:
        """Readings left out that a fault coming on would explain, at the last opening of a shell in service."""
        made, last = np.zeros(len(self.kept), dtype=bool), last_readings(self.counted)
        for shell in self.shells:
            made[list(shell.rows)] = shell.score > 0
        for one in self.readings:
            made[one.row] |= one.score > 0 and last[one.row]
        return made & ~self.kept


@dataclass(frozen=True)
class _Look:
    """One round: what could be wrong, given the readings still kept."""

    readings: ClassReadings
    kept: BoolArray
    free: BoolArray
    priors: Priors
    mode: Estimate
    limits: Thresholds
    clock: Clock = STEADY

    @cached_property
    def part(self) -> ClassReadings:
        """The readings kept, in the hours of the clock."""
        return self._clocked(self.kept)

    def _clocked(self, kept: BoolArray) -> ClassReadings:
        return clocked(self.readings.only(kept), self.clock)[0]

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

    @property
    def several(self) -> bool:
        """A whole opening, or more than one shell, stands out."""
        shells = np.abs(last_intervals(self.part, self.mode).score) > self.limits.last_interval_sd
        return int(shells.sum()) > 1 or self.worst_gauge() is not None

    def worst_shell(self, settled: set[int]) -> DoubtedShell | None:
        """The shell in service whose last interval stands out most, if beyond the screen."""
        found = last_intervals(self.part, self.mode)
        size = np.where(np.isin(found.shell, list(settled)), 0.0, np.abs(found.score))
        at = int(size.argmax()) if size.size else 0
        if not size.size or size[at] <= self.limits.last_interval_sd:
            return None
        return self._shell(found, at)

    def judged_again(self, settled: set[int]) -> DoubtedShell | None:
        """One that seems quick of late, judged by standard deviations that its own reading has not widened."""
        found = last_intervals(self.part, self.mode)
        score = np.where(np.isin(found.shell, list(settled)), 0.0, found.score)
        for at in np.argsort(-score)[:_JUDGED_AGAIN].tolist():
            asked = self._shell(found, at)
            kept = self.kept.copy()
            kept[list(asked.rows)] = False
            if score[at] <= _JUDGED_AGAIN_FROM or not kept.any():
                return None
            again = last_intervals(self.part, mode_only(self._clocked(kept), self.priors, self.mode))
            if again.score[at] > self.limits.last_interval_sd:
                return replace(asked, score=float(again.score[at]), off_um=float(again.off_um[at]))
        return None

    def _shell(self, found: LastIntervals, at: int) -> DoubtedShell:
        shell = int(found.shell[at])
        mine = (self.part.reading_shell == shell) & (self.part.tau_kh > found.since_kh[at])
        rows = np.flatnonzero(self.kept)[mine]
        return DoubtedShell(shell, tuple(rows.tolist()), float(found.score[at]), float(found.off_um[at]))

    def worst_reading(self) -> DoubtedReading | None:
        """The reading furthest off, if beyond the screen."""
        residual_um, score = self.scores
        rows = np.flatnonzero(self.kept)
        size: FloatArray = np.where(self.free[rows], np.abs(score), 0.0)
        at = int(size.argmax())
        if size[at] <= self.limits.doubted_sd:
            return None
        row = int(rows[at])
        return DoubtedReading(row, float(score[at]), float(self.readings.z_um[row] - residual_um[at]))

    def worst_gauge(self) -> DoubtedGauge | None:
        """The opening with the largest common error, if it stands without its worst reading, too."""
        free = self.free[self.kept]
        judged = self._gauge_errors(np.ones(len(free), dtype=bool), self.limits.opening_error_positions)
        for at in np.argsort(-np.abs(judged.score)).tolist():
            opening = int(judged.opening[at])
            if not judged.doubted[at] or not (free & (self.part.opening == opening)).any():
                continue
            inside = self.part.opening == opening
            if (
                not free[inside].all()
                and self._positions(inside & free) < self.limits.opening_error_positions
            ):
                continue
            worst = int(np.where(inside, np.abs(self.scores[1]), -1.0).argmax())
            without = self._gauge_errors(
                np.arange(len(free)) != worst, max(2, self.limits.opening_error_positions - 1)
            )
            stands = without.doubted[without.opening == opening]
            if stands.any():
                return DoubtedGauge(
                    opening, float(judged.error_um[at]), float(judged.score[at]), int(judged.positions[at])
                )
        return None

    def _gauge_errors(self, used: BoolArray, positions: int) -> OpeningErrors:
        return opening_errors(
            self.part.only(used), self.priors, self.mode, self.limits.opening_error_t, positions
        )

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
        found = np.flatnonzero(
            (read >= self.limits.end_swap_positions) & (gain > self.limits.end_swap_log_likelihood)
        )
        return tuple(
            DoubtedEnd(int(opening[k]), float(gain[k]), bool(gain[k] > self.limits.end_swap_left_out))
            for k in found.tolist()
        )
