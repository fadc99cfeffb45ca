"""Readings and openings that the rest of their class does not bear out, the worst first.

Three things can be wrong with what was written at an opening: one reading, the gauge (all positions moved
together), or the end it was counted from. Each leaves traces of the other two. So in each round only the
explanation that would gain most likelihood is taken, its readings are left out, and all is judged anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray
from wearcast.wear.pooled.doubted import left_out_residuals
from wearcast.wear.pooled.estimate import Estimate, estimate, mode_only
from wearcast.wear.pooled.openings import end_swaps, mirrored_wear, opening_errors
from wearcast.wear.pooled.readings import ClassReadings
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
    swap : float
        Gain in log-likelihood of an opening written from the other end.
    swap_positions : int
        Positions read before that is judged.
    """

    reading: float = 4.0
    share: float = 0.05
    opening: float = 3.5
    opening_positions: int = 3
    swap: float = 4.0
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
    """One opening that fits better written from the other end, and the log-likelihood gained."""

    opening: int
    gain: float


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
) -> Screened:
    """Leave out the worst explanation, estimate again, repeat while one is worse than allowed.

    Parameters
    ----------
    readings : ClassReadings
        n readings.
    priors : Priors
    screens : Screens, optional
    confirmed : bool array (n,), optional
        Readings measured again and found right: never left out.
    seed : int
        Of the subset of engines in a big class.
    """
    limits = screens or Screens()
    free = np.ones(readings.n_readings, dtype=bool) if confirmed is None else ~confirmed
    kept = np.ones(readings.n_readings, dtype=bool)
    most = max(1, int(limits.share * readings.n_readings))
    found_readings: list[DoubtedReading] = []
    found_gauges: list[DoubtedGauge] = []
    found_ends: list[DoubtedEnd] = []
    disagree = False
    mode = mode_only(readings, priors, seed=seed)
    while kept.any():
        part = readings.only(kept)
        one = _worst_reading(readings, part, mode, kept, free, limits)
        gauge = _worst_gauge(part, priors, mode, limits)
        end = _worst_end(part, mode, limits)
        strengths = [0.0 if one is None else one.score**2, 0.0 if gauge is None else gauge.score**2]
        strengths.append(0.0 if end is None else 2.0 * end.gain)
        worst = int(np.argmax(strengths))
        if strengths[worst] == 0.0:
            break
        if worst == 0 and one is not None:
            if len(found_readings) >= most:
                disagree = True
                break
            found_readings.append(one)
            kept[one.row] = False
        elif worst == 1 and gauge is not None:
            found_gauges.append(gauge)
            kept &= (readings.opening != gauge.opening) | ~free
        elif end is not None:
            found_ends.append(end)
            kept &= (readings.opening != end.opening) | np.isnan(mirrored_wear(readings)) | ~free
        mode = mode_only(readings.only(kept), priors, mode, seed)
    return Screened(
        ~kept,
        tuple(found_readings),
        tuple(found_gauges),
        tuple(found_ends),
        disagree,
        estimate(readings.only(kept), priors, seed=seed, near=mode),
    )


def _worst_reading(
    readings: ClassReadings,
    part: ClassReadings,
    mode: Estimate,
    kept: BoolArray,
    free: BoolArray,
    limits: Screens,
) -> DoubtedReading | None:
    residual_um, score = left_out_residuals(part, mode)
    rows = np.flatnonzero(kept)
    size: FloatArray = np.where(free[rows], np.abs(score), 0.0)
    at = int(size.argmax())
    if size[at] <= limits.reading:
        return None
    row = int(rows[at])
    return DoubtedReading(row, float(score[at]), float(readings.z_um[row] - residual_um[at]))


def _worst_gauge(part: ClassReadings, priors: Priors, mode: Estimate, limits: Screens) -> DoubtedGauge | None:
    errors = opening_errors(part, priors, mode, limits.opening, limits.opening_positions)
    size = np.where(errors.doubted, np.abs(errors.score), 0.0)
    if not size.size or size.max() == 0.0:
        return None
    at = int(size.argmax())
    return DoubtedGauge(
        int(errors.opening[at]),
        float(errors.error_um[at]),
        float(errors.score[at]),
        int(errors.positions[at]),
    )


def _worst_end(part: ClassReadings, mode: Estimate, limits: Screens) -> DoubtedEnd | None:
    opening, gain = end_swaps(part, mode)
    mirrored = np.isfinite(mirrored_wear(part)) & (part.opening >= 0)
    place = part.shell_position[part.reading_shell]
    pairs = np.unique(np.stack([part.opening[mirrored], place[mirrored]]), axis=1)
    read = np.bincount(np.searchsorted(opening, pairs[0]), minlength=len(opening))
    size = np.where((read >= limits.swap_positions) & (gain > limits.swap), gain, 0.0)
    if not size.size or size.max() == 0.0:
        return None
    at = int(size.argmax())
    return DoubtedEnd(int(opening[at]), float(gain[at]))
