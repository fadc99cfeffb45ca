"""What engine, position and place add to the wear rate of a class, each with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wearcast.wear.pooled.clock_sets import under_clocks
from wearcast.wear.pooled.passes import SolvedPart, solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import BlockEffects, block_effects

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Effects:
    """Effects of one kind: a mixture of normals over the sets of standard deviations.

    Attributes
    ----------
    labels : ndarray of int, shape (k,) or (k, 2)
        Engine, position, engine and position, or row of the shell table.
    means, sds : ndarray, shape (T, k)
        [µm/kh].
    weights : ndarray, shape (T,)
        Of the sets.
    """

    labels: Ints
    means: Floats
    sds: Floats
    weights: Floats

    @cached_property
    def mean(self) -> Floats:
        """Posterior mean, array (k,) [µm/kh]."""
        return np.asarray(self.weights @ self.means)

    @property
    def sd(self) -> Floats:
        """Posterior standard deviation, array (k,) [µm/kh]."""
        return np.sqrt(self.weights @ (self.sds**2 + (self.means - self.mean) ** 2))

    @cached_property
    def _ranges90(self) -> Floats:
        sds = np.maximum(self.sds, 1e-12)
        ends = []
        for level in (0.05, 0.95):
            low, high = (self.means - 9 * sds).min(axis=0), (self.means + 9 * sds).max(axis=0)
            for _ in range(60):
                middle = 0.5 * (low + high)
                short = self.weights @ ndtr((middle - self.means) / sds) < level
                low, high = np.where(short, middle, low), np.where(short, high, middle)
            ends.append(0.5 * (low + high))
        return np.stack(ends, axis=1)

    def range90(self, k: int) -> tuple[float, float]:
        """The 5 and 95 % quantiles of one effect, by bisection on the mixture [µm/kh]."""
        low, high = self._ranges90[k].tolist()
        return low, high

    @cached_property
    def two_sided_p(self) -> Floats:
        """Twice the posterior chance that the effect has the other sign, array (k,)."""
        below = self.weights @ ndtr(-self.means / np.maximum(self.sds, 1e-12))
        return np.minimum(2.0 * np.minimum(below, 1.0 - below), 1.0)


@dataclass(frozen=True, eq=False)
class RateEffects:
    """Effects of a class.

    Attributes
    ----------
    engine : Effects
        u: an engine wears alike at all its places.
    position : Effects
        γ: a place wears alike on all sisters.
    place : Effects
        v: this engine at this place, shared by the shells that lay there one after the other.
    beyond : Effects
        v + s: how far a shell in service wears beyond what class, engine and position account for, by its place
        and by itself. With one shell at a place the two cannot be told apart, and need not be to name it.
    """

    engine: Effects
    position: Effects
    place: Effects
    beyond: Effects


def rate_effects(readings: ClassReadings, estimate: Estimate, weights: Floats, shells: Ints) -> RateEffects:
    """Posterior of the effects, given all readings of a class.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate
    weights : array (T,)
        Of the sets of standard deviations, such as those of a posterior.
    shells : int array (k,)
        Rows of the shell table whose own deviation is asked for.

    Notes
    -----
    With P the inverse total covariance of the readings of a place, r the readings less their mean and τ their
    hours, v has mean σ_v² τ'P r and variance σ_v² − σ_v⁴ τ'P τ (best linear prediction; Robinson 1991, Statist.
    Sci. 6, 15-32); likewise v + s with σ_v² τ + σ_s² τ·[same shell] in place of σ_v² τ.
    """
    terms, positions = estimate.terms, np.unique(readings.shell_position)
    n_named = len(terms.coefficients)
    position_mean, position_sd = [], []
    found: dict[str, list[tuple[Floats, Floats]]] = {"engine": [], "place": [], "beyond": []}
    engines: Ints = np.zeros(0, dtype=np.intp)
    places: Ints = np.zeros((0, 2), dtype=np.intp)
    asked: Ints = np.zeros(0, dtype=np.intp)
    rho = estimate.correlation_points
    for worn, at in under_clocks(readings, estimate):
        pieces = list(solved_parts(worn, terms, estimate.sigma_points[at], None if rho is None else rho[at]))
        common = pieces[0].common
        spread = np.diagonal(common.coefficient_covariance, axis1=1, axis2=2)
        position_mean.append(common.coefficients[:, n_named:])
        position_sd.append(np.sqrt(np.maximum(spread[:, n_named:], 0.0)))
        by_engine, by_place = (
            [_engine(piece) for piece in pieces],
            [_places(piece, positions) for piece in pieces],
        )
        by_shell = [_beyond(piece, shells) for piece in pieces]
        engines, places, asked = (
            np.concatenate([one[0] for one in parts]) for parts in (by_engine, by_place, by_shell)
        )
        for name, parts in (("engine", by_engine), ("place", by_place), ("beyond", by_shell)):
            joined = [np.concatenate([one[k] for one in parts], axis=1) for k in (1, 2)]
            found[name].append((joined[0], joined[1]))

    def effects(labels: Ints, made: list[tuple[Floats, Floats]]) -> Effects:
        means, sds = (np.concatenate([one[k] for one in made]) for k in (0, 1))
        return Effects(labels, means, sds, weights)

    return RateEffects(
        engine=effects(engines, found["engine"]),
        position=effects(positions, list(zip(position_mean, position_sd, strict=True))),
        place=effects(places, found["place"]),
        beyond=effects(asked, found["beyond"]),
    )


def _engine(piece: SolvedPart) -> tuple[Ints, Floats, Floats]:
    """Labels, means and standard deviations of the engine effects of a part."""
    scale = piece.solved.engine_scale[:, :1]
    spread = np.maximum(piece.engines.covariance[..., 0, 0], 0.0)
    return (
        np.unique(piece.part.readings.shell_engine),
        scale * piece.engines.mean[..., 0],
        scale * np.sqrt(spread),
    )


def _sigma(piece: SolvedPart, name: str) -> Floats:
    """Standard deviation of a term, array (T, 1); 0 where it is off."""
    at = piece.layout.terms.index(name)
    return piece.sigma[:, [at]] if at >= 0 else np.zeros((len(piece.sigma), 1))


def _places(piece: SolvedPart, positions: Ints) -> tuple[Ints, Floats, Floats]:
    """Labels (engine, position), means and standard deviations of the place effects of a part."""
    layout, variance = piece.layout, _sigma(piece, "place_rate") ** 2
    engines = np.unique(piece.part.readings.shell_engine)
    labels, means, sds = [], [], []
    for bucket, blocks in enumerate(layout.buckets):
        effects = block_effects(layout, bucket, piece.solved, piece.common, piece.engines)
        reach = variance[..., None] * blocks.tau
        mean, sd = _predicted(reach, variance, effects)
        means.append(mean)
        sds.append(sd)
        labels.append(np.stack([engines[blocks.engine], positions[blocks.position]], axis=1))
    return np.concatenate(labels), np.concatenate(means, axis=1), np.concatenate(sds, axis=1)


def _beyond(piece: SolvedPart, shells: Ints) -> tuple[Ints, Floats, Floats]:
    """Rows of the shell table, means and standard deviations of place and shell effect together."""
    layout = piece.layout
    place, own = (_sigma(piece, name) ** 2 for name in ("place_rate", "shell_rate"))
    mine = np.flatnonzero(np.isin(piece.part.shell_rows, shells))
    labels, means, sds = [], [], []
    for bucket, blocks in enumerate(layout.buckets):
        here = mine[layout.bucket_of_block[layout.block_of_shell[mine]] == bucket]
        row = layout.row_of_block[layout.block_of_shell[here]]
        effects = block_effects(layout, bucket, piece.solved, piece.common, piece.engines)
        same = (blocks.shell[row] == here[:, None]) * blocks.tau[row]
        reach = place[..., None] * blocks.tau[row] + own[..., None] * same
        of_rows = BlockEffects(
            effects.mean, effects.covariance, effects.weighted_residual[:, row], effects.projection[:, row]
        )
        mean, sd = _predicted(reach, place + own, of_rows)
        means.append(mean)
        sds.append(sd)
        labels.append(piece.part.shell_rows[here])
    return np.concatenate(labels), np.concatenate(means, axis=1), np.concatenate(sds, axis=1)


def _predicted(reach: Floats, variance: Floats, effects: BlockEffects) -> tuple[Floats, Floats]:
    """Mean and standard deviation of effects whose covariance with the readings is `reach`, arrays (T, k)."""
    mean = (reach * effects.weighted_residual).sum(-1)
    told = np.einsum("tbn,tbnm,tbm->tb", reach, effects.projection, reach)
    return mean, np.sqrt(np.maximum(variance - told, 0.0))
