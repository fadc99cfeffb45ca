"""The pooled model solved for given standard deviations: effects of class, engines and places.

Every array starts with the axis T of the sets of standard deviations; see `elimination` for
what comes before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, inverse_and_log_det
from wearcast.wear.pooled.elimination import Eliminated
from wearcast.wear.pooled.layout import Layout
from wearcast.wear.pooled.terms import Terms


@dataclass(frozen=True)
class ClassEffects:
    """Posterior of the class-wide coefficients.

    Attributes
    ----------
    mean, covariance : arrays (T, X), (T, X, X)
        Of the raw coefficients: rate at each of the P positions, then the C columns, all less
        their prior means.
    coefficients, coefficient_covariance : arrays (T, p + P), (T, p + P, p + P)
        Of the named coefficients, prior means added, then the P position rates γ.
    with_rate : array (T, X)
        Covariance of the raw coefficients with the class rate β.
    standardised_square : array (T, P)
        Mean square of the standardised position rates.
    log_likelihood : array (T,)
        Coefficients integrated out (restricted likelihood where they are flat).
    """

    mean: FloatArray
    covariance: FloatArray
    coefficients: FloatArray
    coefficient_covariance: FloatArray
    with_rate: FloatArray
    standardised_square: FloatArray
    log_likelihood: FloatArray


@dataclass(frozen=True)
class EngineEffects:
    """Posterior of the standardised engine rate and opening errors.

    Attributes
    ----------
    mean : array (T, E, L)
    covariance : array (T, E, L, L)
    with_class : array (T, E, L, X)
        Covariance with the raw class coefficients.
    """

    mean: FloatArray
    covariance: FloatArray
    with_class: FloatArray


@dataclass(frozen=True)
class BlockEffects:
    """What the solved model says of the readings of one bucket.

    Attributes
    ----------
    mean, covariance : arrays (T, B, D - 1), (T, B, D - 1, D - 1)
        Of the effects that reach the block: its rate, class columns, opening errors.
    weighted_residual : array (T, B, n)
        Inverse total covariance times (wear − mean).
    projection : array (T, B, n, n)
        The block of the inverse total covariance.
    """

    mean: FloatArray
    covariance: FloatArray
    weighted_residual: FloatArray
    projection: FloatArray


def class_effects(
    terms: Terms, cross: FloatArray, log_det: FloatArray, sigma: FloatArray, n_readings: int
) -> ClassEffects:
    """Posterior of the class-wide coefficients and the log-likelihood.

    Parameters
    ----------
    terms : Terms
    cross, log_det : arrays
        Sums of those of `Eliminated` over all engines.
    sigma : array (T, d)
    n_readings : int

    Returns
    -------
    ClassEffects
    """
    n_sets, n_raw = len(sigma), cross.shape[-1] - 1
    n_class = len(terms.columns)
    n_positions = n_raw - n_class
    n_named = 1 + n_class
    mix = raw_of_named(n_class, n_positions)
    free = np.isinf(terms.sds)
    scale = np.zeros((n_sets, n_named + n_positions))
    scale[:, :n_named] = np.where(free, 1.0, terms.sds)
    if "position_rate" in terms.variances:
        scale[:, n_named:] = sigma[:, [terms.index("position_rate")]]
    held = np.r_[~free, np.ones(n_positions, dtype=bool)].astype(float)

    scaled = mix * scale[:, None, :]
    system = np.diag(held) + np.swapaxes(scaled, 1, 2) @ cross[:, :n_raw, :n_raw] @ scaled
    inverse, system_log_det = inverse_and_log_det(system)
    right = np.swapaxes(scaled, 1, 2) @ cross[:, :n_raw, n_raw:]
    standard = (inverse @ right)[..., 0]
    quadratic = cross[:, -1, -1] - (right[..., 0] * standard).sum(-1)
    n_free = int(free.sum())
    log_likelihood = -0.5 * ((n_readings - n_free) * np.log(2 * np.pi) + log_det + system_log_det + quadratic)
    named = scale * standard
    named[:, :n_named] += terms.means
    square = standard[:, n_named:] ** 2 + np.diagonal(inverse, axis1=1, axis2=2)[:, n_named:]
    return ClassEffects(
        mean=(scaled @ standard[..., None])[..., 0],
        covariance=scaled @ inverse @ np.swapaxes(scaled, 1, 2),
        coefficients=named,
        coefficient_covariance=scale[:, :, None] * inverse * scale[:, None, :],
        with_rate=(scaled @ inverse[:, :, :1])[..., 0] * scale[:, :1],
        standardised_square=square,
        log_likelihood=log_likelihood,
    )


def raw_of_named(n_class: int, n_positions: int) -> FloatArray:
    """Matrix from the named coefficients (β, C columns, γ) to the raw ones, array (X, p + P)."""
    mix = np.zeros((n_positions + n_class, 1 + n_class + n_positions))
    mix[:n_positions, 0] = 1.0
    mix[n_positions:, 1 : 1 + n_class] = np.eye(n_class)
    mix[:n_positions, 1 + n_class :] = np.eye(n_positions)
    return mix


def engine_effects(solved: Eliminated, common: ClassEffects) -> EngineEffects:
    """Posterior of the engine effects, class coefficients integrated out."""
    to_class = solved.engine_response[..., :-1]
    mean = solved.engine_response[..., -1] - (to_class @ common.mean[:, None, :, None])[..., 0]
    with_class = -(to_class @ common.covariance[:, None])
    covariance = solved.engine_inverse - with_class @ np.swapaxes(to_class, -1, -2)
    return EngineEffects(mean, covariance, with_class)


def block_effects(
    layout: Layout,
    bucket: int,
    solved: Eliminated,
    common: ClassEffects,
    engines: EngineEffects,
    need_projection: bool = True,
) -> BlockEffects:
    """Posterior of the effects that reach each block, and what is left of its readings."""
    blocks = layout.buckets[bucket]
    n_class, n_positions = layout.n_columns, layout.n_positions
    engine, position = blocks.engine, blocks.position
    scale = solved.engine_scale[:, None, :]
    effect = scale * engines.mean[:, engine]
    spread = scale[..., None] * engines.covariance[:, engine] * scale[:, :, None, :]
    with_class = scale[..., None] * engines.with_class[:, engine]
    rows = np.arange(len(engine))
    with_rate = with_class[:, rows, :, position].transpose(1, 0, 2)  # (T, B, L)

    shape = (len(scale), len(engine), 1 + n_class + layout.n_shared)
    mean = np.empty(shape)
    mean[..., 0] = common.mean[:, position] + effect[..., 0]
    mean[..., 1 : 1 + n_class] = common.mean[:, None, n_positions:]
    mean[..., 1 + n_class :] = effect[..., 1:]

    covariance = np.empty((*shape, shape[-1]))
    rate_variance = common.covariance[:, position, position]
    covariance[..., 0, 0] = rate_variance + spread[..., 0, 0] + 2 * with_rate[..., 0]
    rate_class = common.covariance[:, position, n_positions:] + with_class[..., 0, n_positions:]
    rate_opening = spread[..., 0, 1:] + with_rate[..., 1:]
    class_opening = np.swapaxes(with_class[..., 1:, n_positions:], -1, -2)
    own = slice(1, 1 + n_class)
    late = slice(1 + n_class, None)
    covariance[..., 0, own] = covariance[..., own, 0] = rate_class
    covariance[..., 0, late] = covariance[..., late, 0] = rate_opening
    covariance[..., own, own] = common.covariance[:, None, n_positions:, n_positions:]
    covariance[..., own, late] = class_opening
    covariance[..., late, own] = np.swapaxes(class_opening, -1, -2)
    covariance[..., late, late] = spread[..., 1:, 1:]

    answer = solved.weighted[bucket]
    residual = answer[..., -1] - (answer[..., :-1] @ mean[..., None])[..., 0]
    projection = np.zeros(0)
    if need_projection:
        projection = solved.inverses[bucket] - (answer[..., :-1] @ covariance) @ np.swapaxes(
            answer[..., :-1], -1, -2
        )
    return BlockEffects(mean, covariance, residual, projection)


def effects_with_rate(layout: Layout, bucket: int, solved: Eliminated, common: ClassEffects) -> FloatArray:
    """Covariance of the effects that reach each block with the class rate β, array (T, B, w)."""
    blocks = layout.buckets[bucket]
    n_class, n_positions = layout.n_columns, layout.n_positions
    to_class = solved.engine_response[:, blocks.engine, :, :-1]
    engine = -(to_class @ common.with_rate[:, None, :, None])[..., 0]
    engine *= solved.engine_scale[:, None]
    made = np.empty((*engine.shape[:2], 1 + n_class + layout.n_shared))
    made[..., 0] = common.with_rate[:, blocks.position] + engine[..., 0]
    made[..., 1 : 1 + n_class] = common.with_rate[:, None, n_positions:]
    made[..., 1 + n_class :] = engine[..., 1:]
    return made
