"""What a family of slips gives back, and how it names a reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.lives.history import History
from wearcast.queries import Query


@dataclass(frozen=True)
class Found:
    """Queries of one family, and the readings (row numbers from 0) that do not count until settled."""

    queries: tuple[Query, ...]
    not_counted: tuple[int, ...] = ()


def query_of(row: Any, kind: str, text: str, ask: str, evidence: float, rows: tuple[int, ...] = ()) -> Query:
    """A query about one reading (a row of `History.readings`)."""
    return Query(
        kind,
        text,
        ask,
        table=row.table,
        rows=rows or (int(row.row),),
        file=row.file,
        sheet=row.sheet,
        column="value" if row.table == "readings" else "new_value",
        found=str(row.value_text),
        vessel=row.vessel,
        engine=row.engine,
        bearing=row.bearing,
        position=row.position,
        half=row.half,
        evidence=round(float(evidence), 3),
    )


def query_of_set(
    history: History, at: NDArray[np.intp], kind: str, text: str, ask: str, evidence: float
) -> Query:
    """A query about several readings (row numbers from 0); place cells are filled where all share them."""
    rows = history.readings.iloc[at]
    rows = rows[rows["table"] == "readings"] if (rows["table"] == "readings").any() else rows

    def shared(name: str) -> str:
        values = set(rows[name].tolist())
        return str(values.pop()) if len(values) == 1 else ""

    return Query(
        kind,
        text,
        ask,
        table=shared("table"),
        rows=tuple(sorted(int(row) for row in rows["row"])),
        file=shared("file"),
        sheet=shared("sheet"),
        column="value",
        **{name: shared(name) for name in ("vessel", "engine", "bearing", "position", "half")},
        evidence=round(float(evidence), 3),
    )


def place_of(row: Any) -> str:
    """Where a reading was taken, in words: `main 3 lower, crown`."""
    words = " ".join(w for w in (row.bearing.replace("_", " "), row.position, row.half) if w)
    return f"{words}, {row.point.replace('_', ' ')}" if row.point else words


def confirmed(history: History) -> NDArray[np.bool_]:
    """Readings that were measured again and are right; new walls by their row of the events table."""
    readings = history.readings
    measured = (readings["table"] == "readings").to_numpy()
    of_event = dict(zip(history.records.events["row"], history.records.events["confirmed"], strict=True))
    rows = readings["row"].to_numpy()
    said = readings["confirmed"].to_numpy()
    return np.array(
        [bool(said[k]) if measured[k] else bool(of_event.get(rows[k], False)) for k in range(len(readings))],
        dtype=bool,
    )


def usable(history: History, counted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Readings of the readings table that count so far and are not settled by a confirmation."""
    return counted & ~confirmed(history) & (history.readings["table"] == "readings").to_numpy()
