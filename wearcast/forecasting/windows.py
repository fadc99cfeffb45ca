"""The chances to open bearings that lie ahead of an engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.units import DAYS_PER_YEAR

USUAL_YEARS = 2.5
"""Between windows where fewer than two are listed: half a survey cycle (judgement)."""

LEAST_DAYS = 90
"""Windows nearer to each other are one for the usual spacing (judgement)."""


@dataclass(frozen=True)
class Window:
    """One chance to open bearings; `max_openings` is None where not limited, `row` below 0 where it is not listed."""

    on: date
    name: str
    kind: str
    max_openings: int | None
    row: int

    def __str__(self) -> str:
        """Date and name in words; of one not listed about when."""
        return f"{self.on} {self.name}".strip() if self.row >= 0 else f"about {self.on} ({self.name})"


@dataclass(frozen=True)
class GoingOn:
    """How the windows of one engine go on past the last one listed.

    Attributes
    ----------
    listed : tuple of date
        Those listed, passed or ahead, ascending; where there are none it is not known when.
    every_days : float
        The usual spacing.
    known : bool
        Whether that is the engine's own, from two windows listed or more.
    """

    listed: tuple[date, ...]
    every_days: float
    known: bool

    @property
    def last(self) -> date | None:
        """The last one listed."""
        return self.listed[-1] if self.listed else None

    def passed(self, as_of: date) -> tuple[date, ...]:
        """Those listed up to a date."""
        return tuple(on for on in self.listed if on <= as_of)

    def until(self, ahead: tuple[Window, ...], as_of: date, end: date) -> tuple[Window, ...]:
        """The windows ahead, and those they go on with before a date."""
        if self.last is None:
            return ahead
        made, k = list(ahead), 1
        while (on := self.last + timedelta(days=int(k * self.every_days + 0.5))) < end:
            if on > as_of:
                made.append(Window(on, "not listed", "", None, -k))
            k += 1
        return tuple(one for one in made if one.on < end)

    def __str__(self) -> str:
        """What is taken, in words."""
        months = round(12 * self.every_days / DAYS_PER_YEAR)
        if self.last is None:
            return f"no window is listed: one every {months} months is counted with, at a time not known"
        why = "the usual spacing" if self.known else "judgement, for fewer than two are listed"
        return (
            f"windows are listed to {self.last}; after that one every {months} months is counted with ({why})"
        )


def windows_ahead(
    table: pd.DataFrame, engines: Mapping[EngineKey, EngineAt]
) -> dict[EngineKey, tuple[Window, ...]]:
    """Windows of each engine after its as-of moment, soonest first; of several on one day the first named."""
    listed = _listed(table, engines)
    return {key: tuple(one for one in listed[key] if one.on > engines[key].as_of) for key in engines}


def windows_going_on(table: pd.DataFrame, engines: Mapping[EngineKey, EngineAt]) -> dict[EngineKey, GoingOn]:
    """How the windows of each engine go on past the last one listed."""
    return {key: _going_on([one.on for one in found]) for key, found in _listed(table, engines).items()}


def _going_on(listed: list[date]) -> GoingOn:
    apart = [days for a, b in pairwise(listed) if (days := (b - a).days) >= LEAST_DAYS]
    every = float(median(apart)) if apart else USUAL_YEARS * DAYS_PER_YEAR
    return GoingOn(tuple(listed), every, bool(apart))


def _listed(
    table: pd.DataFrame, engines: Mapping[EngineKey, EngineAt]
) -> dict[EngineKey, tuple[Window, ...]]:
    """Windows of each engine, passed and ahead."""
    said: dict[str, list[tuple[str, Window]]] = {}
    dated = table[table["date"].notna()].sort_values("date", kind="stable")
    for row in rows_of(dated):
        most = None if pd.isna(row.max_openings) else int(row.max_openings)
        window = Window(row.date.date(), row.name, row.kind, most, int(row.row))
        said.setdefault(row.vessel, []).append((row.engine, window))
    found: dict[EngineKey, tuple[Window, ...]] = {}
    for key in engines:
        by_day: dict[date, Window] = {}
        for named, window in said.get(key[0], ()):
            if named in ("", key[1]):
                by_day.setdefault(window.on, window)
        found[key] = tuple(by_day.values())
    return found


def last_on_or_before(windows: tuple[Window, ...], on: date) -> Window | None:
    """The last chance not later than a date."""
    return next((window for window in reversed(windows) if window.on <= on), None)
