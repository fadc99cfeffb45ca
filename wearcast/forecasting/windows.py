"""The chances to open bearings that lie ahead of an engine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt


@dataclass(frozen=True)
class Window:
    """One chance to open bearings; `max_openings` is None where not limited."""

    on: date
    name: str
    kind: str
    max_openings: int | None
    row: int

    def __str__(self) -> str:
        """Date and name in words."""
        return f"{self.on} {self.name}".strip()


def windows_ahead(table: pd.DataFrame, engine: EngineAt) -> tuple[Window, ...]:
    """Windows of an engine after its as-of moment, soonest first; of several on one day the first named."""
    mine = table[
        (table["vessel"] == engine.vessel)
        & ((table["engine"] == "") | (table["engine"] == engine.engine))
        & (table["date"] > pd.Timestamp(engine.as_of))
    ].sort_values("date", kind="stable")
    found: dict[date, Window] = {}
    for row in rows_of(mine):
        on = row.date.date()
        most = None if pd.isna(row.max_openings) else int(row.max_openings)
        found.setdefault(on, Window(on, row.name, row.kind, most, int(row.row)))
    return tuple(found.values())


def last_on_or_before(windows: tuple[Window, ...], on: date) -> Window | None:
    """The last chance not later than a date."""
    return next((window for window in reversed(windows) if window.on <= on), None)
