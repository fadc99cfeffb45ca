"""Axial clearance against both its limits; the smaller one after every closing up.

A thrust bearing closed up with too little axial clearance is wrecked on its first run (Indian Register of
Shipping, Technical Circular 036/2025, tells of one).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.uncertainty import reading_u_um
from wearcast.frames import rows_of
from wearcast.lives.history import History
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Place
from wearcast.units import UM_PER_MM

SAME_UM = 1e-6
"""Below this two lengths are the same; what is left is the rounding of the doubles."""


@dataclass(frozen=True)
class TooSmall:
    """An axial clearance at or below its minimum.

    Attributes
    ----------
    at : int
        The reading (row number from 0 of `History.readings`).
    in_service : bool
        It is the last reading of the thrust shells now in service.
    text : str
        One sentence.
    """

    place: Place
    on: date
    state: str
    value_mm: float
    u_um: float
    minimum: Limit
    at: int
    in_service: bool
    text: str


def axial_clearances(history: History, counted: NDArray[np.bool_]) -> pd.DataFrame:
    """Every axial clearance with its two limits.

    Returns
    -------
    DataFrame
        vessel, engine, bearing, position, date, state, total_h, `value_mm`, `u_um`, `min_mm`, `max_mm` (NaN where
        that side has no limit), `above_min_um` (NaN without one; at or below 0: too small), `at` (row number
        from 0), `life`.
    """
    readings = history.readings
    chosen = counted & (readings["quantity"] == "axial_clearance").to_numpy()
    used = readings.assign(at=np.arange(len(readings)), u=reading_u_um(readings))[chosen]
    limits = {life: _two_sides(history, life) for life in set(used["life"].tolist())}
    least = np.array([_mm(limits[life][0]) for life in used["life"].tolist()], dtype=np.float64)
    most = np.array([_mm(limits[life][1]) for life in used["life"].tolist()], dtype=np.float64)
    value = used["value_mm"].to_numpy(dtype=np.float64)
    names = ["vessel", "engine", "bearing", "position", "date", "state", "total_h", "value_mm", "at", "life"]
    return (
        used[names]
        .assign(u_um=used["u"], min_mm=least, max_mm=most, above_min_um=(value - least) * UM_PER_MM)
        .sort_values(["vessel", "engine", "bearing", "position", "date", "state"], ignore_index=True)
    )


def too_small(history: History, counted: NDArray[np.bool_]) -> tuple[TooSmall, ...]:
    """Axial clearances at or below their minimum, in order of place and date."""
    table = axial_clearances(history, counted)
    last = set(table.drop_duplicates("life", keep="last")["at"].tolist())
    found = []
    for row in rows_of(table[table["above_min_um"] <= SAME_UM]):
        life = history.lives[row.life]
        minimum = _two_sides(history, row.life)[0]
        assert minimum is not None  # above_min_um is NaN without one
        when = "as left" if row.state == "as_left" else "as found"
        text = (
            f"axial clearance {row.value_mm:.3f} mm {when} on {row.date.date()} is "
            f"{'at' if abs(row.above_min_um) <= SAME_UM else f'{-row.above_min_um:.0f} µm under'} the minimum of "
            f"{minimum.limit_mm:.3f} mm ({minimum.source})"
        )
        found.append(
            TooSmall(
                place=life.place,
                on=row.date.date(),
                state=row.state,
                value_mm=row.value_mm,
                u_um=row.u_um,
                minimum=minimum,
                at=row.at,
                in_service=life.in_service and row.at in last,
                text=text,
            )
        )
    return tuple(found)


def _two_sides(history: History, life_index: int) -> tuple[Limit | None, Limit | None]:
    """The minimum and the maximum of an axial clearance's life."""
    life = history.lives[life_index]
    place, engine_type = life.place, history.engine_of(life).engine_type
    key = (engine_type, place.bearing, place.half, life.quantity, life.shell_size)
    return history.limits.other_side(*key), history.limits.find(*key, "")[0]


def _mm(limit: Limit | None) -> float:
    return np.nan if limit is None else limit.limit_mm
