"""How much of the knowledge of a rate is borrowed from other shells."""

from __future__ import annotations

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.targets import series_targets


def borrowed(readings: ClassReadings, estimate: Estimate, series: IntArray | None = None) -> FloatArray:
    """Var(rate | all readings) / Var(rate | all but the shell's own), at the mode.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate
    series : int array (S,), optional
        Rows of the series table; all by default.

    Returns
    -------
    array (S,)
        Between 0 (all its own) and 1 (nothing its own; a shell without readings).

    Notes
    -----
    With P the inverse total covariance, w = Pc the weights the rate gives to the readings and D
    the shell's own, leaving D out adds w_D'(P_DD)⁻¹w_D to the variance.
    """
    asked = np.zeros(readings.n_series, dtype=bool)
    asked[slice(None) if series is None else series] = True
    out = np.ones(readings.n_series)
    rho = None if estimate.correlation is None else np.array([estimate.correlation])
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None], rho):
        wanted = np.flatnonzero(asked[piece.part.series_rows])
        for bucket, blocks in enumerate(piece.layout.buckets):
            made = series_targets(piece, bucket, wanted, need_projection=True)
            if not made.series.size:
                continue
            shell = piece.layout.readings.series_shell[made.series]
            own = (blocks.shell[made.row] == shell[:, None]).astype(float)
            columns = piece.solved.weighted[bucket][0][made.row][..., :-1]
            through = made.effects.covariance[0][made.row] @ made.reach[0, :, 1, :, None]
            weights = made.answer[0, :, 1] + (columns @ through)[..., 0]
            precision = made.effects.projection[0][made.row] * own[:, :, None] * own[:, None, :]
            # Rows of other shells become identities; a trace of ridge keeps a rate that only
            # the shell's own readings tell from dividing by 0.
            size = np.diagonal(precision, axis1=-2, axis2=-1).max(-1, initial=1e-12)
            fill = (1.0 - own) + 1e-12 * size[:, None]
            precision = precision + fill[:, :, None] * np.eye(own.shape[1])
            left = (own * weights)[..., None]
            added = (left * np.linalg.solve(precision, left)).sum((-2, -1))
            variance = made.covariance[0, :, 1, 1]
            out[piece.part.series_rows[made.series]] = variance / (variance + added)
    return out if series is None else out[series]
