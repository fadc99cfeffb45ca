"""What is said of changed wear: where the changes of one scope hold more than half the weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from wearcast.wear.pooled.arrays import BoolArray
from wearcast.wear.pooled.clock import Kind, Scope, concerned, exposure
from wearcast.wear.pooled.problem import Estimate, JudgedPart
from wearcast.wear.pooled.readings import ClassReadings

ASKED_FROM = 0.5
_GRID = np.linspace(-3.0, 3.0, 1201)


@dataclass(frozen=True)
class SaidChange:
    """A change of the wear that the readings bear out.

    Attributes
    ----------
    kind : Kind
    scope : Scope
    label : int
        Vessel or engine; -1 for the class.
    year : float
        Date, weighted over the dates that are possible; nan where the change has none.
    weight : float
        Share of the forecast that rests on it.
    factor, factor_p05, factor_p95 : float
        Median of the factor of the pace (of the power, for `Kind.AGE`) and its 90 % range.
    parts : tuple of JudgedPart
        Likeliest first.
    """

    kind: Kind
    scope: Scope
    label: int
    year: float
    weight: float
    factor: float
    factor_p05: float
    factor_p95: float
    parts: tuple[JudgedPart, ...]

    @property
    def recorded(self) -> bool:
        """Somebody wrote the likeliest of them down."""
        return self.parts[0].part.recorded


def rests_on(readings: ClassReadings, change: SaidChange) -> BoolArray:
    """Readings since the change in its scope, that bear it out, bool array (n,); all for an age or a depth."""
    if change.parts[0].part.date < 0:
        return ~readings.is_new_wall
    return (exposure(readings, change.parts[0].part).readings_kh > 0) & ~readings.is_new_wall


def scope_of(readings: ClassReadings, change: SaidChange) -> BoolArray:
    """Shells the change concerns, bool array (M,)."""
    if change.parts[0].part.date < 0:
        return np.ones(readings.n_shells, dtype=bool)
    return concerned(readings, change.parts[0].part)


def said_changes(readings: ClassReadings, estimate: Estimate, least: float = ASKED_FROM) -> list[SaidChange]:
    """Changes to be said: one where all kinds together hold more than half the weight, else none."""
    changed = [one for one in estimate.judged if one.part.kind is not Kind.NONE]
    if sum(one.weight for one in changed) <= least:
        return []
    groups: dict[tuple[Kind, Scope, int], list[JudgedPart]] = {}
    for one in changed:
        groups.setdefault((one.part.kind, one.part.scope, one.part.label), []).append(one)
    best = max(groups, key=lambda key: sum(one.weight for one in groups[key]))
    parts = sorted(groups[best], key=lambda one: -one.weight)
    said = _said(readings, best, parts)
    # What was written down has its weight beforehand: it is said where the readings bear a change out.
    unseen = all(one.part.recorded for one in parts) and said.factor_p05 < 1.0 < said.factor_p95
    return [] if unseen else [said]


def _said(readings: ClassReadings, key: tuple[Kind, Scope, int], parts: list[JudgedPart]) -> SaidChange:
    weight = np.array([one.weight for one in parts])
    share = weight / weight.sum()
    year = np.nan
    if readings.calendar is not None and parts[0].part.date >= 0:
        year = float(share @ readings.calendar.years[[one.part.date for one in parts]])
    at = np.array([one.log_factor for one in parts])
    sd = np.maximum([one.log_factor_sd for one in parts], 1e-6)
    below = share @ ndtr((_GRID - at[:, None]) / sd[:, None])
    p05, p50, p95 = np.exp(np.interp([0.05, 0.5, 0.95], below, _GRID))
    return SaidChange(*key, year, float(weight.sum()), float(p50), float(p05), float(p95), tuple(parts))
