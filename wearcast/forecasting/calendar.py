"""Dates on which the wear of a class may have changed, and the hours its engines stood at then."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import EPOCH, Change
from wearcast.units import DAYS_PER_YEAR, H_PER_KH
from wearcast.wear.pooled.calendar import Calendar, change_dates

_USUAL_H_PER_YEAR = 5_000.0  # where no use is known and one counter reading alone: judgement


def year_of(day: date) -> float:
    """A date in years since 1970."""
    return (day - EPOCH).days / DAYS_PER_YEAR


def date_of(year: float) -> date:
    """The date so many years after 1970 began."""
    return date.fromordinal(EPOCH.toordinal() + round(year * DAYS_PER_YEAR))


def recorded_changes(history: History, bearing: str, keys: Sequence[EngineKey]) -> list[Change]:
    """Recorded changes that concern some engines and a kind of bearing, by date."""
    found = [
        one
        for one in history.changes
        if (not one.bearing or one.bearing == bearing)
        and any(one.vessel == vessel and one.engine in ("", engine) for vessel, engine in keys)
    ]
    return sorted(found, key=lambda one: (one.on, one.row))


def class_calendar(
    history: History,
    bearing: str,
    rows: pd.DataFrame,
    keys: Sequence[EngineKey],
    positions: dict[str, int],
    grid: NDArray[np.float64] | None = None,
) -> Calendar | None:
    """The calendar of a class; None where nothing is read.

    Parameters
    ----------
    bearing : str
        Kind of bearing of the class.
    rows : DataFrame
        Its readings.
    keys : sequence of EngineKey
        Its engines, in the order of their labels.
    positions : dict
        Label of every position by its name.
    grid : array, optional
        Dates of unrecorded changes that are looked for; from the readings by default [years].
    """
    read = rows["date"].to_numpy()[~rows["new_wall"].to_numpy(dtype=bool)]
    if not len(read):
        return None
    if grid is None:
        years = _years(read)
        grid = change_dates(float(years.min()), float(years.max()))
    # What is written down for several ships under one date and one word is one change.
    told = list({(c.on, c.finding, c.position): c for c in recorded_changes(history, bearing, keys)}.values())
    dates = np.r_[grid, [year_of(one.on) for one in told]]
    order = np.argsort(dates, kind="stable")
    at = {key: _hours_at(history, key, dates) for key in keys}
    touches = np.ones((len(dates), len(keys)), dtype=bool)
    local: list[NDArray[np.intp]] = [np.zeros(0, dtype=np.intp)] * len(grid)
    for k, one in enumerate(told, start=len(grid)):
        alike = [
            c for c in history.changes if (c.on, c.finding, c.position) == (one.on, one.finding, one.position)
        ]
        touches[k] = [any(c.vessel == v and c.engine in ("", e) for c in alike) for v, e in keys]
        label = positions.get(one.position, -1)
        local.append(np.array([label] if one.position else [], dtype=np.intp))
    vessels = sorted({vessel for vessel, _ in keys})
    return Calendar(
        years=dates[order],
        engines=np.arange(len(keys)),
        hours_kh=np.stack([at[key] for key in keys], axis=1)[order],
        vessel=np.array([vessels.index(vessel) for vessel, _ in keys], dtype=np.intp),
        recorded=(np.arange(len(dates)) >= len(grid))[order],
        touches=touches[order],
        positions=tuple(local[k] for k in order.tolist()),
    )


def _years(dates: NDArray[np.datetime64]) -> NDArray[np.float64]:
    days = dates.astype("datetime64[D]").astype(np.int64)
    return np.asarray(days / DAYS_PER_YEAR, dtype=np.float64)


def _hours_at(history: History, key: EngineKey, years: NDArray[np.float64]) -> NDArray[np.float64]:
    """Total hours of an engine at dates: straight between its dial readings, beyond them at its yearly use [kh]."""
    table, mine = history.readings, history.rows_of_engine.get(key, np.zeros(0, dtype=np.int64))
    known = (
        _years(table["date"].to_numpy()[mine]),
        table["total_h"].to_numpy(dtype=np.float64)[mine] / H_PER_KH,
    )
    order = np.lexsort(known)
    on, total = known[0][order], known[1][order]
    sound = np.isfinite(total)
    on, total = on[sound], np.maximum.accumulate(total[sound])
    use = history.engines[key].use.hours_per_year if key in history.engines else np.nan
    use_kh = (use if np.isfinite(use) else _USUAL_H_PER_YEAR) / H_PER_KH
    if not on.size:
        return np.zeros(len(years))
    within = np.interp(years, on, total)
    before, after = np.minimum(years - on[0], 0.0), np.maximum(years - on[-1], 0.0)
    return np.asarray(within + use_kh * (before + after))
