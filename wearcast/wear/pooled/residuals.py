"""What each reading says beyond what all others of its class lead one to expect."""

from __future__ import annotations

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import block_effects


def left_out_residuals(readings: ClassReadings, estimate: Estimate) -> tuple[FloatArray, FloatArray]:
    """Leave-one-out residuals of every reading at the mode, in closed form.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate

    Returns
    -------
    residual : array (n,)
        Reading less its expectation from all others [µm].
    score : array (n,)
        The same by its standard deviation. With P the inverse total covariance, the residual
        is (Pr)ᵢ/Pᵢᵢ and its variance 1/Pᵢᵢ (Cook & Weisberg 1982, section 2.2, carried over).
    """
    rho = None if estimate.correlation is None else np.array([estimate.correlation])
    residual, score = np.zeros(readings.n_readings), np.zeros(readings.n_readings)
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None], rho):
        for number, blocks in enumerate(piece.layout.buckets):
            effects = block_effects(piece.layout, number, piece.solved, piece.common, piece.engines)
            real = blocks.reading >= 0
            rows = piece.part.reading_rows[blocks.reading[real]]
            precision = np.diagonal(effects.projection[0], axis1=-2, axis2=-1)[real]
            weighted = effects.weighted_residual[0][real]
            residual[rows] = weighted / precision
            score[rows] = weighted / np.sqrt(precision)
    return residual, score
