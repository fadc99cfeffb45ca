"""Class-wide coefficients, and what positions, engines and places add to the rate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.passes import SolvedPart, slices_of_sets, solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import ClassEffects, block_effects


@dataclass(frozen=True)
class Coefficients:
    """Coefficients of a class, averaged over the standard deviations.

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
    place_engine, place_position : int arrays (B,)
        Labels of the places.
    place_rate, place_rate_sd : arrays (B,)
        v, what a place adds to the rate of every shell in it [µm/kh].
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
    place_engine: IntArray
    place_position: IntArray
    place_rate: FloatArray
    place_rate_sd: FloatArray

    @property
    def sd(self) -> FloatArray:
        """Standard deviations of the class-wide coefficients, array (p,)."""
        return np.sqrt(np.diagonal(self.covariance))


def coefficients(readings: ClassReadings, estimate: Estimate) -> Coefficients:
    """Coefficients of a class, and what positions, engines and places add to the rate.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate

    Returns
    -------
    Coefficients
    """
    rho = estimate.correlation_points
    parts = [
        [_rates(p) for p in solved_parts(readings, estimate.terms, sigma, correlation)]
        for sigma, correlation in (
            (estimate.sigma_points[at], None if rho is None else rho[at])
            for at in slices_of_sets(readings, len(estimate.weights))
        )
    ]
    n, weights = len(estimate.terms.coefficients), estimate.weights
    named = np.concatenate([part[0].common.coefficients for part in parts])
    spread = np.concatenate([part[0].common.coefficient_covariance for part in parts])
    mean = weights @ named
    off = named - mean
    covariance = np.einsum("t,tij->ij", weights, spread) + np.einsum("t,ti,tj->ij", weights, off, off)
    engine = [np.concatenate([one.engine for one in part], axis=-1) for part in parts]
    place = [np.concatenate([one.place for one in part], axis=-1) for part in parts]
    engine_rate, engine_sd = _mixture(weights, np.concatenate(engine, axis=1))
    place_rate, place_sd = _mixture(weights, np.concatenate(place, axis=1))
    labels = np.concatenate([one.place_labels for one in parts[0]], axis=1)
    return Coefficients(
        names=estimate.terms.coefficients,
        mean=mean[:n],
        covariance=covariance[:n, :n],
        positions=np.unique(readings.shell_position),
        position_rate=mean[n:],
        position_rate_sd=np.sqrt(np.maximum(np.diagonal(covariance)[n:], 0.0)),
        engines=np.concatenate([one.engines for one in parts[0]]),
        engine_rate=engine_rate,
        engine_rate_sd=engine_sd,
        place_engine=labels[0],
        place_position=labels[1],
        place_rate=place_rate,
        place_rate_sd=place_sd,
    )


@dataclass(frozen=True)
class _Rates:
    """What is kept of a part of the class: moments (2, T, ·) and labels."""

    common: ClassEffects
    engines: IntArray
    engine: FloatArray
    place_labels: IntArray
    place: FloatArray


def _rates(piece: SolvedPart) -> _Rates:
    engines = np.unique(piece.layout.readings.shell_engine)
    return _Rates(piece.common, engines, _engine_rates(piece), _place_labels(piece), _place_rates(piece))


def _mixture(weights: FloatArray, moments: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and sd over the sets, of means and variances (2, T, k)."""
    mean = weights @ moments[0]
    return mean, np.sqrt(np.maximum(weights @ (moments[1] + (moments[0] - mean) ** 2), 0.0))


def _engine_rates(piece: SolvedPart) -> FloatArray:
    """Means and variances of the engine rates, array (2, T, E)."""
    scale = piece.solved.engine_scale[:, :1]
    variance = scale**2 * piece.engines.covariance[:, :, 0, 0]
    return np.stack([scale * piece.engines.mean[:, :, 0], variance])


def _place_rates(piece: SolvedPart) -> FloatArray:
    """Means and variances of the place rates, array (2, T, B), buckets in turn."""
    at = piece.layout.terms.index("place_rate")
    made = []
    for number, blocks in enumerate(piece.layout.buckets):
        effects = block_effects(
            piece.layout, number, piece.solved, piece.common, piece.engines, need_projection=False
        )
        square = piece.sigma[:, [at]] ** 2 if at >= 0 else np.zeros((len(piece.sigma), 1))
        prior = square[..., None] * blocks.tau
        answer = (prior[:, :, None] @ piece.solved.inverses[number])[:, :, 0]
        reach = -(answer[:, :, None] @ blocks.columns[..., :-1])
        variance = square - (answer * prior).sum(-1)
        variance = variance + (reach @ effects.covariance @ np.swapaxes(reach, -1, -2))[..., 0, 0]
        made.append(np.stack([(prior * effects.weighted_residual).sum(-1), variance]))
    return np.concatenate(made, axis=-1)


def _place_labels(piece: SolvedPart) -> IntArray:
    """Labels of engine and position of the places, int array (2, B), buckets in turn."""
    layout, readings = piece.layout, piece.layout.readings
    shell = np.full(len(layout.bucket_of_block), -1, dtype=np.intp)
    shell[layout.block_of_shell] = np.arange(readings.n_shells)
    in_turn = shell[np.lexsort((layout.row_of_block, layout.bucket_of_block))]
    return np.stack([readings.shell_engine[in_turn], readings.shell_position[in_turn]])
