"""Passes over a class: some sets of standard deviations and some engines at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.elimination import Eliminated, eliminate
from wearcast.wear.pooled.layout import Layout, build_layout, spread
from wearcast.wear.pooled.readings import ClassReadings, EnginePart, split_by_engine
from wearcast.wear.pooled.solver import ClassEffects, EngineEffects, class_effects, engine_effects
from wearcast.wear.pooled.terms import Terms

ENGINES_AT_ONCE = 2000
_OTHER_COLUMNS = 6  # of a block beside its openings, roughly
_NUMBERS_AT_ONCE = 4_000_000  # numbers in the block matrices of one pass: some 30 MB each


@dataclass(frozen=True)
class SolvedPart:
    """Some engines of a class solved for some sets of standard deviations, all readings used."""

    part: EnginePart
    layout: Layout
    sigma: FloatArray
    correlation: FloatArray | None
    solved: Eliminated
    common: ClassEffects
    engines: EngineEffects


@dataclass(frozen=True)
class Clocks:
    """A class in the hours of several clocks: which of them each set of standard deviations goes by, int array (T,)."""

    worn: Sequence[ClassReadings]
    of_set: IntArray

    def only(self, sets: slice) -> Clocks:
        """Those of some of the sets."""
        number, of_set = np.unique(self.of_set[sets], return_inverse=True)
        return Clocks([self.worn[k] for k in number.tolist()], of_set)

    def parts(self, engines_at_once: int) -> list[Clocks]:
        """The same for each part of the class."""
        cut = [split_by_engine(one, engines_at_once) for one in self.worn]
        return [Clocks([one.readings for one in part], self.of_set) for part in zip(*cut, strict=True)]


def slices_of_sets(readings: ClassReadings, n_sets: int, kernels: int = 1) -> list[slice]:
    """Cut the sets of standard deviations so that one pass fits in little memory.

    Parameters
    ----------
    kernels : int
        Kernels each set has of its own.
    """
    if n_sets <= 1 or readings.n_readings == 0:
        return [slice(0, n_sets)]
    engine = readings.shell_engine[readings.reading_shell]
    place = np.stack([engine, readings.shell_position[readings.reading_shell]])
    counts = np.unique(place, axis=1, return_counts=True)[1]
    visits = np.unique(np.stack([engine, readings.opening]), axis=1)[0]
    most = int(np.unique(visits, return_counts=True)[1].max())
    widest = max(int(counts.max()), most + _OTHER_COLUMNS)
    step = max(_NUMBERS_AT_ONCE // (kernels * len(counts) * widest**2), 1)
    return [slice(start, min(start + step, n_sets)) for start in range(0, n_sets, step)]


def solved_parts(
    readings: ClassReadings,
    terms: Terms,
    sigma: FloatArray,
    correlation: FloatArray | None = None,
    engines_at_once: int = ENGINES_AT_ONCE,
    clocks: Clocks | None = None,
) -> Iterator[SolvedPart]:
    """Solve a class part by part; the class-wide coefficients take in all parts first.

    Parameters
    ----------
    readings : ClassReadings
    terms : Terms
    sigma : array (T, d)
    correlation : array (T,), optional
    engines_at_once : int
        Engines to a part.
    clocks : Clocks, optional
        In whose hours the class is solved; in those of `readings` by default.

    Yields
    ------
    SolvedPart
    """
    positions = np.unique(readings.shell_position)
    parts = split_by_engine(readings, engines_at_once)
    n_raw = len(positions) + len(terms.columns)
    cross, log_det = np.zeros((len(sigma), n_raw + 1, n_raw + 1)), np.zeros(len(sigma))
    kept: list[tuple[Layout, Eliminated]] = []
    clocked = [None] * len(parts) if clocks is None else clocks.parts(engines_at_once)
    for part, by in zip(parts, clocked, strict=True):
        layout = _laid_out(part, terms, positions, by)
        solved = eliminate(layout, sigma, correlation)
        cross += solved.cross
        log_det += solved.log_det
        if len(parts) == 1:
            kept.append((layout, solved))
    common = class_effects(terms, cross, log_det, sigma, readings.n_readings)
    for part, by in zip(parts, clocked, strict=True):
        if kept:
            layout, solved = kept[0]
        else:
            layout = _laid_out(part, terms, positions, by)
            solved = eliminate(layout, sigma, correlation)
        engines = engine_effects(solved, common)
        yield SolvedPart(part, layout, sigma, correlation, solved, common, engines)


def _laid_out(part: EnginePart, terms: Terms, positions: IntArray, clocks: Clocks | None) -> Layout:
    if clocks is None:
        return build_layout(part.readings, terms, positions)
    return spread(build_layout(part.readings, terms, positions, clocks.worn), clocks.of_set)
