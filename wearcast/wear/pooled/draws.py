"""Draws from the joint posterior of all shells, for counts of spares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.clock import clocked, hours_of
from wearcast.wear.pooled.elimination import kernel_weights
from wearcast.wear.pooled.passes import SolvedPart, solved_parts
from wearcast.wear.pooled.posteriors import Posterior
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import raw_of_named
from wearcast.wear.pooled.targets import SeriesTargets, prior_between, series_targets

LONGEST_KH = 200.0
_ROUNDS = 40  # of bisection for the hours to the limit: 200 kh / 2^40
_QUICK_ROUNDS, _SETTLED_KH = 8, 1e-10


@dataclass(frozen=True)
class JointDraws:
    """Draws of all series at once; needs of one engine move together.

    Attributes
    ----------
    series : int array (S,)
        Rows of the series table.
    level_um, rate_um_per_kh, running_in_um : arrays (N, S)
        Level now, rate (above 0) and running-in wear.
    unevenness : array (N, M)
        Standard normal number of every shell, for the wear path ahead.
    sigma_b : array (N, S)
        [µm/√kh].
    shell : int array (M,)
        Rows of the shell table.
    hours_kh : array (N, M)
        Hours from now until the first point stands at its limit [kh]; inf beyond 200 kh.
    """

    series: IntArray
    level_um: FloatArray
    rate_um_per_kh: FloatArray
    running_in_um: FloatArray
    unevenness: FloatArray
    sigma_b: FloatArray
    shell: IntArray
    hours_kh: FloatArray


def joint_draws(
    made: Posterior,
    estimate: Estimate,
    n_draws: int,
    rng: np.random.Generator,
    hours: bool = True,
) -> JointDraws:
    """Draw level and rate of the series of a posterior from their joint distribution.

    Rates are drawn from the untruncated joint normal; each is then moved to the quantile of its
    truncated margin, and its level and running-in wear move with it as they hang on the rate.
    Every margin is that of the forecast table.

    Parameters
    ----------
    made : Posterior
        At most one shell a place.
    estimate : Estimate
        What it was made at; its sets of standard deviations are drawn by their weights.
    n_draws : int
    rng : numpy.random.Generator
    hours : bool
        False where only rates are asked for: `hours_kh` is then NaN.

    Returns
    -------
    JointDraws

    Raises
    ------
    ValueError
        Two shells of one place are asked for.
    """
    readings, rows = made.readings, made.series
    _refuse_two_shells(readings, rows)
    shells, group = np.unique(readings.series_shell[rows], return_inverse=True)
    chosen = np.sort(rng.choice(len(made.weights), n_draws, p=made.weights))
    drawn = np.empty((n_draws, len(rows), 3))
    for t in np.unique(chosen):
        at = np.flatnonzero(chosen == t)
        deviation = _deviations(readings, estimate, int(t), len(at), made, rng)
        drawn[at] = _truncated(made.mean[t], made.covariance[t], deviation)
    spread = made.sigma_b[chosen]
    uneven = rng.normal(size=(n_draws, len(shells)))
    first = np.full((n_draws, len(shells)), np.inf if hours else np.nan)
    if hours:
        every = _hours(made, chosen, drawn, uneven[:, group] * spread)
        for s, m in enumerate(group):
            first[:, m] = np.minimum(first[:, m], every[:, s])
    return JointDraws(rows, drawn[..., 0], drawn[..., 1], drawn[..., 2], uneven, spread, shells, first)


def _refuse_two_shells(readings: ClassReadings, rows: IntArray) -> None:
    shells = np.unique(readings.series_shell[rows])
    place = np.stack([readings.shell_engine[shells], readings.shell_position[shells]])
    if len(np.unique(place, axis=1).T) != len(shells):
        raise ValueError("two shells of one place are asked for; only one can be in service")


def _deviations(
    readings: ClassReadings,
    estimate: Estimate,
    t: int,
    n_draws: int,
    margins: Posterior,
    rng: np.random.Generator,
) -> FloatArray:
    """Draws about the means at one set of standard deviations, array (N, S, 3)."""
    rows = margins.series
    worn, pace = clocked(readings, estimate.clocks[estimate.set_clock[t]])
    rho = None if estimate.correlation_points is None else estimate.correlation_points[[t]]
    asked = np.full(readings.n_series, -1, dtype=np.intp)
    asked[rows] = np.arange(len(rows))
    out = np.empty((n_draws, len(rows), 3))
    common = class_rate = np.zeros(0)
    for piece in solved_parts(worn, estimate.terms, estimate.sigma_points[[t]], rho):
        if not common.size:
            root = _root(piece.common.coefficient_covariance[0])
            named = rng.normal(size=(n_draws, len(root))) @ root.T
            common = named @ raw_of_named(piece.layout.n_columns, piece.layout.n_positions).T
            class_rate = named[:, 0] / max(np.sqrt(piece.common.coefficient_covariance[0, 0, 0]), 1e-12)
        engine = _engine_draws(piece, common, rng)
        wanted = np.flatnonzero(asked[piece.part.series_rows] >= 0)
        for bucket in range(len(piece.layout.buckets)):
            made = series_targets(piece, bucket, wanted)
            if made.series.size:
                at = asked[piece.part.series_rows[made.series]]
                out[:, at] = _bucket_draws(piece, bucket, made, common, engine, rng)
    out[..., 1] *= pace.now[readings.series_shell[rows]]
    if margins.bend is not None:
        out *= margins.bend.gain[t][:, None]
    return np.asarray(out + class_rate[:, None, None] * margins.class_pull[t])


def _root(covariance: FloatArray) -> FloatArray:
    """A square root of positive semidefinite matrices, array (..., n, n)."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))[..., None, :])


def _engine_draws(piece: SolvedPart, common: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Deviations of the engine effects from their means, array (N, E, L)."""
    response = piece.solved.engine_response[0][..., :-1]
    root = _root(piece.solved.engine_inverse[0])
    own = rng.normal(size=(len(common), *root.shape[:2]))
    deviation = np.einsum("elm,nem->nel", root, own) - np.einsum("elx,nx->nel", response, common)
    return np.asarray(piece.solved.engine_scale[0] * deviation)


def _bucket_draws(
    piece: SolvedPart,
    bucket: int,
    made: SeriesTargets,
    common: FloatArray,
    engine: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    layout = piece.layout
    blocks = layout.buckets[bucket]
    n_class, n_positions = layout.n_columns, layout.n_positions
    row = made.row
    effect = engine[:, blocks.engine[row]]
    reached = np.empty((len(common), len(row), 1 + n_class + layout.n_shared))
    reached[..., 0] = common[:, blocks.position[row]] + effect[..., 0]
    reached[..., 1 : 1 + n_class] = common[:, None, n_positions:]
    reached[..., 1 + n_class :] = effect[..., 1:]
    deviation = np.einsum("sjw,nsw->nsj", made.reach[0], reached)
    deviation[..., :2] += _within_shells(piece, made, len(common), rng)
    return np.asarray(deviation)


def _within_shells(
    piece: SolvedPart, made: SeriesTargets, n_draws: int, rng: np.random.Generator
) -> FloatArray:
    """What is left of level and rate given the effects that reach the place, array (N, s, 2)."""
    readings, terms = piece.layout.readings, piece.layout.terms
    shell = readings.series_shell[made.series]
    shells, group = np.unique(shell, return_inverse=True)
    slot = np.zeros(len(group), dtype=np.intp)
    order = np.argsort(group, kind="stable")
    slot[order] = np.arange(len(group)) - np.searchsorted(group[order], group[order])
    n_points = int(slot.max()) + 1
    joint = np.zeros((len(shells), n_points, 2, n_points, 2))
    weights = {
        name: value[None, None]
        for name, value in zip(
            piece.layout.kernel_names,
            kernel_weights(piece.layout, piece.sigma, piece.correlation)[0],
            strict=True,
        )
    }
    reach, effects = made.reach[0], made.effects.covariance[0][made.row]
    own = made.covariance[0] - reach @ effects @ np.swapaxes(reach, -1, -2)
    carried = readings.shell_tau_now_sd_kh[shell]
    joint[group, slot, :, slot] = own[:, :2, :2]
    known = readings.shell_fitting_known[shell]
    delta = readings.shell_delta_sd_um[shell]
    wall = np.where(known, np.nan_to_num(delta) ** 2, terms.start_sd_um**2)[None]
    if "new_wall" in weights:
        wall = wall + weights["new_wall"] * (known & np.isnan(delta))
    tau = readings.shell_tau_now_kh[shell]
    between = prior_between(weights, tau, wall)[0]
    for offset in range(1, n_points):
        first = np.flatnonzero(slot + offset < np.bincount(group)[group])
        key = group * n_points + slot
        at = np.argsort(key)
        other = at[np.searchsorted(key[at], key[first] + offset)]
        cross = between[first] - made.answer[0][first] @ np.swapaxes(made.prior[0][other], -1, -2)
        both = carried[first] ** 2 * made.mean[0, first, 1] * made.mean[0, other, 1]
        cross[:, 0, 0] += both
        joint[group[first], slot[first], :, slot[other]] = cross
        joint[group[first], slot[other], :, slot[first]] = np.swapaxes(cross, -1, -2)
    flat = joint.reshape(len(shells), 2 * n_points, 2 * n_points)
    drawn = np.einsum("mij,nmj->nmi", _root(flat), rng.normal(size=(n_draws, *flat.shape[:2])))
    return np.asarray(drawn.reshape(n_draws, len(shells), n_points, 2)[:, group, slot])


def _truncated(mean: FloatArray, covariance: FloatArray, deviation: FloatArray) -> FloatArray:
    """Rates moved to their truncated margins, level and running-in wear with them."""
    variance = np.maximum(covariance[:, 1, 1], 1e-24)
    sd = np.sqrt(variance)
    below = ndtr(-mean[:, 1] / sd)
    share = ndtr(deviation[..., 1] / sd)
    # From the upper tail: it keeps its digits where the truncated part is almost everything.
    moved = -sd * ndtri((1.0 - below) * (1.0 - share))
    step = np.where(below > 1e-12, moved - deviation[..., 1], 0.0)
    out = mean + deviation
    out[..., 1] += step
    out[..., 0] += covariance[:, 0, 1] / variance * step
    out[..., 2] += covariance[:, 2, 1] / variance * step
    return np.asarray(out)


def _hours(made: Posterior, chosen: IntArray, drawn: FloatArray, uneven: FloatArray) -> FloatArray:
    """Hours at which level + bh + αΔg + u√h reaches the limit, array (N, S); inf beyond 200 kh."""
    left = np.where(made.fitting_known, np.exp(-made.tau_now_kh / made.running_in_kh), 0.0)
    limit, power = made.limit_um, made.power[chosen]
    unbent = made.unbent_um(limit[:, None], slice(None), slice(None))[..., 0]
    limits = np.broadcast_to(unbent, (len(made.weights), len(limit)))[chosen]
    hours = np.empty(drawn.shape[:2])
    for at in range(len(limit)):  # a column at a time stays near the processor
        steady = _Path(
            drawn[:, at, 0],
            np.maximum(drawn[:, at, 1], 1e-12),
            left[at] * drawn[:, at, 2],
            uneven[:, at],
            made.running_in_kh,
        ).hours_to(limits[:, at])
        # Of an ageing clock the running-in still to come counts by its own hours: it is nearly none.
        aged = (power != 1.0) & np.isfinite(steady) & made.fitting_known[at]
        steady[aged] = hours_of(steady[aged], made.tau_now_kh[at], power[aged])
        hours[:, at] = np.where(steady > LONGEST_KH, np.inf, steady)
    return hours


@dataclass(frozen=True)
class _Path:
    """Wear ahead of one series, one path a draw, arrays (N,): level + bh + α(1 − exp(−h/scale)) + u√h."""

    level: FloatArray
    rate: FloatArray
    alpha: FloatArray
    uneven: FloatArray
    scale: float

    def wear(self, h: FloatArray) -> FloatArray:
        """Wear after h hours [µm]."""
        gain = -np.expm1(-h / self.scale)
        return np.asarray(self.level + self.rate * h + self.alpha * gain + self.uneven * np.sqrt(h))

    def some(self, which: BoolArray | IntArray) -> _Path:
        """Some of the draws."""
        return _Path(self.level[which], self.rate[which], self.alpha[which], self.uneven[which], self.scale)

    def hours_to(self, limit: FloatArray) -> FloatArray:
        """Hours to a limit (N,) [kh]; 0 where it is passed, inf beyond 200 kh or without a limit."""
        out = np.full(self.level.shape, np.inf)
        passed = self.level >= limit
        within = ~passed & (self.wear(np.full(self.level.shape, LONGEST_KH)) >= limit)
        out[passed] = 0.0
        if within.any():
            out[within] = self.some(within)._crossing(limit[within])
        return out

    def _crossing(self, limit: FloatArray) -> FloatArray:
        """Where paths below the limit now and past it at 200 kh cross it.

        The running-in still to come is known roughly from the hours before, and the rest is a quadratic in √h;
        where that does not settle in a few rounds, by bisection.
        """
        h = self._without_running_in(limit - self.level)
        settled = ~self.alpha.astype(bool)
        for _ in range(_QUICK_ROUNDS):
            if settled.all():
                break
            before = h
            h = self._without_running_in(limit - self.level + self.alpha * np.expm1(-h / self.scale))
            settled = np.abs(h - before) <= _SETTLED_KH
        settled &= (h >= 0.0) & (h <= LONGEST_KH)
        if not settled.all():
            h[~settled] = self.some(~settled)._bisected(limit[~settled])
        return h

    def _without_running_in(self, ahead: FloatArray) -> FloatArray:
        """Root of bh + u√h = ahead; NaN where nothing is ahead."""
        ahead = np.where(ahead > 0, ahead, np.nan)
        root = np.sqrt(self.uneven**2 + 4.0 * self.rate * ahead)
        # Of the two forms of the root the one that adds.
        small = 2.0 * ahead / np.where(self.uneven > 0, self.uneven + root, 1.0)
        return np.asarray(np.where(self.uneven > 0, small, (root - self.uneven) / (2.0 * self.rate)) ** 2)

    def _bisected(self, limit: FloatArray) -> FloatArray:
        low, high = np.zeros_like(self.level), np.full_like(self.level, LONGEST_KH)
        for _ in range(_ROUNDS):
            middle = 0.5 * (low + high)
            short = self.wear(middle) < limit
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.asarray(high)
