"""The same reading written twice, with the same value or with another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.family import Found, place_of, query_of
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import History
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

KEY = (
    "vessel",
    "engine",
    "date",
    "bearing",
    "position",
    "half",
    "point",
    "quantity",
    "state",
    "instrument",
)
"""What makes two rows the same reading."""

SAME_WITHIN_MM = 1e-6
MOST_ONE_BY_ONE = 3
"""More readings of one opening written twice are told together."""


def find_duplicates(history: History, counted: NDArray[np.bool_]) -> Found:
    """Rows that share a key: equal values count once; of different values none counts until settled."""
    readings = history.readings
    measured = np.flatnonzero(counted & (readings["table"] == "readings").to_numpy())
    queries: list[Query] = []
    alike: dict[tuple[str, str, str], list[Query]] = {}
    lost: list[int] = []
    twice = readings.iloc[measured].duplicated(list(KEY), keep=False).to_numpy()
    again = measured[twice]
    u_um, celsius = (readings[name].to_numpy(dtype=np.float64) for name in ("u_um", "temperature_c"))
    for numbers in row_numbers_of(readings.iloc[again], KEY).values():
        at = again[numbers]
        at = at[
            np.lexsort((celsius[at], -u_um[at]))
        ]  # the one that counts is the same in whatever order they came
        rows = readings.iloc[at]
        value_mm = rows["value_mm"].to_numpy(dtype=np.float64)
        spread_mm = float(np.ptp(value_mm))
        first = next(rows_of(rows))
        where = tuple(int(row) for row in rows["row"])
        if spread_mm <= SAME_WITHIN_MM:
            text = f"the same {QUANTITIES[first.quantity].title} at {place_of(first)} is written twice."
            query = query_of(first, "duplicate", text, "Counted once; withdraw the others.", 0.0, where)
            alike.setdefault((first.vessel, first.engine, str(first.date.date())), []).append(query)
            lost += at[1:].tolist()
            continue
        confirmed = rows["confirmed"].to_numpy(dtype=bool)
        kept = confirmed if len(set(value_mm[confirmed])) == 1 else np.zeros(len(at), dtype=bool)
        if kept.any():
            lost += [*at[~kept].tolist(), *at[kept][1:].tolist()]
            continue
        values = ", ".join(
            f"{text} {unit}" for text, unit in zip(rows["value_text"], rows["unit"], strict=True)
        )
        text = f"one reading at {place_of(first)} is written with different values: {values}."
        ask = "None of them counts until one is confirmed or the others are withdrawn."
        queries.append(query_of(first, "duplicate", text, ask, spread_mm * UM_PER_MM, where))
        lost += at.tolist()
    for (_, _, day), found in alike.items():
        queries += found if len(found) <= MOST_ONE_BY_ONE else [_of_the_opening(found, day)]
    return Found(tuple(queries), tuple(lost))


def _of_the_opening(found: list[Query], day: str) -> Query:
    """One query for an opening that two sheets tell."""
    rows = tuple(sorted({row for one in found for row in one.rows}))
    text = f"{len(found)} readings of the opening of {day} are written twice, the same each time."
    return replace(found[0], text=text, rows=rows, bearing="", position="", half="")
