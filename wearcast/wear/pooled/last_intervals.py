"""Wear of the last interval of each shell in service against what the rest of its class bears out for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import block_effects


@dataclass(frozen=True)
class LastIntervals:
    """Shells in service with a last interval, k of them.

    Attributes
    ----------
    shell : int array (k,)
        Rows of the shell table.
    since_kh : array (k,)
        Opening since which it wore otherwise: the last but one, or the one before where that says more [kh].
    off_um : array (k,)
        Wear since then beyond what was expected, all points of the shell together [µm].
    score : array (k,)
        The same by its standard deviation: reading, opening, uneven wear and the spread of rates all in.
    """

    shell: IntArray
    since_kh: FloatArray
    off_um: FloatArray
    score: FloatArray


def opening_before(readings: ClassReadings, of_kh: FloatArray) -> FloatArray:
    """The opening of every shell before given hours, or its fitting, array (M,) [kh]; inf for none."""
    shell, tau = readings.reading_shell, readings.tau_kh
    before = np.where(readings.shell_fitting_known & (of_kh > 0), 0.0, -np.inf)
    earlier = tau < of_kh[shell]
    np.maximum.at(before, shell[earlier], tau[earlier])
    return np.where(np.isfinite(before) & np.isfinite(of_kh), before, np.inf)


def last_openings(readings: ClassReadings) -> FloatArray:
    """Hours of the last opening of every shell in service, array (M,) [kh]; inf where none was read."""
    last = np.full(readings.n_shells, -np.inf)
    np.maximum.at(last, readings.reading_shell, readings.tau_kh)
    return np.where(np.isfinite(last) & readings.shell_in_service, last, np.inf)


def last_readings(readings: ClassReadings) -> BoolArray:
    """Readings (n,) of the last opening of a shell in service that something of its life comes before."""
    return np.asarray(
        readings.tau_kh > opening_before(readings, last_openings(readings))[readings.reading_shell]
    )


def last_intervals(readings: ClassReadings, estimate: Estimate) -> LastIntervals:
    """Compare the wear of each last interval with what all other readings lead one to expect.

    With P the inverse total covariance, r the residuals and h the hours of a shell's readings past an opening,
    a rate of its own since then is h'Pr / h'Ph by generalised least squares, and h'Pr / √(h'Ph) its score: for one
    reading the left-out residual. Other shells of the same opening tell its common error, so a class that moves
    together shifts none.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate

    Returns
    -------
    LastIntervals
    """
    last = last_openings(readings)
    first = opening_before(readings, last)
    since = np.stack([first, opening_before(readings, first)])
    shell = readings.reading_shell
    late = np.maximum(readings.tau_kh - since[:, shell], 0.0)
    pull, precision = np.zeros_like(since), np.zeros_like(since)
    rho = None if estimate.correlation is None else np.array([estimate.correlation])
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None], rho):
        part = piece.part
        for number, blocks in enumerate(piece.layout.buckets):
            real = blocks.reading >= 0
            if not real.any():
                continue  # fitted, and nothing was ever read
            hours = np.where(real, late[:, np.append(part.reading_rows, 0)[blocks.reading]], 0.0)
            if not hours.any():
                continue
            effects = block_effects(piece.layout, number, piece.solved, piece.common, piece.engines)
            together = blocks.shell[:, :, None] == blocks.shell[:, None, :]
            along = np.einsum("kbi,bij,kbj->kbi", hours, effects.projection[0] * together, hours)
            rows = part.shell_rows[blocks.shell[real]]
            for k in (0, 1):
                np.add.at(pull[k], rows, (hours[k] * effects.weighted_residual[0])[real])
                np.add.at(precision[k], rows, along[k][real])
    asked = np.flatnonzero(precision[0] > 0)
    pull, precision, since = pull[:, asked], precision[:, asked], since[:, asked]
    score = np.where(precision > 0, pull / np.sqrt(np.where(precision > 0, precision, 1.0)), -np.inf)
    best = np.where((score[1] > score[0]) & (score[0] > 0), 1, 0), np.arange(len(asked))
    off = pull[best] / precision[best] * (last[asked] - since[best])
    return LastIntervals(asked, since[best], off, score[best])
