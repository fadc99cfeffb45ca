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
    off_um : array (k,)
        Wear in the interval beyond what was expected, all points of the shell together [µm].
    score : array (k,)
        The same by its standard deviation: reading, opening, uneven wear and the spread of rates all in.
    """

    shell: IntArray
    off_um: FloatArray
    score: FloatArray


def last_readings(readings: ClassReadings) -> BoolArray:
    """Readings (n,) of the last opening of a shell in service that something of its life comes before."""
    shell, tau = readings.reading_shell, readings.tau_kh
    last = np.full(readings.n_shells, -np.inf)
    np.maximum.at(last, shell, tau)
    first = np.where(readings.shell_fitting_known, 0.0, np.inf)
    np.minimum.at(first, shell, tau)
    asked = readings.shell_in_service & (last > first)
    return np.asarray(asked[shell] & (tau == last[shell]))


def last_intervals(readings: ClassReadings, estimate: Estimate) -> LastIntervals:
    """Compare the wear of each last interval with what all other readings lead one to expect.

    With P the inverse total covariance, r the residuals and D the readings of a shell's last opening, the
    common shift of D that all other readings bear out is Σ(Pr)_D / ΣP_DD, its variance 1 / ΣP_DD
    (generalised least squares with D's readings left out; for one reading the left-out residual). Other
    shells of the same opening tell its common error, so a class that moves together shifts none.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate

    Returns
    -------
    LastIntervals
    """
    asked = last_readings(readings)
    pull, precision = np.zeros(readings.n_shells), np.zeros(readings.n_shells)
    rho = None if estimate.correlation is None else np.array([estimate.correlation])
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None], rho):
        here = asked[piece.part.reading_rows]
        for number, blocks in enumerate(piece.layout.buckets):
            mine = (blocks.reading >= 0) & (here[blocks.reading] if here.size else False)
            if not mine.any():
                continue
            effects = block_effects(piece.layout, number, piece.solved, piece.common, piece.engines)
            together = mine[:, :, None] & mine[:, None, :]
            together &= blocks.shell[:, :, None] == blocks.shell[:, None, :]
            rows = piece.part.shell_rows[blocks.shell[mine]]
            np.add.at(pull, rows, effects.weighted_residual[0][mine])
            np.add.at(precision, rows, (effects.projection[0] * together).sum(-1)[mine])
    shell = np.unique(readings.reading_shell[asked])
    pull, precision = pull[shell], np.maximum(precision[shell], 1e-300)
    return LastIntervals(shell, pull / precision, pull / np.sqrt(precision))
