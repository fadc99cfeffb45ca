"""Log-likelihood of the standard deviations and its gradient."""

from __future__ import annotations

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.elimination import eliminate
from wearcast.wear.pooled.layout import Layout
from wearcast.wear.pooled.solver import block_effects, class_effects, engine_effects
from wearcast.wear.pooled.terms import PLACE_TERMS


def log_likelihood(layout: Layout, sigma: FloatArray, correlation: FloatArray | None = None) -> FloatArray:
    """Log-likelihood with the coefficients integrated out, array (T,).

    Parameters
    ----------
    layout : Layout
    sigma : array (T, d)
        Standard deviations in the order of `layout.terms.variances`.
    correlation : array (T,), optional
        Of new wall and shell rate.
    """
    solved = eliminate(layout, sigma, correlation)
    return class_effects(
        layout.terms, solved.cross, solved.log_det, sigma, layout.readings.n_readings
    ).log_likelihood


def log_likelihood_and_gradient(
    layout: Layout, sigma: FloatArray, correlation: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Log-likelihood and its derivatives by log σ, then by the correlation where there is one.

    For effects with explicit posterior the derivative by log σ is the posterior mean square of
    the standardised effects less their number (Fisher's identity); for the covariance of the
    blocks it is ½[ρ'Kρ − tr(PK)] by each weight (Harville 1977, eq. 5.1-5.3).

    Returns
    -------
    value : array (T,)
    gradient : array (T, d) or (T, d + 1)
    """
    terms = layout.terms
    solved = eliminate(layout, sigma, correlation)
    common = class_effects(terms, solved.cross, solved.log_det, sigma, layout.readings.n_readings)
    engines = engine_effects(solved, common)

    by_weight = np.zeros((len(sigma), len(layout.kernel_names)))
    for number, blocks in enumerate(layout.buckets):
        effects = block_effects(layout, number, solved, common, engines)
        residual = effects.weighted_residual
        moment = residual[..., :, None] * residual[..., None, :] - effects.projection
        flat = blocks.kernels.reshape(*blocks.kernels.shape[:-3], -1)
        by_weight += 0.5 * (flat @ moment.reshape(len(sigma), -1, 1))[..., 0]

    gradient = np.zeros((len(sigma), len(terms.variances) + terms.correlated))
    for k, name in enumerate(layout.kernel_names):
        if name in PLACE_TERMS:
            at = terms.index(name)
            gradient[:, at] += 2 * sigma[:, at] ** 2 * by_weight[:, k]
    if correlation is not None:
        wall, rate = terms.index("new_wall"), terms.index("shell_rate")
        product = sigma[:, wall] * sigma[:, rate] * by_weight[:, -1]
        gradient[:, wall] += correlation * product
        gradient[:, rate] += correlation * product
        gradient[:, -1] = product
    spread = np.diagonal(engines.covariance, axis1=-2, axis2=-1)
    excess = (engines.mean**2 + spread - 1.0).sum(1)
    if "engine_rate" in terms.variances:
        gradient[:, terms.index("engine_rate")] = excess[:, 0]
    if layout.n_openings:
        gradient[:, terms.index("opening_error")] = excess[:, 1 : 1 + layout.n_openings].sum(-1)
    if "position_rate" in terms.variances:
        gradient[:, terms.index("position_rate")] = (common.standardised_square - 1.0).sum(-1)
    return common.log_likelihood, gradient
