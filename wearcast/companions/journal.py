"""The journal itself: diameter at 20 °C, ovality, taper, size, and how fast it wears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.journal_parts import PLACE, groundings, place_key
from wearcast.companions.uncertainty import reading_u_um
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.lives.journals import JOURNAL_STEP_MM
from wearcast.lives.shells import STANDARD, same_size
from wearcast.lives.temperature import value_at_20_mm
from wearcast.units import H_PER_KH, UM_PER_MM
from wearcast.wear.own_line import fit_lines

UNDERSIZE_STEP_MM = 0.25
"""Journals are ground in steps of this in diameter [mm] (common practice, no source)."""

_OPENING = [*PLACE, "date", "state"]

COLUMNS = (
    *_OPENING, "total_h", "grinding", "diameter_mm", "diameter_u_um", "temperature_c", "correction_um",
    "ovality_um", "station", "taper_um", "shape_u_um", "size", "off_size_um", "step_mm", "shell_size", "matches",
    "rows",
)  # fmt: skip


@dataclass(frozen=True)
class Shape:
    """How far from round and straight a journal is.

    Attributes
    ----------
    ovality_um : float
        Vertical less horizontal diameter at the station where they differ most [µm]; NaN where no station has
        both.
    station : str
        That station.
    taper_um : float
        Diameter at the first station less that at the last [µm]; NaN where only one was read.
    """

    ovality_um: float
    station: str
    taper_um: float


def shape_of(diameter_mm: dict[str, float]) -> Shape:
    """Ovality and taper from the diameters at the points v1 … h3 [mm].

    Examples
    --------
    >>> shape = shape_of({"v1": 219.98, "h1": 220.0, "v3": 219.97, "h3": 219.98})
    >>> round(shape.ovality_um), shape.station, round(shape.taper_um)
    (-20, '1', 15)
    """
    stations = sorted({point[1:] for point in diameter_mm})
    means = {
        station: np.mean([mm for point, mm in diameter_mm.items() if point[1:] == station])
        for station in stations
    }
    oval = {
        station: (diameter_mm[f"v{station}"] - diameter_mm[f"h{station}"]) * UM_PER_MM
        for station in stations
        if f"v{station}" in diameter_mm and f"h{station}" in diameter_mm
    }
    worst = max(oval, key=lambda station: abs(oval[station]), default="")
    return Shape(
        ovality_um=float(oval.get(worst, np.nan)),
        station=worst,
        taper_um=float((means[stations[0]] - means[stations[-1]]) * UM_PER_MM)
        if len(stations) > 1
        else np.nan,
    )


def journals_at_openings(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """Every journal measured, opening by opening, beside the shells that run on it.

    Returns
    -------
    DataFrame
        One row a place x opening x state: `PLACE`, `date`, `state`, `total_h`, `grinding`; `diameter_mm` (mean of
        the points at 20 °C) and `diameter_u_um` (of one reading: the points share the gauge); `temperature_c`
        and `correction_um` (what 20 °C changed); `ovality_um`, `station`, `taper_um` and `shape_u_um` (their
        standard uncertainty, √2 of one reading); `size` (the size whose journals it comes nearest to, empty
        without limits), `off_size_um` (0 between its limit and new, else how far outside), `step_mm` (steps of
        0.25 mm under standard); `shell_size` of the shells recorded there; `matches` (True, False, or None
        where nothing can be said); `rows` (row numbers from 0).
    """
    readings = history.readings
    at = np.flatnonzero(counted & (readings["quantity"] == "journal_diameter").to_numpy())
    used = readings.iloc[at]
    used = used.assign(
        mm=value_at_20_mm(used), u2=reading_u_um(used) ** 2, grinding=groundings(history, used)
    )
    columns = {name: used[name].to_numpy() for name in _NEEDED}
    fitted = _fittings(history)
    rows = [
        {
            **dict(zip(_OPENING, key, strict=True)),
            **_one_opening(history, key, columns, k, fitted),
            "rows": at[k],
        }
        for key, k in row_numbers_of(used, _OPENING).items()
    ]
    table = pd.DataFrame(rows, columns=list(COLUMNS)).sort_values(_OPENING, ignore_index=True)
    return table.assign(rows=pd.Series([tuple(one.tolist()) for one in table["rows"]], dtype=object))


_NEEDED = ("point", "mm", "u2", "value_mm", "temperature_c", "total_h", "grinding")


def _one_opening(
    history: History,
    key: tuple[Any, ...],
    columns: dict[str, NDArray[Any]],
    k: NDArray[np.int64],
    fitted: _Fittings,
) -> dict[str, object]:
    """What one journal measured at one opening comes to; `k` are its readings in the columns."""
    vessel, engine, bearing, position, on, state = key
    mm, points = columns["mm"][k], columns["point"][k]
    by_point = {str(point): float(np.mean(mm[points == point])) for point in dict.fromkeys(points) if point}
    shape = shape_of(by_point) if by_point else Shape(np.nan, "", np.nan)
    diameter_mm, u_um = float(np.mean(mm)), float(np.sqrt(np.mean(columns["u2"][k])))
    shell_size = _size_at(
        fitted.get((vessel, engine, bearing, position), ()), pd.Timestamp(on).date(), state == "as_left"
    )
    engine_type = history.engines[(vessel, engine)].engine_type
    size, off_um, step_mm = nearest_size(history, engine_type, bearing, diameter_mm)
    matches = same_size(size, shell_size) and abs(off_um) <= JOURNAL_STEP_MM * UM_PER_MM if size else None
    warm = columns["temperature_c"][k].astype(np.float64)
    return {
        "total_h": float(columns["total_h"][k[0]]),
        "grinding": int(columns["grinding"][k[0]]),
        "diameter_mm": diameter_mm,
        "diameter_u_um": u_um,
        "temperature_c": float(np.mean(warm)),
        "correction_um": float(np.mean(mm - columns["value_mm"][k])) * UM_PER_MM,
        "ovality_um": shape.ovality_um,
        "station": shape.station,
        "taper_um": shape.taper_um,
        "shape_u_um": u_um * 2**0.5,
        "size": size,
        "off_size_um": off_um,
        "step_mm": step_mm,
        "shell_size": shell_size,
        "matches": matches,
    }


def nearest_size(
    history: History, engine_type: str, bearing: str, diameter_mm: float
) -> tuple[str, float, float]:
    """The size a journal comes nearest to, how far it lies outside it [µm], and its undersize step [mm].

    A journal belongs to a size between that size's limit and its new maximum. Without limits: empty and NaN.
    """
    best: tuple[str, float] | None = None
    step_mm = np.nan
    for limit in history.limits.of_class(engine_type, bearing, "", "journal_diameter"):
        low, high = min(limit.limit_mm, limit.new_min_mm), limit.new_max_mm
        off_um = (diameter_mm - float(np.clip(diameter_mm, low, high))) * UM_PER_MM
        if best is None or abs(off_um) < abs(best[1]):
            best = limit.shell_size, off_um
        if same_size(limit.shell_size, STANDARD):
            under_mm = limit.reference_mm - diameter_mm
            step_mm = round(under_mm / UNDERSIZE_STEP_MM) * UNDERSIZE_STEP_MM
    return (*best, step_mm) if best is not None else ("", np.nan, np.nan)


_Fittings = dict[tuple[str, ...], list[tuple[date, str]]]


def _fittings(history: History) -> _Fittings:
    """Date and size of every shell fitted, by place."""
    found: _Fittings = {}
    for event in history.events:
        if event.kind in ("fitted", "renewal") and event.shell_size:
            found.setdefault(place_key(event.place), []).append((event.on or date.min, event.shell_size))
    return {place: sorted(fitted) for place, fitted in found.items()}


def _size_at(fitted: Sequence[tuple[date, str]], on: date, left: bool) -> str:
    """The size of the shells that lie in a place; standard where none is recorded."""
    before = [size for day, size in fitted if day < on or (left and day == on)]
    return before[-1] if before else STANDARD


def journal_trends(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """How fast each journal wears since it was last ground.

    Returns
    -------
    DataFrame
        One row a place x grinding: `PLACE`, `grinding`, `openings`, `first_on`, `last_on`, `wear_rate_um_per_kh`
        (loss positive) and `wear_rate_u_um_per_kh`, NaN with one opening; the straight line through the mean
        diameters, weighted by their uncertainty (`wear.own_line.fit_lines`).
    """
    table = journals_at_openings(history, counted)
    keys = [*PLACE, "grinding"]
    groups = row_numbers_of(table, keys)
    series = np.zeros(len(table), dtype=np.intp)
    for k, rows in enumerate(groups.values()):
        series[rows] = k
    lines = fit_lines(
        table["total_h"].to_numpy(dtype=np.float64) / H_PER_KH,
        -table["diameter_mm"].to_numpy(dtype=np.float64) * UM_PER_MM,
        table["diameter_u_um"].to_numpy(dtype=np.float64),
        series,
        len(groups),
    )
    days = table.groupby(keys, sort=False)["date"].agg(["min", "max"])
    return pd.DataFrame(list(groups), columns=keys).assign(
        openings=lines.readings,
        first_on=days["min"].to_numpy(),
        last_on=days["max"].to_numpy(),
        wear_rate_um_per_kh=lines.rate_um_per_kh,
        wear_rate_u_um_per_kh=lines.rate_u_um_per_kh,
    )
