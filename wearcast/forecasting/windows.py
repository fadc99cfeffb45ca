"""The chances to open bearings that lie ahead of an engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey, History
from wearcast.lives.shells import engine_key
from wearcast.units import DAYS_PER_YEAR

USUAL_YEARS = 2.5
"""Between windows where neither the list nor past openings tell: half a survey cycle (judgement)."""

LEAST_OPENINGS = 3
"""Past openings, so far apart as windows, from which they tell how often an engine is opened (judgement)."""

LIST, OPENINGS = "windows listed", "past openings"

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
        Those listed, passed or ahead, ascending, and the past openings where these tell the spacing; where there are
        none it is not known when.
    every_days : float
        The usual spacing.
    known_by : str
        From what: the windows listed (two or more), else past openings (three or more); empty where from neither.
    """

    listed: tuple[date, ...]
    every_days: float
    known_by: str

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
        every = f"one every {months} months is counted with"
        if self.last is None:
            return f"no window is listed: {every}, at a time not known"
        if self.known_by == OPENINGS:
            return (
                f"fewer than two windows are listed: from {self.last} on {every}, as past openings were apart"
            )
        why = "the usual spacing" if self.known_by else "judgement, for fewer than two are listed"
        return f"windows are listed to {self.last}; after that {every} ({why})"


def windows_ahead(
    table: pd.DataFrame, engines: Mapping[EngineKey, EngineAt]
) -> dict[EngineKey, tuple[Window, ...]]:
    """Windows of each engine after its as-of moment, soonest first; of several on one day the first named."""
    listed = _listed(table, engines)
    return {key: tuple(one for one in listed[key] if one.on > engines[key].as_of) for key in engines}


def windows_going_on(history: History) -> dict[EngineKey, GoingOn]:
    """How the windows of each engine go on past the last one listed."""
    opened = _opened(history)
    return {
        key: going_on([one.on for one in found], opened.get(key, set()))
        for key, found in _listed(history.records.windows, history.engines).items()
    }


def _opened(history: History) -> dict[EngineKey, set[date]]:
    """The days on which each engine was opened."""
    found: dict[EngineKey, set[date]] = {}
    read = history.readings[history.readings["table"] == "readings"][["vessel", "engine", "date"]]
    for vessel, engine, on in read.drop_duplicates().itertuples(index=False):
        found.setdefault((vessel, engine), set()).add(on.date())
    for event in history.events:
        if event.kind in ("opened", "renewal", "refit", "regrind") and event.on is not None:
            found.setdefault(engine_key(event.place), set()).add(event.on)
    return found


def going_on(listed: list[date], opened: set[date]) -> GoingOn:
    """How windows go on past those listed, of an engine that was opened on some days."""
    apart, known_by = _apart(listed), LIST
    if not apart and len(_apart(sorted(opened))) >= LEAST_OPENINGS - 1:
        listed, known_by = sorted(opened | set(listed)), OPENINGS  # an opening was a chance to open
        apart = _apart(listed)
    every = float(median(apart)) if apart else USUAL_YEARS * DAYS_PER_YEAR
    return GoingOn(tuple(listed), every, known_by if apart else "")


def _apart(days: list[date]) -> list[int]:
    return [apart for a, b in pairwise(days) if (apart := (b - a).days) >= LEAST_DAYS]


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
