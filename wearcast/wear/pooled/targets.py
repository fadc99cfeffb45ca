"""Posterior of level and rate of the series of one bucket of places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.elimination import kernel_weights
from wearcast.wear.pooled.layout import Blocks, class_columns
from wearcast.wear.pooled.passes import SolvedPart
from wearcast.wear.pooled.solver import BlockEffects, block_effects, effects_with_rate


@dataclass(frozen=True)
class SeriesTargets:
    """Level, rate and running-in wear of some series of one bucket.

    Lengths: T sets of standard deviations, s series, n readings of a block, w effects that
    reach a block.

    Attributes
    ----------
    series : int array (s,)
        Rows of the series table of the part.
    row : int array (s,)
        Block of each series within the bucket.
    prior : array (T, s, 2, n)
        Covariance of the parts of level and rate that live in the place with its readings.
    answer : array (T, s, 2, n)
        The same times the inverse covariance of the block.
    reach : array (T, s, 3, w)
        How level, rate and running-in wear hang on the effects that reach the block.
    mean, covariance : arrays (T, s, 3), (T, s, 3, 3)
    wall_mean : array (T, s)
        New wall against the reference, δ + η [µm].
    with_class_rate : array (T, s, 3)
        Covariance of the three with the class rate β.
    effects : BlockEffects
    """

    series: IntArray
    row: IntArray
    prior: FloatArray
    answer: FloatArray
    reach: FloatArray
    mean: FloatArray
    covariance: FloatArray
    wall_mean: FloatArray
    with_class_rate: FloatArray
    effects: BlockEffects


@dataclass(frozen=True)
class _Side:
    """What is fixed about the series at hand: hours, shells, and who shares what with whom."""

    tau: FloatArray
    run_in: FloatArray
    known: BoolArray
    same_shell: FloatArray
    same_series: FloatArray
    free_wall: BoolArray
    wall_variance: FloatArray
    late: FloatArray  # hours past the opening since which the series wears at a rate of its own: readings (s, n)
    late_now: FloatArray  # and now (s,); 0 for none
    late_rate_variance: FloatArray  # of that rate (s,); 0 for none


def series_targets(
    piece: SolvedPart, bucket: int, wanted: IntArray, need_projection: bool = False
) -> SeriesTargets:
    """Posterior of the wanted series whose place stands in one bucket.

    Parameters
    ----------
    piece : SolvedPart
    bucket : int
    wanted : int array
        Rows of the series table of the part, ascending.
    need_projection : bool
        Whether the effects carry the blocks of the inverse total covariance.

    Returns
    -------
    SeriesTargets
    """
    layout, terms = piece.layout, piece.layout.terms
    readings, blocks = layout.readings, layout.buckets[bucket]
    block = layout.block_of_shell[readings.series_shell[wanted]]
    series = wanted[layout.bucket_of_block[block] == bucket]
    shell = readings.series_shell[series]
    row = layout.row_of_block[layout.block_of_shell[shell]]
    side = _side(piece, blocks, series, shell, row)
    weights = dict(
        zip(
            layout.kernel_names,
            kernel_weights(layout, piece.sigma, piece.correlation).T[..., None, None],
            strict=True,
        )
    )
    prior = _prior_with_readings(
        weights, side, blocks.tau[..., row, :], blocks.gain[..., row, :], terms.point_wall_sd_um
    )
    inverse = piece.solved.inverses[bucket]
    answer = prior @ inverse[:, row]
    effects = block_effects(layout, bucket, piece.solved, piece.common, piece.engines, need_projection)

    design = _design(piece, side, readings.series_group[series])
    columns = blocks.columns[..., row, :, :-1]
    reach = np.broadcast_to(design, (len(piece.sigma), *design.shape[-3:])).copy()
    reach[:, :, :2] -= answer @ columns
    mean = (design @ effects.mean[:, row, :, None])[..., 0]
    mean[..., :2] += (prior @ effects.weighted_residual[:, row, :, None])[..., 0]
    mean += design[..., : len(terms.means)] @ terms.means
    mean[..., 0] += np.where(side.known, 0.0, terms.start_mean_um)

    covariance = reach @ effects.covariance[:, row] @ np.swapaxes(reach, -1, -2)
    own = _prior_among(weights, side, terms.point_wall_sd_um)
    covariance[..., :2, :2] += own - answer @ np.swapaxes(prior, -1, -2)
    carried = readings.shell_tau_now_sd_kh[shell]
    covariance[..., 0, 0] += carried**2 * (mean[..., 1] ** 2 + covariance[..., 1, 1])
    wall = _wall_mean(weights, side, effects, row, terms.point_wall_sd_um)
    wall += _group_level(piece, readings.series_group[series])
    of_class = effects_with_rate(layout, bucket, piece.solved, piece.common)[:, row]
    with_class = (reach @ of_class[..., None])[..., 0]
    return SeriesTargets(series, row, prior, answer, reach, mean, covariance, wall, with_class, effects)


def _side(piece: SolvedPart, blocks: Blocks, series: IntArray, shell: IntArray, row: IntArray) -> _Side:
    readings = piece.layout.readings
    known = readings.shell_fitting_known[shell]
    delta_sd = readings.shell_delta_sd_um[shell]
    since = readings.quickened_since_kh[series]
    return _Side(
        tau=piece.layout.tau_now_kh[..., shell],
        run_in=piece.layout.run_in_now_kh[..., shell],
        known=known,
        same_shell=(blocks.shell[row] == shell[:, None]).astype(float),
        same_series=(blocks.series[row] == series[:, None]).astype(float),
        free_wall=known & np.isnan(delta_sd),
        wall_variance=np.where(known, np.nan_to_num(delta_sd) ** 2, piece.layout.terms.start_sd_um**2),
        late=blocks.late[..., row, :],
        late_now=np.maximum(piece.layout.tau_now_kh[..., shell] - since, 0.0),
        late_rate_variance=piece.layout.terms.quickened_rate_sd**2 * np.isfinite(since),
    )


def _prior_with_readings(
    weights: dict[str, FloatArray], side: _Side, tau: FloatArray, gain: FloatArray, point_wall_sd: float
) -> FloatArray:
    """Covariance of level now and rate with the readings of the place, array (T, s, 2, n)."""
    now = side.tau[..., None]
    walls = side.same_shell * side.wall_variance[:, None] + side.same_series * point_wall_sd**2
    level = walls[None]
    rate = np.zeros_like(level)
    share = {"place_rate": np.ones_like(walls), "shell_rate": side.same_shell}
    share["point_rate"] = side.same_series
    for name, mask in share.items():
        if name in weights:
            level = level + weights[name] * (mask * now * tau)
            rate = rate + weights[name] * (mask * tau)
    if "uneven_wear" in weights:
        level = level + weights["uneven_wear"] * (side.same_shell * gain * np.minimum(now, tau / gain))
    late = side.same_series * (side.late_rate_variance[:, None] * side.late)
    level, rate = level + late * side.late_now[..., None], rate + late
    free = side.same_shell * side.free_wall[:, None]
    if "new_wall" in weights:
        level = level + weights["new_wall"] * free
    if "covariance" in weights:
        level = level + weights["covariance"] * (free * (now + tau))
        rate = rate + weights["covariance"] * free
    return np.stack(np.broadcast_arrays(level, rate), axis=2)


def _prior_among(weights: dict[str, FloatArray], side: _Side, point_wall_sd: float) -> FloatArray:
    """Variance of level now and rate before any reading, array (T, s, 2, 2)."""
    rate = sum(
        (weights[n][..., 0] for n in ("place_rate", "shell_rate", "point_rate") if n in weights),
        start=np.zeros((1, 1)),
    )
    level = rate * side.tau**2 + side.wall_variance + point_wall_sd**2
    both = rate * side.tau
    own = side.late_rate_variance
    level, both, rate = level + own * side.late_now**2, both + own * side.late_now, rate + own
    if "uneven_wear" in weights:
        level = level + weights["uneven_wear"][..., 0] * side.tau
    if "new_wall" in weights:
        level = level + weights["new_wall"][..., 0] * side.free_wall
    if "covariance" in weights:
        free = weights["covariance"][..., 0] * side.free_wall
        level, both = level + 2 * free * side.tau, both + free
    level, both, rate = np.broadcast_arrays(level, both, rate + 0 * side.tau)
    return np.stack([np.stack([level, both], -1), np.stack([both, rate], -1)], -1)


def prior_between(weights: dict[str, FloatArray], tau: FloatArray, wall_variance: FloatArray) -> FloatArray:
    """Covariance of level and rate between two points of one shell, array (T, k, 2, 2)."""
    rate = sum((weights[n] for n in ("place_rate", "shell_rate") if n in weights), start=np.zeros((1, 1)))
    level = rate * tau**2 + wall_variance + weights.get("uneven_wear", np.zeros((1, 1))) * tau
    both = rate * tau
    level, both, rate = np.broadcast_arrays(level, both, rate + 0 * tau)
    return np.stack([np.stack([level, both], -1), np.stack([both, rate], -1)], -1)


def _design(piece: SolvedPart, side: _Side, group: IntArray) -> FloatArray:
    """Level now, rate and running-in wear by the effects of the block, array (s, 3, w) or (T, s, 3, w)."""
    terms, layout = piece.layout.terms, piece.layout
    n_class = len(terms.columns)
    design = np.zeros((*side.tau.shape, 3, 1 + n_class + layout.n_shared))
    design[..., 0, 0], design[..., 1, 0] = side.tau, 1.0
    design[..., 0, 1 : 1 + n_class] = class_columns(terms, side.tau, side.known, group, side.run_in)
    for at, name in enumerate(terms.columns, start=1):
        if name.startswith("group_rate"):
            design[..., 1, at] = group == int(name.rsplit("_", 1)[1])
        if name == "running_in":
            design[..., 2, at] = 1.0
    return design


def _wall_mean(
    weights: dict[str, FloatArray],
    side: _Side,
    effects: BlockEffects,
    row: IntArray,
    point_wall_sd: float,
) -> FloatArray:
    """Posterior mean of the new wall δ, array (T, s) [µm]; 0 where the fitting is unknown."""
    known = side.known[:, None]
    prior = known * (side.same_shell * side.wall_variance[:, None] + side.same_series * point_wall_sd**2)
    prior = prior[None]
    if "new_wall" in weights:
        prior = prior + weights["new_wall"] * (side.same_shell * side.free_wall[:, None])
    return np.asarray((prior * effects.weighted_residual[:, row]).sum(-1))


def _group_level(piece: SolvedPart, group: IntArray) -> FloatArray:
    """Level η of the point groups off the crown, array (T, s) [µm]."""
    terms = piece.layout.terms
    named = np.zeros((len(piece.sigma), terms.n_groups + 1))
    for k in range(1, terms.n_groups + 1):
        if f"group_level_{k}" in terms.coefficients:
            at = terms.coefficients.index(f"group_level_{k}")
            named[:, k] = piece.common.coefficients[:, at]
    return named[:, group]
