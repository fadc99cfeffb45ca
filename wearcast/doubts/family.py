"""What a family of slips gives back, and how it names a reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

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
        column="value",
        found=str(row.value_text),
        vessel=row.vessel,
        engine=row.engine,
        bearing=row.bearing,
        position=row.position,
        half=row.half,
        evidence=round(float(evidence), 3),
    )


def place_of(row: Any) -> str:
    """Where a reading was taken, in words: `main 3 lower, crown`."""
    words = " ".join(w for w in (row.bearing.replace("_", " "), row.position, row.half) if w)
    return f"{words}, {row.point.replace('_', ' ')}" if row.point else words
