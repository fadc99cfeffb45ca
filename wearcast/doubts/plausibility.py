"""Values that cannot be what they say: wrong unit, wrong decimal, gross outlier."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.family import Found, confirmed, place_of, query_of
from wearcast.doubts.slips import Slip, what_it_could_be
from wearcast.frames import rows_of
from wearcast.lives.history import History, Series
from wearcast.lives.limits import Limit
from wearcast.lives.shells import engine_key
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

WALL_BAND_MM = 0.5
"""A wall further than this from its size's new wall is doubted."""

TIMES_NEW = 3.0
"""Any other value above this many times new, or under one over it, is doubted."""

BORE_BAND = 0.1
"""A measured housing bore further than this share from the bore of the engines table is doubted (judgement)."""


def find_implausible(history: History, counted: NDArray[np.bool_]) -> Found:
    """Readings far from new: out of the fits until corrected or confirmed."""
    readings = history.readings
    value_mm = readings["value_mm"].to_numpy(dtype=np.float64)
    low, high = _bounds(history.series)
    at = readings["series"].to_numpy()
    far = counted & ((value_mm < low[at]) | (value_mm > high[at])) & ~confirmed(history)
    queries = []
    for row in rows_of(readings[far]):
        limit = history.series[row.series].limit
        assert limit is not None  # bounds are infinite without one
        queries.append(_slip_query(row, limit))
    bores = _bores(history, counted)
    lost = [*np.flatnonzero(far).tolist(), *bores.not_counted]
    return Found((*queries, *bores.queries), tuple(lost))


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
    if QUANTITIES[limit.quantity].starts_at_zero or limit.new_max_mm <= 0:
        return -np.inf, np.inf
    return limit.new_min_mm / TIMES_NEW, limit.new_max_mm * TIMES_NEW


def _slip_query(row: Any, limit: Limit) -> Query:
    value_mm = float(row.value_mm)
    nearest_mm = float(np.clip(value_mm, limit.new_min_mm, limit.new_max_mm))
    u_um = row.u_um if np.isfinite(row.u_um) else (QUANTITIES[limit.quantity].default_u_um or 10.0)
    evidence = (value_mm - nearest_mm) * UM_PER_MM / u_um
    slip = slip_of(value_mm, limit)
    text = (
        f'found "{row.value_text}" {row.unit} at {place_of(row)}; a new {limit.shell_size} '
        f"{QUANTITIES[limit.quantity].title} here is {limit.new_min_mm:.3f} to {limit.new_max_mm:.3f} mm. {slip.words}"
    )
    ask = "Not counted until it is replaced, withdrawn, or measured again and confirmed."
    return query_of(row, slip.kind, text, ask, evidence)


def slip_of(value_mm: float, limit: Limit) -> Slip:
    """The slip that would bring a value back to where shells in use are: from new to somewhat past the limit."""
    beyond_mm = abs(limit.limit_mm - limit.reference_mm)
    ends = (limit.new_min_mm, limit.new_max_mm, limit.limit_mm)
    return what_it_could_be(value_mm, min(ends) - beyond_mm, max(ends) + beyond_mm)


def _bores(history: History, counted: NDArray[np.bool_]) -> Found:
    """Housing bores of mains far from the bore of the engines table; bores have no limit of their own."""
    readings = history.readings
    chosen = counted & (readings["quantity"] == "housing_bore").to_numpy() & ~confirmed(history)
    chosen &= (readings["bearing"] == "main").to_numpy()
    queries, lost = [], []
    for k, row in zip(np.flatnonzero(chosen).tolist(), rows_of(readings[chosen]), strict=True):
        bore = history.engines[engine_key(row)].facts.get("housing_bore_mm")
        if not isinstance(bore, float) or not np.isfinite(bore) or abs(row.value_mm / bore - 1) <= BORE_BAND:
            continue
        slip = what_it_could_be(row.value_mm, bore * (1 - BORE_BAND), bore * (1 + BORE_BAND))
        text = (
            f'found "{row.value_text}" {row.unit} at {place_of(row)}; the housing bore of this engine is '
            f"{bore:.3f} mm. {slip.words}"
        )
        ask = "Not counted until it is replaced, withdrawn, or measured again and confirmed."
        queries.append(query_of(row, slip.kind, text, ask, row.value_mm / bore))
        lost.append(k)
    return Found(tuple(queries), tuple(lost))
