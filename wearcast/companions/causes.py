"""What usually stands behind a clearance that does not fit the walls, in order of fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from wearcast.companions.journal_parts import MEASURED_THEN, journal_of_size
from wearcast.lives.history import History
from wearcast.lives.shells import same_size
from wearcast.quantities import HALVES
from wearcast.units import UM_PER_MM

COMMON_STEPS_MM = (0.25, 0.50, 0.75, 1.00)
"""Usual undersize steps of a reground journal, in diameter [mm] (common practice, no source)."""

FLAT_ANVIL_MM = 6.5
"""Width of an ordinary flat anvil [mm] (common practice, no source)."""

FACTORS = {
    25.4: "read in inches and written as mm",
    1 / 25.4: "read in mm and written as inches",
    10.0: "the decimal one place off",
    0.1: "the decimal one place off",
}
"""By how much the true clearance would be larger than the one written, and the slip that does it."""

WORST_FIT_U = 3.0
"""A cause that leaves more than this is not named [u] (judgement)."""


@dataclass(frozen=True)
class Cause:
    """One usual cause.

    Attributes
    ----------
    name : str
        The cause in words.
    explains_um : float
        The residual it would leave [µm].
    misfit_u : float
        What stays unexplained, in standard uncertainties.
    """

    name: str
    explains_um: float
    misfit_u: float

    def __str__(self) -> str:
        """The cause with the size of the residual it would explain."""
        return f"{self.name} ({self.explains_um:+.0f} µm)"


def usual_causes(
    history: History, row: Mapping[str, Any], residual_um: float, u_um: float
) -> tuple[Cause, ...]:
    """Usual causes of a residual, best fit first; empty where none comes near.

    Parameters
    ----------
    row : mapping
        A row of `compare_walls_with_clearance`.
    residual_um, u_um : float
        Clearance measured less expected, and its standard uncertainty [µm].
    """
    expected_mm = float(row["clearance"]) - residual_um / UM_PER_MM
    found: dict[str, Cause] = {}
    for name, explains_um in (
        *_other_sizes(history, row),
        *_wear_and_gauges(history, row, residual_um),
        *_slips(expected_mm),
    ):
        misfit = abs(residual_um - explains_um) / u_um
        if misfit <= WORST_FIT_U and (name not in found or misfit < found[name].misfit_u):
            found[name] = Cause(name, explains_um, misfit)
    return tuple(sorted(found.values(), key=lambda cause: cause.misfit_u))


def _other_sizes(history: History, row: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """A journal, or shells, of another size than recorded."""
    engine_type = history.engines[(row["vessel"], row["engine"])].engine_type
    bearing, size = row["bearing"], row["shell_size"]
    if row["journal_from"] != MEASURED_THEN:
        own = journal_of_size(history, engine_type, bearing, size)
        steps = {
            other: (own[0] - of_other[0]) * UM_PER_MM
            for other in history.limits.sizes(engine_type, bearing, "", "journal_diameter")
            if own and not same_size(other, size)
            if (of_other := journal_of_size(history, engine_type, bearing, other))
        } or {f"{step:.2f} mm under": step * UM_PER_MM for step in COMMON_STEPS_MM}
        for other, step_um in steps.items():
            kind = "undersize journal" if step_um > 0 else "larger journal"
            yield f"{kind}, {other}", step_um
    walls = {
        other: limit.reference_mm
        for other in history.limits.sizes(engine_type, bearing, HALVES[0], "wall")
        if (limit := history.limits.find(engine_type, bearing, HALVES[0], "wall", other, "crown")[0])
    }
    own_wall = next((mm for other, mm in walls.items() if same_size(other, size)), None)
    for other, mm in walls.items():
        if own_wall is not None and not same_size(other, size):
            for count, words in ((1, "one shell"), (2, "both shells")):
                yield f"{words} of size {other} fitted", -count * (mm - own_wall) * UM_PER_MM


def _wear_and_gauges(
    history: History, row: Mapping[str, Any], residual_um: float
) -> Iterator[tuple[str, float]]:
    """Wear of the journal where it was not measured, and gauges that read wrong."""
    engine_type = history.engines[(row["vessel"], row["engine"])].engine_type
    if row["journal_from"] != MEASURED_THEN:
        size = journal_of_size(history, engine_type, row["bearing"], row["shell_size"])
        most_um = size[1] * 12**0.5 if size else UM_PER_MM * COMMON_STEPS_MM[0] / 2
        yield "worn journal", min(max(residual_um, 0.0), most_um)
    bore_mm = float(row["journal"])  # the shell's bore is a clearance wider, which changes nothing
    if isfinite(bore_mm):
        over_um = flat_anvil_um(bore_mm)
        yield "flat anvil on both walls", 2 * over_um
        yield "flat anvil on one wall", over_um
    if residual_um < 0:
        yield "feeler or lift that did not reach the whole gap", max(residual_um, -60.0)


def flat_anvil_um(bore_mm: float) -> float:
    """How much a flat anvil over-reads a wall on its concave bore: the sagitta w²/(4 D) [µm].

    >>> round(flat_anvil_um(220.0))
    48
    """
    return FLAT_ANVIL_MM**2 / (4 * bore_mm) * UM_PER_MM


def _slips(expected_mm: float) -> Iterator[tuple[str, float]]:
    """The residual that a slip of unit or decimal would leave if the expected clearance is the true one."""
    for factor, words in FACTORS.items():
        yield f"unit or decimal slip: {words}", (expected_mm / factor - expected_mm) * UM_PER_MM
