"""Class-wide coefficients, and the rates of positions, engines and places, with intervals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.estimate import Estimate
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.readings import ClassReadings


@dataclass(frozen=True)
class Coefficients:
    """Class-wide coefficients at the mode of the standard deviations.

    Attributes
    ----------
    names : tuple of str
    mean : array (p,)
    covariance : array (p, p)
    positions : int array (P,)
    position_rate, position_rate_sd : arrays (P,)
        γ, what a position adds to the rate on every sister [µm/kh].
    engines : int array (E,)
    engine_rate, engine_rate_sd : arrays (E,)
        u, what an engine adds to the rate at every place [µm/kh].
    """

    names: tuple[str, ...]
    mean: FloatArray
    covariance: FloatArray
    positions: IntArray
    position_rate: FloatArray
    position_rate_sd: FloatArray
    engines: IntArray
    engine_rate: FloatArray
    engine_rate_sd: FloatArray

    @property
    def sd(self) -> FloatArray:
        """Standard deviations of the class-wide coefficients, array (p,)."""
        return np.sqrt(np.diagonal(self.covariance))


def coefficients(readings: ClassReadings, estimate: Estimate) -> Coefficients:
    """Coefficients of a class, and what positions and engines add to the rate.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate

    Returns
    -------
    Coefficients
    """
    rho = None if estimate.correlation is None else np.array([estimate.correlation])
    pieces = list(solved_parts(readings, estimate.terms, estimate.sigma[None], rho))
    common = pieces[0].common
    n = len(estimate.terms.coefficients)
    spread = np.diagonal(common.coefficient_covariance[0])
    scale = pieces[0].solved.engine_scale[0, 0]
    by_engine = [
        (
            np.unique(p.part.readings.shell_engine),
            scale * p.engines.mean[0, :, 0],
            scale * np.sqrt(p.engines.covariance[0, :, 0, 0]),
        )
        for p in pieces
    ]
    engines, rate, sd = (np.concatenate(x) for x in zip(*by_engine, strict=True))
    return Coefficients(
        names=estimate.terms.coefficients,
        mean=common.coefficients[0, :n],
        covariance=common.coefficient_covariance[0, :n, :n],
        positions=np.unique(readings.shell_position),
        position_rate=common.coefficients[0, n:],
        position_rate_sd=np.sqrt(np.maximum(spread[n:], 0.0)),
        engines=engines,
        engine_rate=rate,
        engine_rate_sd=sd,
    )
