"""Places and engines of the pooled model reduced to the class-wide coefficients.

Given θ the model is Gaussian. Places are reduced to sums of products; the engine's rate and its
opening errors are eliminated engine by engine, and one small system is left (Harville 1977,
J. Am. Stat. Assoc. 72, 320-338; Bates et al. 2015, J. Stat. Software 67(1), section 3, for the
same elimination). Every array starts with the axis T of the sets of standard deviations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray, inverse_and_log_det, segment_sums
from wearcast.wear.pooled.layout import Blocks, Layout


@dataclass(frozen=True)
class Eliminated:
    """Places and engines reduced to the class-wide coefficients.

    Attributes
    ----------
    inverses : list of array (T, B, n, n)
        Inverse covariance of each block, by bucket.
    weighted : list of array (T, B, n, D)
        That inverse times the columns of the block.
    engine_inverse : array (T, E, L, L)
        Posterior covariance of the standardised engine effects, class coefficients given.
    engine_scale : array (T, L)
        Their standard deviations: engine rate, then opening errors.
    engine_response : array (T, E, L, X + 1)
        Answer of those effects to the class columns (P positions, C columns) and to the wear.
    cross : array (T, X + 1, X + 1)
        Reduced cross-products of the class columns and the wear.
    log_det : array (T,)
        Log-determinant so far.
    """

    inverses: list[FloatArray]
    weighted: list[FloatArray]
    engine_inverse: FloatArray
    engine_scale: FloatArray
    engine_response: FloatArray
    cross: FloatArray
    log_det: FloatArray


def kernel_weights(layout: Layout, sigma: FloatArray, correlation: FloatArray | None) -> FloatArray:
    """Weights of the kernels, array (T, k) [squares of `sigma` and their covariance]."""
    terms = layout.terms
    weights = [sigma[:, terms.index(name)] ** 2 for name in layout.kernel_names if name != "covariance"]
    if correlation is not None:
        product = sigma[:, terms.index("new_wall")] * sigma[:, terms.index("shell_rate")]
        weights.append(correlation * product)
    return np.stack(weights, axis=1) if weights else np.zeros((len(sigma), 0))


def engine_scales(layout: Layout, sigma: FloatArray) -> FloatArray:
    """Standard deviations of the engine effects: its rate, openings, gauges; array (T, 1 + O + G)."""
    terms = layout.terms
    scale = np.full((len(sigma), 1 + layout.n_shared), terms.gauge_bias_sd)
    scale[:, 0] = 0.0
    if "engine_rate" in terms.variances:
        scale[:, 0] = sigma[:, terms.index("engine_rate")]
    if layout.n_openings:
        scale[:, 1 : 1 + layout.n_openings] = sigma[:, [terms.index("opening_error")]]
    return scale


def eliminate(layout: Layout, sigma: FloatArray, correlation: FloatArray | None = None) -> Eliminated:
    """Reduce a layout to the class-wide coefficients.

    Parameters
    ----------
    layout : Layout
    sigma : array (T, d)
        Standard deviations in the order of `layout.terms.variances`.
    correlation : array (T,), optional
        Of new wall and shell rate.

    Returns
    -------
    Eliminated
    """
    n_sets, n_class, n_positions = len(sigma), layout.n_columns, layout.n_positions
    weights = kernel_weights(layout, sigma, correlation)
    scale = engine_scales(layout, sigma)
    n_effects, n_raw = scale.shape[1], n_positions + n_class
    effect = np.r_[0, 1 + n_class : 1 + n_class + layout.n_shared]
    rest = np.r_[1 : 1 + n_class, 1 + n_class + layout.n_shared]
    among = np.zeros((n_sets, layout.n_engines, n_effects, n_effects))
    across = np.zeros((n_sets, layout.n_engines, n_effects, n_raw + 1))
    cross = np.zeros((n_sets, n_raw + 1, n_raw + 1))
    log_det = np.zeros(n_sets)
    inverses, weighted = [], []
    for blocks in layout.buckets:
        inverse, block_log_det = inverse_and_log_det(block_covariance(blocks, weights))
        answer = inverse @ blocks.columns
        product = np.swapaxes(blocks.columns, -1, -2) @ answer
        inverses.append(inverse)
        weighted.append(answer)
        log_det += block_log_det.sum(-1)
        among += segment_sums(product[:, :, effect[:, None], effect], blocks.engine, layout.n_engines)
        across[..., n_positions:] += segment_sums(
            product[:, :, effect[:, None], rest], blocks.engine, layout.n_engines
        )
        # One block per engine and position: a plain assignment reaches every pair once.
        across.transpose(1, 3, 0, 2)[blocks.engine, blocks.position] = product[:, :, effect, 0].transpose(
            1, 0, 2
        )
        _add_to_cross(cross, product, blocks, rest, n_positions)
    scaled = scale[:, None, :, None] * across
    system = np.eye(n_effects) + scale[:, None, :, None] * among * scale[:, None, None, :]
    engine_inverse, engine_log_det = inverse_and_log_det(system)
    response = engine_inverse @ scaled
    cross -= (np.swapaxes(scaled, -1, -2) @ response).sum(1)
    return Eliminated(
        inverses, weighted, engine_inverse, scale, response, cross, log_det + engine_log_det.sum(-1)
    )


def block_covariance(blocks: Blocks, weights: FloatArray) -> FloatArray:
    """Covariance of each block at each set of weights, array (T, B, n, n)."""
    flat = blocks.kernels.reshape(*blocks.kernels.shape[:-3], -1)
    varied = weights @ flat if flat.ndim == 2 else weights[:, None] @ flat
    return varied.reshape(len(weights), *blocks.fixed.shape[-3:]) + blocks.fixed


def _add_to_cross(
    cross: FloatArray, product: FloatArray, blocks: Blocks, rest: IntArray, n_positions: int
) -> None:
    where = (blocks.position[:, None] == np.arange(n_positions)).astype(float)
    positions = np.arange(n_positions)
    cross[:, positions, positions] += product[:, :, 0, 0] @ where
    side = np.einsum("tbr,bp->tpr", product[:, :, 0, rest], where)
    cross[:, :n_positions, n_positions:] += side
    cross[:, n_positions:, :n_positions] += np.swapaxes(side, 1, 2)
    cross[:, n_positions:, n_positions:] += product[:, :, rest[:, None], rest].sum(1)
