"""Common errors of a gauge at an opening, and openings written from the wrong end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.passes import SolvedPart, solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import block_effects
from wearcast.wear.priors import Priors

SCORE_THRESHOLD = 3.5
FEWEST_POSITIONS = 3
_LOOKED_AT_AGAIN = 4  # openings whose variances are estimated without them; judgement
_LOOKED_AT_FROM = 2.5


@dataclass(frozen=True)
class OpeningErrors:
    """The common error of the gauge at every opening.

    Attributes
    ----------
    opening : int array (o,)
        Labels.
    engine : int array (o,)
        Label of the engine.
    positions : int array (o,)
        Positions read with that gauge at that opening.
    error_um, error_sd_um : arrays (o,)
        Estimate with a flat prior and its standard deviation [µm]; inf where nothing else
        tells it.
    score : array (o,)
        The estimate by its own standard deviation and that of ordinary gauge errors together.
    doubted : bool array (o,)
        Beyond the threshold at enough positions.
    """

    opening: IntArray
    engine: IntArray
    positions: IntArray
    error_um: FloatArray
    error_sd_um: FloatArray
    score: FloatArray
    doubted: BoolArray


def opening_errors(
    readings: ClassReadings,
    priors: Priors,
    estimate: Estimate,
    threshold: float = SCORE_THRESHOLD,
    fewest_positions: int = FEWEST_POSITIONS,
) -> OpeningErrors:
    """Common gauge errors, each judged by variances estimated without its opening.

    An opening with a gross error widens the spread of gauge errors it is judged by. The
    openings with the largest scores are therefore judged again with standard deviations
    estimated without them, the worst first and left out from then on if it is doubted.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    estimate : Estimate
        Of the class.
    threshold : float
        Size of the score from which an opening is doubted.
    fewest_positions : int
        Positions that must be read before an opening is judged.

    Returns
    -------
    OpeningErrors
    """
    mean, sd, opening, engine = _gauge_errors(readings, estimate)
    positions = _positions_read(readings, opening)
    error, error_sd, score = _flat(mean, sd, estimate)
    doubted = np.zeros(len(opening), dtype=bool)
    kept = np.ones(readings.n_readings, dtype=bool)
    current = estimate
    judged: list[int] = []
    for _ in range(_LOOKED_AT_AGAIN):
        size = np.where(positions >= fewest_positions, np.abs(score), 0.0)
        size[judged] = 0.0
        # One gross error among n openings scores about sqrt(n) by the spread that it widens itself.
        n = len(opening)
        enough = max(min(_LOOKED_AT_FROM, 0.8 * np.sqrt(n)), _could_reach(0.9 * threshold, n))
        if not size.size or size.max() < enough:
            break
        worst = int(size.argmax())
        judged.append(worst)
        without = kept & (readings.opening != opening[worst])
        if not without.any():
            break
        trial = mode_only(readings.only(without), priors, current)
        if trial.terms.index("opening_error") < 0:
            break
        part = readings.only(kept)
        mean, sd, found, _ = _gauge_errors(part, trial)
        new_error, new_sd, new_score = _flat(mean, sd, trial)
        at = int(np.searchsorted(found, opening[worst]))
        error[worst], error_sd[worst], score[worst] = new_error[at], new_sd[at], new_score[at]
        if abs(score[worst]) > threshold:
            doubted[worst] = True
            kept, current = without, trial
            mean, sd, found, _ = _gauge_errors(readings.only(kept), current)
            left = np.isin(opening, found) & ~np.isin(np.arange(len(opening)), judged)
            again = _flat(mean, sd, current)
            for target, source in zip((error, error_sd, score), again, strict=True):
                target[left] = source[np.searchsorted(found, opening[left])]
    return OpeningErrors(opening, engine, positions, error, error_sd, score, doubted)


def _could_reach(threshold: float, openings: int) -> float:
    """Score from which an opening may reach the threshold once it no longer widens the spread of all.

    A score s among n openings is s √(n / (n - s²)) by the spread of the others.
    """
    return float(np.sqrt(openings * threshold**2 / (openings + threshold**2)))


def _gauge_errors(
    readings: ClassReadings, estimate: Estimate
) -> tuple[FloatArray, FloatArray, IntArray, IntArray]:
    """Standardised posterior mean and sd of every opening's error, labels and engine labels."""
    mean, sd, opening, engine = [], [], [], []
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None]):
        layout = piece.layout
        rows, slot = layout.opening_engine, 1 + layout.opening_label_slot
        mean.append(piece.engines.mean[0][rows, slot])
        sd.append(np.sqrt(piece.engines.covariance[0][rows, slot, slot]))
        opening.append(layout.opening_labels)
        engine.append(np.unique(layout.readings.shell_engine)[rows])
    if not mean:
        nothing = np.zeros(0)
        return nothing, nothing, nothing.astype(np.intp), nothing.astype(np.intp)
    labels = np.concatenate(opening)
    order = np.argsort(labels)
    return (
        np.concatenate(mean)[order],
        np.concatenate(sd)[order],
        labels[order],
        np.concatenate(engine)[order],
    )


def _flat(mean: FloatArray, sd: FloatArray, estimate: Estimate) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Estimate and sd with the prior taken out, and the score.

    With prior variance 1 the posterior precision 1/s² is 1 + 1/v, so v = s²/(1 − s²) and the
    flat estimate is m/(1 − s²); its variance about 0 is 1 + v = 1/(1 − s²).
    """
    at = estimate.terms.index("opening_error")
    scale = estimate.sigma[at] if at >= 0 else 0.0
    told = 1.0 - sd**2
    some = told > 1e-9
    safe = np.where(some, told, 1.0)
    error = np.where(some, scale * mean / safe, 0.0)
    error_sd = np.where(some, scale * sd / np.sqrt(safe), np.inf)
    return error, error_sd, np.where(some, mean / np.sqrt(safe), 0.0)


def _positions_read(readings: ClassReadings, opening: IntArray) -> IntArray:
    shared = readings.opening >= 0
    place = readings.shell_position[readings.reading_shell[shared]]
    pairs = np.unique(np.stack([readings.opening[shared], place]), axis=1)
    counts = np.bincount(np.searchsorted(opening, pairs[0]), minlength=len(opening))
    return counts.astype(np.intp)


def mirrored_wear(readings: ClassReadings) -> FloatArray:
    """What every reading would say had its opening been written from the other end.

    Position i takes the reading of first + last − i at the same opening and point, new walls
    among themselves. Positions are taken as numbers, first and last those of the class.

    Parameters
    ----------
    readings : ClassReadings

    Returns
    -------
    array (n,)
        [µm]; nan where the other position was not read.
    """
    swapped = np.full(readings.n_readings, np.nan)
    if not readings.n_readings:
        return swapped
    position = readings.shell_position[readings.reading_shell]
    first, last = readings.shell_position.min(), readings.shell_position.max()
    point = readings.series_point[readings.series]
    shared = readings.opening >= 0
    keys = [readings.opening, readings.is_new_wall.astype(np.intp), point]
    own = np.stack([*keys, position], axis=1)
    other = np.stack([*keys, first + last - position], axis=1)
    _, code = np.unique(np.concatenate([own, other]), axis=0, return_inverse=True)
    code = code.ravel()
    row_of = np.full(int(code.max()) + 1, -1, dtype=np.intp)
    row_of[code[: len(own)]] = np.arange(len(own))
    partner = row_of[code[len(own) :]]
    usable = shared & (partner >= 0)
    swapped[usable] = readings.z_um[partner[usable]]
    return swapped


def end_swaps(
    readings: ClassReadings, estimate: Estimate, swapped_um: FloatArray | None = None
) -> tuple[IntArray, FloatArray]:
    """How much better every opening fits when written from the other end.

    Parameters
    ----------
    readings : ClassReadings
    estimate : Estimate
    swapped_um : array (n,), optional
        Wear each reading would show had its opening been written from the other end; nan where
        that cannot be said, which leaves the reading as it is. `mirrored_wear` by default.

    Returns
    -------
    opening : int array (o,)
        Labels.
    gain : array (o,)
        Log-likelihood reversed less as written.

    Notes
    -----
    With P the inverse total covariance, r the residuals and Δ the change of one opening's
    readings, the gain is −Δ'Pr − ½Δ'PΔ; Δ'PΔ needs only the engine's own blocks and effects.
    """
    swapped = mirrored_wear(readings) if swapped_um is None else swapped_um
    change = np.where(np.isnan(swapped), 0.0, swapped - readings.z_um)
    labels, gains = [], []
    for piece in solved_parts(readings, estimate.terms, estimate.sigma[None]):
        layout = piece.layout
        labels.append(layout.opening_labels)
        gain = _gain(piece, change[piece.part.reading_rows])
        gains.append(gain[layout.opening_engine, layout.opening_label_slot])
    if not labels:
        return np.zeros(0, dtype=np.intp), np.zeros(0)
    opening, order = np.unique(np.concatenate(labels), return_index=True)
    return opening, np.concatenate(gains)[order]


def _gain(piece: SolvedPart, change: FloatArray) -> FloatArray:
    """Gain of every engine and opening slot, array (E, O)."""
    layout = piece.layout
    n_engines, n_openings, n_shared = layout.n_engines, layout.n_openings, layout.n_shared
    n_class, n_positions = layout.n_columns, layout.n_positions
    gain = np.zeros((n_engines, n_openings))
    on_effects = np.zeros((n_engines, n_openings, 1 + n_shared))
    on_class = np.zeros((n_engines, n_openings, n_positions + n_class))
    for number, blocks in enumerate(layout.buckets):
        effects = block_effects(
            layout, number, piece.solved, piece.common, piece.engines, need_projection=False
        )
        delta = np.where(blocks.reading >= 0, change[blocks.reading] if change.size else 0.0, 0.0)
        slot = np.where(blocks.reading >= 0, layout.opening_slot[blocks.reading], -1)
        # (B, O, n): the change of one opening's readings at a time
        changes = np.where(slot[:, None] == np.arange(n_openings)[:, None], delta[:, None], 0.0)
        linear = (changes * effects.weighted_residual[0][:, None]).sum(-1)
        square = ((changes @ piece.solved.inverses[number][0]) * changes).sum(-1)
        reach = changes @ piece.solved.weighted[number][0][..., :-1]
        np.add.at(gain, blocks.engine, -linear - 0.5 * square)
        columns = np.r_[0, 1 + n_class : 1 + n_class + n_shared]
        np.add.at(on_effects, blocks.engine, reach[..., columns])
        np.add.at(on_class[..., n_positions:], blocks.engine, reach[..., 1 : 1 + n_class])
        on_class.transpose(0, 2, 1)[blocks.engine, blocks.position] += reach[..., 0]
    on_effects *= piece.solved.engine_scale[0]
    among = np.einsum("eoi,eij,eoj->eo", on_effects, piece.engines.covariance[0], on_effects)
    across = np.einsum("eoi,eij,eoj->eo", on_effects, piece.engines.with_class[0], on_class)
    common = np.einsum("eoi,ij,eoj->eo", on_class, piece.common.covariance[0], on_class)
    return np.asarray(gain + 0.5 * (among + 2 * across + common))
