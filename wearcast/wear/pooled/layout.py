"""Readings of a class laid out in blocks of one place each, padded and batched by size.

A block holds all readings of one place (engine × position): everything that is correlated
within the place alone sits in its covariance. Blocks of one engine are tied by the engine's
rate and the errors of its openings, engines by the class-wide coefficients.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import PLACE_TERMS, Terms

_VARIANCE_FLOOR = 1e-10  # of A²: keeps exact readings from making a block singular; judgement


@dataclass(frozen=True)
class Blocks:
    """Blocks padded to one size n; a padded row is an independent reading of nothing.

    Where one class is laid out under several clocks, `tau`, `gain`, `late`, `kernels`, `fixed` and `columns` begin
    with an axis of the clocks, or of the sets of standard deviations that go by them.

    Attributes
    ----------
    reading : int array (B, n)
        Row of the readings, -1 where padded.
    engine, position : int array (B,)
        Index of engine and position; blocks are sorted by engine.
    tau, gain, late, shell, series : arrays (B, n)
        Hours times the gain [kh], the gain, hours past the opening since which the series wears at a rate of its
        own (0 for none) times the gain [kh], shell and series (-1 where padded).
    kernels : array (k, B, n, n)
        Covariances at unit variance, in the order of `kernel_names`.
    fixed : array (B, n, n)
        Known part of the covariance [µm²].
    columns : array (B, n, 1 + C + O + 1)
        Hours, class columns, openings, and the wear less its prior mean [µm].
    """

    reading: IntArray
    engine: IntArray
    position: IntArray
    tau: FloatArray
    gain: FloatArray
    late: FloatArray
    shell: IntArray
    series: IntArray
    kernels: FloatArray
    fixed: FloatArray
    columns: FloatArray


@dataclass(frozen=True)
class Layout:
    """A class, or some engines of it, ready for the solver.

    Attributes
    ----------
    terms : Terms
    readings : ClassReadings
    buckets : tuple of Blocks
    n_engines, n_positions, n_openings, n_gauges : int
        `n_openings` and `n_gauges` are the largest numbers of openings, and of gauges with a bias, of one engine.
    kernel_names : tuple of str
        Place terms, then ``covariance`` where new wall and shell rate are correlated.
    opening_slot, gauge_slot : int arrays (n,)
        Opening and gauge of every reading within its engine, -1 for none.
    engine_of_shell, block_of_shell, bucket_of_block, row_of_block : int arrays
        Where shells stand: engine index, block, its bucket and its row there.
    opening_engine : int array (labels,)
        Engine of every distinct opening, in the order of `opening_labels`.
    opening_labels : int array (labels,)
    opening_label_slot : int array (labels,)
    tau_now_kh, run_in_now_kh : arrays (M,)
        Hours of every shell now, and those by which it runs in; under several clocks with their axis first [kh].
    """

    terms: Terms
    readings: ClassReadings
    buckets: tuple[Blocks, ...]
    n_engines: int
    n_positions: int
    n_openings: int
    n_gauges: int
    kernel_names: tuple[str, ...]
    opening_slot: IntArray
    gauge_slot: IntArray
    engine_of_shell: IntArray
    block_of_shell: IntArray
    bucket_of_block: IntArray
    row_of_block: IntArray
    opening_labels: IntArray
    opening_engine: IntArray
    opening_label_slot: IntArray
    tau_now_kh: FloatArray
    run_in_now_kh: FloatArray

    @property
    def several(self) -> bool:
        """Whether each set of standard deviations has a clock of its own."""
        return self.tau_now_kh.ndim == 2

    @property
    def n_shared(self) -> int:
        """Errors that readings of one engine share: of openings, then of gauges."""
        return self.n_openings + self.n_gauges

    @property
    def n_columns(self) -> int:
        """Class columns beside the hours."""
        return len(self.terms.columns)


def running_in(tau_kh: FloatArray, known: BoolArray, running_in_kh: float) -> FloatArray:
    """g(τ) = 1 − exp(−τ/running_in_kh), 0 where the fitting time is not known."""
    return np.where(known, -np.expm1(-tau_kh / running_in_kh), 0.0)


def class_columns(
    terms: Terms,
    tau_kh: FloatArray,
    known: BoolArray,
    group: IntArray,
    run_in_kh: FloatArray,
    gain: FloatArray | float = 1.0,
    gauge: IntArray | int = -1,
) -> FloatArray:
    """Columns of the class-wide coefficients beside the rate, array (..., C)."""
    made = []
    for name in terms.columns:
        if name == "running_in":
            made.append(gain * running_in(run_in_kh, known, terms.running_in_kh))
        elif name == "level":
            made.append(np.ones_like(tau_kh))
        elif name.startswith("gauge_"):
            made.append(np.where(gauge == int(name.removeprefix("gauge_")), 1.0, np.zeros_like(tau_kh)))
        else:
            here = (group == int(name.rsplit("_", 1)[1])).astype(float)
            made.append(here * tau_kh if name.startswith("group_rate") else here + 0.0 * tau_kh)
    return np.stack(made, axis=-1) if made else np.zeros((*tau_kh.shape, 0))


_WORTH_A_PASS = 1_000_000
"""Blocks times their size cubed from which padding costs more than another pass over them (judgement)."""


def _bucket_sizes(counts: IntArray) -> list[int]:
    """Sizes to pad to: halved as long as what is saved is worth another pass."""
    sizes = []
    left = counts
    while left.size:
        size = max(int(left.max()), 1)
        smaller = left[left <= size // 2]
        if smaller.size * size**3 < _WORTH_A_PASS:
            smaller = left[:0]
        sizes.append(size)
        left = smaller
    return sizes


def build_layout(
    readings: ClassReadings, terms: Terms, positions: IntArray, clocked: Sequence[ClassReadings] = ()
) -> Layout:
    """Lay out a class in padded blocks.

    Parameters
    ----------
    readings : ClassReadings
    terms : Terms
    positions : int array (P,)
        Sorted position labels of the whole class.
    clocked : sequence of ClassReadings, optional
        The same readings in the hours of several clocks, to be solved together: each at its own set of standard
        deviations.

    Returns
    -------
    Layout
    """
    _, engine_of_shell = np.unique(readings.shell_engine, return_inverse=True)
    position_of_shell = np.searchsorted(positions, readings.shell_position)
    n_positions = len(positions)
    place, block_of_shell = np.unique(engine_of_shell * n_positions + position_of_shell, return_inverse=True)
    labels, opening_engine, label_slot, slot = _openings(readings, terms, engine_of_shell)
    n_openings = int(label_slot.max()) + 1 if label_slot.size else 0
    gauge_slot = _gauge_slots(readings, terms, engine_of_shell)
    n_gauges = int(gauge_slot.max(initial=-1)) + 1

    block = block_of_shell[readings.reading_shell]
    order = np.lexsort((readings.tau_kh, readings.series, readings.reading_shell, block))
    counts = np.bincount(block, minlength=len(place))
    starts = np.r_[0, np.cumsum(counts)[:-1]].astype(np.intp)
    names = tuple(name for name in PLACE_TERMS if name in terms.variances)
    names += ("covariance",) if terms.correlated else ()

    bucket_of_block = np.zeros(len(place), dtype=np.intp)
    row_of_block = np.zeros(len(place), dtype=np.intp)
    sizes = _bucket_sizes(counts)
    buckets = []
    for number, size in enumerate(sizes):
        lower = sizes[number + 1] if number + 1 < len(sizes) else -1
        rows = np.flatnonzero((counts <= size) & (counts > lower))
        bucket_of_block[rows] = number
        row_of_block[rows] = np.arange(len(rows))
        within = np.arange(size)
        padded = within[None, :] >= counts[rows, None]
        index = np.where(padded, 0, starts[rows, None] + within)
        reading = np.where(padded, -1, order[index] if order.size else -1)
        buckets.append(
            _blocks(
                readings,
                terms,
                names,
                reading,
                place[rows] // n_positions,
                place[rows] % n_positions,
                np.stack([slot, np.where(gauge_slot >= 0, n_openings + gauge_slot, -1)]),
                n_openings + n_gauges,
                _hours(readings, clocked),
            )
        )
    return Layout(
        terms=terms,
        readings=readings,
        buckets=tuple(buckets),
        n_engines=int(engine_of_shell.max()) + 1 if engine_of_shell.size else 0,
        n_positions=n_positions,
        n_openings=n_openings,
        n_gauges=n_gauges,
        kernel_names=names,
        opening_slot=slot,
        gauge_slot=gauge_slot,
        engine_of_shell=engine_of_shell,
        block_of_shell=block_of_shell,
        bucket_of_block=bucket_of_block,
        row_of_block=row_of_block,
        opening_labels=labels,
        opening_engine=opening_engine,
        opening_label_slot=label_slot,
        tau_now_kh=_stacked([one.shell_tau_now_kh for one in clocked or (readings,)], bool(clocked)),
        run_in_now_kh=_stacked([one.shell_hours_run_in_kh for one in clocked or (readings,)], bool(clocked)),
    )


def _openings(
    readings: ClassReadings, terms: Terms, engine_of_shell: IntArray
) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Distinct openings, their engines, their number within the engine, and that of each reading."""
    none = np.full(readings.n_readings, -1, dtype=np.intp)
    shared = readings.opening >= 0
    if "opening_error" not in terms.variances or not shared.any():
        empty = np.zeros(0, dtype=np.intp)
        return empty, empty, empty, none
    labels, first, inverse = np.unique(readings.opening[shared], return_index=True, return_inverse=True)
    engine = engine_of_shell[readings.reading_shell[shared]][first]
    by_engine = np.argsort(engine, kind="stable")
    sorted_engine = engine[by_engine]
    start = np.r_[True, sorted_engine[1:] != sorted_engine[:-1]]
    rank = np.arange(len(labels)) - np.maximum.accumulate(np.where(start, np.arange(len(labels)), 0))
    label_slot = np.empty(len(labels), dtype=np.intp)
    label_slot[by_engine] = rank
    none[shared] = label_slot[inverse]
    return labels, engine, label_slot, none


def _gauge_slots(readings: ClassReadings, terms: Terms, engine_of_shell: IntArray) -> IntArray:
    """Gauge of every reading within its engine, -1 for none: those read at two openings or more.

    A gauge of several engines has a column in the whole class where those are few, else one by engine.
    """
    slot = np.full(readings.n_readings, -1, dtype=np.intp)
    of_class = [int(name.removeprefix("gauge_")) for name in terms.columns if name.startswith("gauge_")]
    named = (readings.gauge >= 0) & (readings.opening >= 0) & ~np.isin(readings.gauge, of_class)
    if terms.flat or not named.any():
        return slot
    engine = engine_of_shell[readings.reading_shell[named]]
    pairs, which = np.unique(np.stack([engine, readings.gauge[named]]), axis=1, return_inverse=True)
    openings = np.unique(np.stack([which.ravel(), readings.opening[named]]), axis=1)[0]
    again = np.bincount(openings, minlength=pairs.shape[1]) > 1
    before: IntArray = np.cumsum(again) - again  # of all engines; pairs are sorted by engine
    first = np.searchsorted(pairs[0], pairs[0])
    number = np.where(again, before - before[first], -1)
    slot[named] = number[which.ravel()]
    return slot


def spread(layout: Layout, clock: IntArray) -> Layout:
    """A layout of several clocks for sets of standard deviations of these clocks, int array (T,)."""
    names = ("tau", "gain", "late", "kernels", "fixed", "columns")
    buckets = [
        replace(blocks, **{name: getattr(blocks, name)[clock] for name in names}) for blocks in layout.buckets
    ]
    return replace(
        layout,
        buckets=tuple(buckets),
        tau_now_kh=layout.tau_now_kh[clock],
        run_in_now_kh=layout.run_in_now_kh[clock],
    )


@dataclass(frozen=True)
class _Hours:
    """What a clock changes: arrays (n,) of one, (K, n) of several."""

    tau_kh: FloatArray
    run_in_kh: FloatArray
    z_um: FloatArray
    gain: FloatArray


def _hours(readings: ClassReadings, clocked: Sequence[ClassReadings]) -> _Hours:
    made = [
        (
            one.tau_kh,
            one.hours_run_in_kh,
            one.z_um,
            np.ones(one.n_readings) if one.gain is None else one.gain,
        )
        for one in clocked or (readings,)
    ]
    return _Hours(*(_stacked(one, bool(clocked)) for one in zip(*made, strict=True)))


def _stacked(values: Sequence[FloatArray], several: bool) -> FloatArray:
    return np.stack(values) if several else values[0]


def _blocks(
    readings: ClassReadings,
    terms: Terms,
    names: tuple[str, ...],
    reading: IntArray,
    engine: IntArray,
    position: IntArray,
    shared_slots: IntArray,
    n_shared: int,
    clock: _Hours,
) -> Blocks:
    real = reading >= 0

    def take(values: FloatArray, fill: float) -> FloatArray:
        return np.where(real, values[..., reading] if values.size else fill, fill)

    series = np.where(real, readings.series[reading] if readings.n_readings else -1, -1)
    shell = np.where(real, readings.series_shell[series], -1)
    known = real & readings.shell_fitting_known[shell]
    group = np.where(real, readings.series_group[series], 0)
    hours, gain = take(clock.tau_kh, 0.0), take(clock.gain, 1.0)
    tau = gain * hours
    u = take(readings.u_um, 0.0)
    step = take(readings.step_um, 0.0)
    delta_sd = np.where(known, readings.shell_delta_sd_um[shell], 0.0)

    both = real[:, :, None] & real[:, None, :]
    same_shell = both & (shell[:, :, None] == shell[:, None, :])
    same_series = both & (series[:, :, None] == series[:, None, :])
    product = _pairs(tau, np.multiply)
    diagonal = np.eye(reading.shape[1], dtype=bool)
    free_wall = same_shell & (known & np.isnan(delta_sd))[:, :, None]
    made: dict[str, Callable[[], NDArray[Any]]] = {
        "reading_error": lambda: (real & np.isnan(u))[:, :, None] & diagonal,
        "extra_error": lambda: (real & ~np.isnan(u))[:, :, None] & diagonal,
        "shell_rate": lambda: same_shell * product,
        "uneven_wear": lambda: same_shell * (_pairs(gain, np.multiply) * _pairs(hours, np.minimum)),
        "point_rate": lambda: same_series * product,
        "place_rate": lambda: product,
        "new_wall": lambda: free_wall,
        "covariance": lambda: free_wall * _pairs(tau, np.add),
    }
    kernels = np.empty((*tau.shape[:-2], len(names), *product.shape[-3:]))
    for k, name in enumerate(names):
        kernels[..., k, :, :, :] = made[name]()

    wall_variance = np.where(known, np.nan_to_num(delta_sd) ** 2, terms.start_sd_um**2)
    fixed = same_shell * wall_variance[:, :, None] + same_series * terms.point_wall_sd_um**2
    noise = np.nan_to_num(u) ** 2 + step**2 / 12.0 + _VARIANCE_FLOOR * terms.allowance_um**2
    fixed += diagonal * np.where(real, noise, 1.0)[:, :, None]
    since = np.append(readings.quickened_since_kh, np.inf)[series]
    late = gain * np.maximum(hours - since, 0.0)
    fixed = np.broadcast_to(fixed, product.shape)
    if late.any():
        fixed = fixed + same_series * (terms.quickened_rate_sd**2 * _pairs(late, np.multiply))

    n_class = len(terms.columns)
    columns = np.zeros((*tau.shape, 1 + n_class + n_shared + 1))
    columns[..., 0] = tau
    columns[..., 1 : 1 + n_class] = (
        class_columns(
            terms,
            tau,
            known,
            group,
            take(clock.run_in_kh, 0.0),
            gain,
            np.append(readings.gauge, -1)[reading],
        )
        * real[..., None]
    )
    for of_reading in shared_slots:
        slot = np.append(of_reading, -1)[reading]
        rows, cols = np.nonzero(slot >= 0)
        columns[..., rows, cols, 1 + n_class + slot[rows, cols]] = 1.0
    start = np.where(real & ~known, terms.start_mean_um, 0.0)
    mean = columns[..., : 1 + n_class] @ terms.means
    columns[..., -1] = np.where(real, take(clock.z_um, 0.0) - mean - start, 0.0)
    return Blocks(reading, engine, position, tau, gain, late, shell, series, kernels, fixed, columns)


def _pairs(values: FloatArray, of_two: Callable[[FloatArray, FloatArray], FloatArray]) -> FloatArray:
    """A function of each two readings of a block, array (..., B, n, n)."""
    return of_two(values[..., :, None], values[..., None, :])
