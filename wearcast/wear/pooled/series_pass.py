"""One pass over a class: the posterior of its series at some sets of standard deviations."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.elimination import kernel_weights
from wearcast.wear.pooled.passes import Clocks, SolvedPart, solved_parts
from wearcast.wear.pooled.positive_rates import one_series_a_shell, positive_rates
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.targets import SeriesTargets, prior_between, series_targets
from wearcast.wear.pooled.terms import Terms


@dataclass(frozen=True)
class SeriesPass:
    """Posterior of some series at some sets of θ, in the order the blocks give them.

    Attributes are those of `Posterior`; `series` and `pairs` are rows of the series table.
    """

    series: IntArray
    mean: FloatArray
    covariance: FloatArray
    wall_mean: FloatArray
    pairs: IntArray
    pair_covariance: FloatArray
    with_class_rate: FloatArray
    class_rate_variance: FloatArray
    class_pull: FloatArray


def joined(passes: list[SeriesPass]) -> SeriesPass:
    """All sets of θ in one."""
    if len(passes) == 1:
        return passes[0]
    whole = {
        name: np.concatenate([getattr(p, name) for p in passes])
        for name in (
            "mean",
            "covariance",
            "wall_mean",
            "pair_covariance",
            "with_class_rate",
            "class_rate_variance",
            "class_pull",
        )
    }
    return replace(passes[0], **whole)


def at_pace(made: SeriesPass, pace: FloatArray) -> SeriesPass:
    """The same with rates by hours as they run today, from rates by effective hours.

    Parameters
    ----------
    made : SeriesPass
    pace : array (S,) or (T, S)
        Effective hours an hour, by row of the series table.
    """
    if (pace == 1.0).all():
        return made
    by = np.ones((*pace.shape[:-1], len(made.series), 3))
    by[..., 1] = pace[..., made.series]
    place = np.empty(pace.shape[-1], dtype=np.intp)
    place[made.series] = np.arange(len(made.series))
    one, two = by[..., place[made.pairs[:, 0]], :], by[..., place[made.pairs[:, 1]], :]
    return replace(
        made,
        mean=made.mean * by,
        covariance=made.covariance * by[..., :, None] * by[..., None, :],
        pair_covariance=made.pair_covariance * one[..., :, None] * two[..., None, :],
        with_class_rate=made.with_class_rate * by,
        class_pull=made.class_pull * by,
    )


def with_positive_rates(
    made: SeriesPass, weights: FloatArray, readings: ClassReadings
) -> tuple[SeriesPass, FloatArray]:
    """The same where the rates of all other shells are above 0, and log weights of θ with the chance of it."""
    first, of = one_series_a_shell(readings.series_shell[made.series])
    known = positive_rates(
        made.mean[:, first, 1],
        made.covariance[:, first, 1, 1],
        made.with_class_rate[:, first, 1],
        made.class_rate_variance,
    )
    log_weight = np.log(weights) + known.log_chance
    class_sd = np.sqrt(np.maximum(made.class_rate_variance, 1e-24))
    along = made.with_class_rate / class_sd[:, None, None]
    narrower = known.sd[:, of] ** 2 - 1.0
    # Pairs are points of one shell, which share its tilt.
    place = np.empty(readings.n_series, dtype=np.intp)
    place[made.series] = np.arange(len(made.series))
    one, two = place[made.pairs[:, 0]], place[made.pairs[:, 1]]
    tilted = replace(
        made,
        mean=made.mean + along * known.mean[:, of, None],
        covariance=made.covariance + narrower[..., None, None] * along[..., :, None] * along[..., None, :],
        pair_covariance=made.pair_covariance
        + narrower[:, one, None, None] * along[:, one, :, None] * along[:, two, None, :],
        class_pull=along * (known.sd[:, of, None] - 1.0),
    )
    return tilted, log_weight


def one_pass(
    readings: ClassReadings,
    terms: Terms,
    sigma: FloatArray,
    correlation: FloatArray | None,
    rows: IntArray,
    clocks: Clocks | None = None,
) -> SeriesPass:
    """Posterior of the series in `rows` at all sets of θ given, each in the hours of its clock where there are any."""
    asked = np.zeros(readings.n_series, dtype=bool)
    asked[rows] = True
    series, mean, covariance, wall = [], [], [], []
    pairs, pair_covariance, with_class = [], [], []
    class_rate_variance = np.zeros(len(sigma))
    for piece in solved_parts(readings, terms, sigma, correlation, clocks=clocks):
        wanted = np.flatnonzero(asked[piece.part.series_rows])
        class_rate_variance = piece.common.coefficient_covariance[:, 0, 0]
        for bucket in range(len(piece.layout.buckets)):
            made = series_targets(piece, bucket, wanted)
            series.append(piece.part.series_rows[made.series])
            mean.append(made.mean)
            covariance.append(made.covariance)
            wall.append(made.wall_mean)
            with_class.append(made.with_class_rate)
            pair = _pairs(piece.layout.readings.series_shell[made.series])
            pairs.append(piece.part.series_rows[made.series][pair])
            pair_covariance.append(_between(piece, made, pair))
    return SeriesPass(
        np.concatenate(series),
        np.concatenate(mean, axis=1),
        np.concatenate(covariance, axis=1),
        np.concatenate(wall, axis=1),
        np.concatenate(pairs),
        np.concatenate(pair_covariance, axis=1),
        np.concatenate(with_class, axis=1),
        class_rate_variance,
        np.zeros((len(sigma), sum(len(one) for one in series), 3)),
    )


def _pairs(shell: IntArray) -> IntArray:
    """Places of all pairs of equal shells, int array (K, 2)."""
    order = np.argsort(shell, kind="stable")
    ordered = shell[order]
    found = [np.zeros((0, 2), dtype=np.intp)]
    offset = 1
    while offset < len(shell):
        first = np.flatnonzero(ordered[:-offset] == ordered[offset:])
        if not first.size:
            break
        found.append(np.stack([order[first], order[first + offset]], axis=1))
        offset += 1
    return np.concatenate(found)


def _between(piece: SolvedPart, made: SeriesTargets, pair: IntArray) -> FloatArray:
    """Covariance of level, rate and running-in wear between two points, array (T, K, 3, 3)."""
    readings, terms = piece.layout.readings, piece.layout.terms
    first, second = pair[:, 0], pair[:, 1]
    shell = readings.series_shell[made.series[first]]
    weights = dict(
        zip(
            piece.layout.kernel_names,
            kernel_weights(piece.layout, piece.sigma, piece.correlation).T[..., None],
            strict=True,
        )
    )
    delta = readings.shell_delta_sd_um[shell]
    known = readings.shell_fitting_known[shell]
    tau = piece.layout.tau_now_kh[..., shell]
    wall = np.where(known, np.nan_to_num(delta) ** 2, terms.start_sd_um**2)[None]
    if "new_wall" in weights:
        wall = wall + weights["new_wall"] * (known & np.isnan(delta))
    effects = made.effects.covariance[:, made.row[first]]
    between = made.reach[:, first] @ effects @ np.swapaxes(made.reach[:, second], -1, -2)
    between[..., :2, :2] += prior_between(weights, tau, wall) - made.answer[:, first] @ np.swapaxes(
        made.prior[:, second], -1, -2
    )
    carried = readings.shell_tau_now_sd_kh[shell]
    between[..., 0, 0] += carried**2 * made.mean[:, first, 1] * made.mean[:, second, 1]
    return between
