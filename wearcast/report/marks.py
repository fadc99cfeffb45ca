"""Verticals of a chart: what happened at a place, where the engine stands, and the windows ahead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from wearcast.forecasting.calendar import recorded_changes
from wearcast.lives.shells import STANDARD, Event, Life, same_size
from wearcast.quantities import QUANTITIES
from wearcast.report.calendar import calendar_of
from wearcast.report.gather import EngineRecords
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import EVENT_WORDS, month


@dataclass(frozen=True)
class Mark:
    """A vertical: something that happened, or may, at given hours."""

    hours: float
    text: str
    kind: str


def marks_of(records: EngineRecords, life: Life) -> tuple[Mark, ...]:
    """All verticals of a chart: events at the place of a life, the as-of moment, windows."""
    return (*_events(records, life), *_changes(records, life), _as_of(records), *window_marks(records))


def window_marks(records: EngineRecords) -> tuple[Mark, ...]:
    """Windows ahead at the running hours that the engine's yearly use puts them at."""
    engine = records.engine
    if not engine.use.known:
        return ()
    year = timedelta(days=DAYS_PER_YEAR)
    return tuple(
        Mark(
            engine.as_of_h + (window.on - engine.as_of) / year * engine.use.hours_per_year,
            f"{month(window.on)} window",
            "window",
        )
        for window in records.forecast.windows[engine.key]
    )


def _changes(records: EngineRecords, life: Life) -> tuple[Mark, ...]:
    """Recorded changes of what may alter wear: fuel, oil, load, alignment."""
    if not QUANTITIES[life.quantity].forecast:
        return ()
    key, known = records.engine.key, calendar_of(records)
    return tuple(
        Mark(known.hours_on(one.on), f"{month(one.on)} {one.finding or 'change'}", "change")
        for one in recorded_changes(records.forecast.history, life.place.bearing, [key])
        if one.position in ("", life.place.position) and np.isfinite(known.hours_on(one.on))
    )


def _as_of(records: EngineRecords) -> Mark:
    return Mark(records.engine.as_of_h, f"{month(records.engine.as_of)} as of", "as_of")


def _events(records: EngineRecords, first: Life) -> tuple[Mark, ...]:
    """What happened at the place of a life, one mark an hour, named by its weightiest event."""
    weights = ("regrind", "fitted", "renewal", "finding", "refit")
    if QUANTITIES[first.quantity].belongs_to == "shell":
        weights = ("fitted", "renewal", "regrind", "finding", "refit")
    told: dict[float, Event] = {}
    for event in events_at(records, first):
        before = told.get(event.total_h)
        if before is None or weights.index(event.kind) < weights.index(before.kind):
            told[event.total_h] = event
    return tuple(Mark(hours, _told(event), event.kind) for hours, event in sorted(told.items()))


def events_at(records: EngineRecords, life: Life) -> tuple[Event, ...]:
    """Events at the place of a life that mark its trend: all but openings without readings.

    None where no event begins the quantity anew: how the shaft lies does not change with a shell.
    """
    at = life.place
    if not QUANTITIES[life.quantity].restarts_at:
        return ()
    return tuple(
        event
        for event in records.events
        if (event.place.bearing, event.place.position) == (at.bearing, at.position)
        and (not event.place.half or not at.half or event.place.half == at.half)
        and event.kind not in ("counter_change", "opened")
        and np.isfinite(event.total_h)
    )


def _told(event: Event) -> str:
    """Month and what happened: `2019-05 renewed U50`."""
    sized = event.kind in ("fitted", "renewal", "regrind")
    size = "" if not sized or same_size(event.shell_size or STANDARD, STANDARD) else event.shell_size
    on = month(event.on) if event.on else ""
    return " ".join(filter(None, (on, EVENT_WORDS[event.kind], size)))
