"""Values that cannot be what they say: wrong unit, wrong decimal, gross outlier."""

from __future__ import annotations

from typing import Any

import numpy as np

from wearcast.doubts.family import Found, place_of, query_of
from wearcast.frames import rows_of
from wearcast.lives.history import History, Series
from wearcast.lives.limits import Limit
from wearcast.quantities import QUANTITIES
from wearcast.units import UM_PER_MM

WALL_BAND_MM = 0.5
"""A wall further than this from its size's new wall is doubted."""

TIMES_NEW = 3.0
"""Any other value above this many times new, or under one over it, is doubted."""

UNIT_FACTORS = {
    1e-3: "the value was in um",
    1e3: "the value was in m, or a thousandth of it was typed",
    25.4: "the value was in inches",
    1 / 25.4: "the value was in mm and the unit says in",
    25.4e-3: "the value was in thousandths of an inch",
}
DECIMAL_FACTORS = {10.0: "one place", 0.1: "one place", 100.0: "two places", 0.01: "two places"}


def find_implausible(history: History) -> Found:
    """Readings far from new: out of the fits until corrected or confirmed."""
    readings = history.readings
    value_mm = readings["value_mm"].to_numpy(dtype=np.float64)
    low, high = _bounds(history.series)
    at = readings["series"].to_numpy()
    far = (value_mm < low[at]) | (value_mm > high[at])
    queries, lost = [], []
    for i, row in zip(np.flatnonzero(far).tolist(), rows_of(readings[far]), strict=True):
        if row.confirmed:
            continue
        limit = history.series[row.series].limit
        assert limit is not None  # bounds are infinite without one
        queries.append(_query(row, limit))
        lost.append(i)
    return Found(tuple(queries), tuple(lost))


def _bounds(series: tuple[Series, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Smallest and largest value believed without asking, series by series [mm]."""
    low, high = np.full(len(series), -np.inf), np.full(len(series), np.inf)
    for k, one in enumerate(series):
        if one.limit is not None:
            low[k], high[k] = plausible_mm(one.limit)
    return low, high


def plausible_mm(limit: Limit) -> tuple[float, float]:
    """Band of values believed without asking [mm]; infinite for quantities without a new value."""
    if limit.quantity == "wall":
        return limit.new_min_mm - WALL_BAND_MM, limit.new_max_mm + WALL_BAND_MM
    if limit.quantity == "wear" or limit.new_max_mm <= 0:
        return -np.inf, np.inf
    return limit.new_min_mm / TIMES_NEW, limit.new_max_mm * TIMES_NEW


def _query(row: Any, limit: Limit) -> Any:
    value_mm = float(row.value_mm)
    nearest_mm = float(np.clip(value_mm, limit.new_min_mm, limit.new_max_mm))
    u_um = row.u_um if np.isfinite(row.u_um) else (QUANTITIES[limit.quantity].default_u_um or 10.0)
    evidence = (value_mm - nearest_mm) * UM_PER_MM / u_um
    kind, guess = _what_it_could_be(value_mm, limit)
    text = (
        f'found "{row.value_text}" {row.unit} at {place_of(row)}; a new {limit.shell_size} '
        f"{QUANTITIES[limit.quantity].title} here is {limit.new_min_mm:.3f} to {limit.new_max_mm:.3f} mm. {guess}"
    )
    ask = "Not counted until it is corrected, withdrawn, or confirmed by measuring again."
    return query_of(row, kind, text, ask, evidence)


def _what_it_could_be(value_mm: float, limit: Limit) -> tuple[str, str]:
    """The kind of slip that would bring the value back, and its sentence."""
    for factor, words in UNIT_FACTORS.items():
        if _usual(value_mm * factor, limit):
            return "unit_slip", f"It would fit as {value_mm * factor:.3f} mm: perhaps {words}."
    for factor, words in DECIMAL_FACTORS.items():
        if _usual(value_mm * factor, limit):
            return (
                "decimal_slip",
                f"It would fit as {value_mm * factor:.3f} mm: perhaps the decimal slipped {words}.",
            )
    return "outlier", "No slip of unit or decimal explains it."


def _usual(value_mm: float, limit: Limit) -> bool:
    """Whether a value lies where shells in use are: from new to somewhat past the limit."""
    beyond_mm = abs(limit.limit_mm - limit.reference_mm)
    ends = (limit.new_min_mm, limit.new_max_mm, limit.limit_mm)
    return min(ends) - beyond_mm <= value_mm <= max(ends) + beyond_mm
