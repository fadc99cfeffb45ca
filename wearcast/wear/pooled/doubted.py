"""Readings the rest of their class does not bear out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.estimate import Estimate, estimate, mode_only
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import block_effects
from wearcast.wear.priors import Priors

THRESHOLD = 4.0
LARGEST_SHARE = 0.05


@dataclass(frozen=True)
class Doubted:
    """Readings left out, and what remains.

    Attributes
    ----------
    left_out : bool array (n,)
        Readings that are doubted.
    order : int array (k,)
        Their rows, the worst first.
    score : array (n,)
        Leave-one-out standardised residual: of a doubted reading when it was left out, of the
        others at the end.
    expected_um : array (n,)
        What all other readings lead one to expect of the reading [µm of wear].
    disagree : bool
        More would have to go than the largest share allows; nothing beyond it was left out.
    estimate : Estimate
        Made without the doubted readings.
    """

    left_out: BoolArray
    order: IntArray
    score: FloatArray
    expected_um: FloatArray
    disagree: bool
    estimate: Estimate


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


def doubted_readings(
    readings: ClassReadings,
    priors: Priors,
    threshold: float = THRESHOLD,
    largest_share: float = LARGEST_SHARE,
    confirmed: BoolArray | None = None,
    seed: int = 0,
) -> Doubted:
    """Leave out the worst reading, estimate again, and repeat while one is worse than allowed.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    threshold : float
        Size of the standardised residual from which a reading is doubted.
    largest_share : float
        Largest share of the class that may be left out; at least one reading may.
    confirmed : bool array (n,), optional
        Readings measured again and found right: never left out.
    seed : int
        Passed on to `estimate`.

    Returns
    -------
    Doubted
    """
    n = readings.n_readings
    kept = np.ones(n, dtype=bool)
    free = np.ones(n, dtype=bool) if confirmed is None else ~confirmed
    score, residual = np.zeros(n), np.zeros(n)
    order: list[int] = []
    most = int(np.ceil(largest_share * n))
    disagree = False
    mode = estimate(readings, priors, seed=seed)
    while n:
        rows = np.flatnonzero(kept)
        residual[rows], score[rows] = left_out_residuals(readings.only(kept), mode)
        suspect = np.where(kept & free, np.abs(score), 0.0)
        worst = int(suspect.argmax())
        if suspect[worst] <= threshold:
            break
        if len(order) >= most:
            disagree = True
            break
        order.append(worst)
        kept[worst] = False
        mode = mode_only(readings.only(kept), priors, mode, seed)
    if order:
        mode = estimate(readings.only(kept), priors, seed=seed)
    return Doubted(
        left_out=~kept,
        order=np.array(order, dtype=np.intp),
        score=score,
        expected_um=readings.z_um - residual,
        disagree=disagree,
        estimate=mode,
    )
