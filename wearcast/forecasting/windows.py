"""The chances to open bearings that lie ahead of an engine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey


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


def windows_ahead(
    table: pd.DataFrame, engines: Mapping[EngineKey, EngineAt]
) -> dict[EngineKey, tuple[Window, ...]]:
    """Windows of each engine after its as-of moment, soonest first; of several on one day the first named."""
    said: dict[str, list[tuple[str, Window]]] = {}
    dated = table[table["date"].notna()].sort_values("date", kind="stable")
    for row in rows_of(dated):
        most = None if pd.isna(row.max_openings) else int(row.max_openings)
        window = Window(row.date.date(), row.name, row.kind, most, int(row.row))
        said.setdefault(row.vessel, []).append((row.engine, window))
    return {key: _ahead(said.get(key[0], ()), engine) for key, engine in engines.items()}


def _ahead(of_vessel: Iterable[tuple[str, Window]], engine: EngineAt) -> tuple[Window, ...]:
    found: dict[date, Window] = {}
    for named, window in of_vessel:
        if named in ("", engine.engine) and window.on > engine.as_of:
            found.setdefault(window.on, window)
    return tuple(found.values())


def last_on_or_before(windows: tuple[Window, ...], on: date) -> Window | None:
    """The last chance not later than a date."""
    return next((window for window in reversed(windows) if window.on <= on), None)
