"""Which journal diameter a clearance is to be compared with, and how well it is known."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.lives.shells import Place, bearing_key, same_size
from wearcast.units import H_PER_KH, UM_PER_MM

PLACE = ["vessel", "engine", "bearing", "position"]

MEASURED_THEN = "measured then"
MEASURED_ELSEWHEN = "measured at another opening"
ASSUMED = "assumed between new and limit of its size"

JOURNAL_WEAR_UM_PER_KH = 0.2
"""How far a journal may have worn between two openings, taken as uncertainty [µm/kh] (judgement)."""


def place_key(place: Place) -> tuple[str, str, str, str]:
    """Vessel, engine, bearing and position."""
    return bearing_key(place)


def groundings(history: History, frame: pd.DataFrame) -> NDArray[np.int64]:
    """How often the journal of each row's place had been ground by its `date` and `state`, shape (n,)."""
    times = np.zeros(len(frame), dtype=np.int64)
    ground = [event for event in history.events if event.kind == "regrind" and event.on is not None]
    rows = row_numbers_of(frame, PLACE) if ground else {}
    day, left = frame["date"].to_numpy(), (frame["state"] == "as_left").to_numpy()
    for event in ground:
        here = rows.get(place_key(event.place))
        if here is not None:
            on = np.datetime64(str(event.on))
            times[here] += (day[here] > on) | ((day[here] == on) & left[here])
    return times


def with_journal(history: History, used: pd.DataFrame, parts: pd.DataFrame) -> pd.DataFrame:
    """Add `journal` [mm], `journal_u_um` [µm] and `journal_from` to rows of places and openings.

    The mean of the diameters measured at the opening; else those measured nearest to it since the journal was
    last ground; else the middle between new and limit of its size, with a rectangular uncertainty.

    Parameters
    ----------
    used : DataFrame
        Readings to use, with `mm` at 20 °C and `u2`, the squared uncertainty [µm²].
    parts : DataFrame
        With vessel, engine, bearing, position, date, state, total_h, grinding, shell_size.
    """
    journals = used[used["quantity"] == "journal_diameter"]
    keys = [*PLACE, "grinding"]
    measured = (
        journals.assign(grinding=groundings(history, journals))
        .groupby([*keys, "date"], sort=False)
        .agg(total_h=("total_h", "first"), journal=("mm", "mean"), journal_u2=("u2", "mean"))
        .reset_index()
        .rename(columns={"date": "journal_on"})
    )
    measured["journal_h"] = measured["total_h"]
    near = pd.merge_asof(
        parts.assign(order=np.arange(len(parts))).sort_values("total_h", kind="stable"),
        measured.sort_values("total_h", kind="stable"),
        on="total_h",
        by=keys,
        direction="nearest",
    ).sort_values("order", ignore_index=True)
    away_kh = (near["total_h"] - near["journal_h"]).abs().to_numpy(dtype=np.float64) / H_PER_KH
    value_mm = near["journal"].to_numpy(dtype=np.float64, copy=True)
    u_um = np.sqrt(near["journal_u2"].to_numpy(dtype=np.float64) + (JOURNAL_WEAR_UM_PER_KH * away_kh) ** 2)
    known, then = np.isfinite(value_mm), (near["journal_on"] == near["date"]).to_numpy()
    source = np.where(known, np.where(then, MEASURED_THEN, MEASURED_ELSEWHEN), "").astype(object)
    sizes = zip(*(near[name].tolist() for name in ("vessel", "engine", "bearing", "shell_size")), strict=True)
    of_size: dict[tuple[str, str, str], tuple[float, float] | None] = {}
    for k, (vessel, engine, bearing, shell_size) in enumerate(sizes):
        if known[k]:
            continue
        size = (history.engines[(vessel, engine)].engine_type, bearing, shell_size)
        if size not in of_size:
            of_size[size] = journal_of_size(history, *size)
        assumed = of_size[size]
        if assumed is not None:
            (value_mm[k], u_um[k]), source[k] = assumed, ASSUMED
    return near.drop(columns=["order", "journal_on", "journal_h", "journal_u2"]).assign(
        journal=value_mm, journal_u_um=u_um, journal_from=source
    )


def journal_of_size(
    history: History, engine_type: str, bearing: str, shell_size: str
) -> tuple[float, float] | None:
    """Middle between new and limit of one size's journal [mm] and its rectangular uncertainty [µm].

    None where the limits table has no journal of that size.
    """
    limits = [
        limit
        for limit in history.limits.of_class(engine_type, bearing, "", "journal_diameter")
        if same_size(limit.shell_size, shell_size)
    ]
    if not limits:
        return None
    low, high = min(one.limit_mm for one in limits), max(one.new_max_mm for one in limits)
    return (low + high) / 2, (high - low) / 12**0.5 * UM_PER_MM
