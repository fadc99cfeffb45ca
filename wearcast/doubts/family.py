"""What a family of slips gives back, and how it names a reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.frames import rows_of
from wearcast.lives.about import query_about
from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.words import place_words

DOUBTED_FROM_U = 4.0
"""Standard uncertainties from which a reading, a gauge, a clearance or a journal is asked about (judgement)."""


@dataclass(frozen=True)
class Found:
    """Queries of one family, and the readings (row numbers from 0) that do not count until settled."""

    queries: tuple[Query, ...]
    not_counted: tuple[int, ...] = ()


def query_of(row: Any, kind: str, text: str, ask: str, evidence: float, rows: tuple[int, ...] = ()) -> Query:
    """A query about one reading (a row of `History.readings`)."""
    return query_about(
        [row],
        kind,
        text,
        ask,
        rows=rows or (int(row.row),),
        column="value" if row.table == "readings" else "new_value",
        found=str(row.value_text),
        evidence=round(float(evidence), 3),
    )


def query_of_set(
    history: History, at: NDArray[np.intp], kind: str, text: str, ask: str, evidence: float
) -> Query:
    """A query about several readings (row numbers from 0); place cells are filled where all share them."""
    rows = history.readings.iloc[at]
    rows = rows[rows["table"] == "readings"] if (rows["table"] == "readings").any() else rows
    return query_about(
        list(rows_of(rows)), kind, text, ask, column="value", evidence=round(float(evidence), 3)
    )


def place_of(row: Any) -> str:
    """Where a reading was taken, in words: `main 3 lower, crown`."""
    return place_words(row.bearing, row.position, row.half, row.point)


def confirmed(history: History) -> NDArray[np.bool_]:
    """Readings that were measured again and are right; new walls by their row of the events table."""
    readings = history.readings
    measured = (readings["table"] == "readings").to_numpy()
    of_event = dict(zip(history.records.events["row"], history.records.events["confirmed"], strict=True))
    sure = readings["confirmed"].eq(True).to_numpy(dtype=bool, copy=True)
    sure[~measured] = [bool(of_event.get(row, False)) for row in readings["row"].to_numpy()[~measured]]
    return sure


def usable(history: History, counted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Readings of the readings table that count so far and are not settled by a confirmation."""
    return counted & ~confirmed(history) & (history.readings["table"] == "readings").to_numpy()
