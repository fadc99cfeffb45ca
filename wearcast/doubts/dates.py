"""One opening written under two dates: the dial has not moved and the sets complete or repeat each other."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.doubts.family import Found, query_of_set, usable
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.queries import Query

SAME_DIAL_H = 1.0
"""Dial readings this close are the same [h]."""

NEAR_DAYS = 10
"""An opening written up over several days lies within this many (judgement)."""

KEY = ["bearing", "position", "half", "point", "quantity", "state", "instrument"]


def find_date_mismatches(history: History, counted: NDArray[np.bool_]) -> Found:
    """Consecutive dates of one engine with the same dial that seem to be one opening.

    Asked about where the dates lie within 10 days, or one is the other with day and month exchanged, or the same
    things were read on both and mostly read the same. What was read twice counts once.
    """
    readings = history.readings
    queries: list[Query] = []
    lost: list[int] = []
    for first, second in same_dial(history, np.flatnonzero(usable(history, counted))):
        twice, equal = _shared(readings.iloc[first], readings.iloc[second])
        days = _dates(readings, first, second)
        near = (days[1] - days[0]).days <= NEAR_DAYS
        if not (near or _exchanged(*days) or (len(equal) and 2 * len(equal) >= len(twice))):
            continue
        repeated = second[equal]
        queries.append(_date_query(history, second, days, len(repeated)))
        lost += repeated.tolist()
    return Found(tuple(queries), tuple(lost))


def same_dial(history: History, at: NDArray[np.intp]) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Readings of consecutive dates of one engine between which the dial did not move, engine by engine."""
    readings = history.readings.iloc[at]
    engine = readings.groupby(["vessel", "engine"], sort=False).ngroup().to_numpy()
    date, total_h = readings["date"].to_numpy(), readings["total_h"].to_numpy(dtype=np.float64)
    order = np.lexsort((date, engine))
    new_engine = np.diff(engine[order]) != 0
    cuts = np.flatnonzero(new_engine | (date[order][1:] != date[order][:-1])) + 1
    starts, ends = np.append(0, cuts), np.append(cuts, len(at))
    by_hours = total_h[np.lexsort((total_h, date, engine))]
    # The median hours of a date, whose rows stand together in the same place in both orders.
    middle_h = (
        (by_hours[(starts + ends - 1) // 2] + by_hours[(starts + ends) // 2]) / 2 if len(at) else starts
    )
    same = (np.abs(np.diff(middle_h)) <= SAME_DIAL_H) & ~new_engine[starts[1:] - 1]
    return [
        (at[order[starts[k] : ends[k]]], at[order[starts[k + 1] : ends[k + 1]]])
        for k in np.flatnonzero(same).tolist()
    ]


def _shared(first: pd.DataFrame, second: pd.DataFrame) -> tuple[list[int], list[int]]:
    """Which rows of the second set were read in the first as well, and which with the same value."""
    before = {
        key: set(first["value_mm"].to_numpy()[rows].round(6))
        for key, rows in row_numbers_of(first, KEY).items()
    }
    value = second["value_mm"].to_numpy().round(6)
    keys = list(zip(*(second[name] for name in KEY), strict=True))
    twice = [k for k, key in enumerate(keys) if key in before]
    return twice, [k for k in twice if value[k] in before[keys[k]]]


def _dates(
    readings: pd.DataFrame, first: NDArray[np.intp], second: NDArray[np.intp]
) -> tuple[pd.Timestamp, pd.Timestamp]:
    dates = readings["date"]
    return pd.Timestamp(dates.iloc[first[0]]), pd.Timestamp(dates.iloc[second[0]])


def _exchanged(one: pd.Timestamp, other: pd.Timestamp) -> bool:
    """Whether one date is the other with day and month exchanged."""
    return one.year == other.year and (one.month, one.day) == (other.day, other.month)


def _date_query(
    history: History,
    second: NDArray[np.intp],
    days: tuple[pd.Timestamp, pd.Timestamp],
    repeated: int,
) -> Query:
    apart = (days[1] - days[0]).days
    again = f", {repeated} readings are on both" if repeated else ""
    exchanged = ", and one date is the other with day and month exchanged" if _exchanged(*days) else ""
    text = (
        f"the readings of {days[0].date()} and {days[1].date()} were taken at the same dial reading, {apart} days "
        f"apart{again}{exchanged}."
    )
    ask = (
        "If it was one opening, give all its rows one date; if the engine stood still between two, confirm the "
        "readings of the second."
    )
    if repeated:
        ask += " What is on both counts once."
    return query_of_set(history, second, "date_mismatch", text, ask, float(apart))
