"""Shell sizes against the journal they are to run on.

A standard shell on a reground journal has burnt an engine room; a renewal that does not match is refused and
cannot be left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import row_numbers_of
from wearcast.lives.about import query_of_event
from wearcast.lives.limits import LimitBook
from wearcast.lives.shells import EPOCH, Event, bearing_key, same_size
from wearcast.queries import Query

JOURNAL_STEP_MM = 0.10
"""A journal this far [mm] from its size's new diameters is of another size: under half the usual undersize
step of 0.25 mm (judgement)."""


@dataclass(frozen=True, eq=False)
class JournalReadings:
    """Journal diameters read at one place, arrays of one value a reading."""

    day: NDArray[np.int64]
    value_mm: NDArray[np.float64]
    as_left: NDArray[np.bool_]


Journals = Mapping[tuple[str, str, str, str], JournalReadings]
"""By vessel, engine, bearing and position."""


def journal_readings(readings: pd.DataFrame) -> Journals:
    """Journal diameters by place, from readings with `day`."""
    read = readings[readings["quantity"] == "journal_diameter"]
    day = read["day"].to_numpy(dtype=np.int64)
    value_mm = read["value_mm"].to_numpy(dtype=np.float64)
    as_left = (read["state"] == "as_left").to_numpy(dtype=bool)
    return {
        (key[0], key[1], key[2], key[3]): JournalReadings(day[rows], value_mm[rows], as_left[rows])
        for key, rows in row_numbers_of(read, ["vessel", "engine", "bearing", "position"]).items()
    }


def journal_faults(
    events: Sequence[Event], journals: Journals, engine_type: str, limits: LimitBook
) -> list[Query]:
    """Fittings and renewals of one engine whose shell size does not match the journal.

    Parameters
    ----------
    events : sequence of Event
        All events of one engine.
    journals : mapping
        Journal diameters measured, from `journal_readings`.
    """
    faults: list[Query] = []
    for bearing, position in dict.fromkeys((e.place.bearing, e.place.position) for e in events):
        here = sorted(
            (
                e
                for e in events
                if (e.place.bearing, e.place.position) == (bearing, position)
                and e.kind in ("fitted", "renewal", "regrind")
            ),
            key=lambda e: (e.on or date.min, e.kind != "regrind", e.row),
        )
        journal_size, ground = "", None
        for event in here:
            if event.kind == "regrind":
                journal_size, ground = event.shell_size, event
                continue
            if journal_size and not same_size(event.shell_size, journal_size):
                faults.append(_wrong_size(event, journal_size, ground))
            elif (measured_mm := _measured_mm(event, journals, ground)) is not None:
                faults += _wrong_diameter(event, measured_mm, engine_type, limits)
            journal_size = journal_size or event.shell_size
    return faults


def _wrong_size(event: Event, journal_size: str, ground: Event | None) -> Query:
    why = (
        f"the journal was ground to {journal_size} on {ground.on} (row {ground.row})"
        if ground is not None
        else f"the journal has carried {journal_size} shells and no regrind is recorded"
    )
    return _size_query(
        event,
        f"a shell of size {event.shell_size} at {event.place}, but {why}.",
        (event.row,) if ground is None else (event.row, ground.row),
    )


def _wrong_diameter(event: Event, measured_mm: float, engine_type: str, limits: LimitBook) -> list[Query]:
    place = event.place
    rows = [
        limit
        for limit in limits.of_class(engine_type, place.bearing, "", "journal_diameter")
        if same_size(limit.shell_size, event.shell_size)
    ]
    if not rows or all(
        limit.new_min_mm - JOURNAL_STEP_MM <= measured_mm <= limit.new_max_mm + JOURNAL_STEP_MM
        for limit in rows
    ):
        return []
    new = rows[0]
    text = (
        f"a shell of size {event.shell_size} at {place}, but the journal measures {measured_mm:.3f} mm; a "
        f"journal of that size is {new.new_min_mm:.3f} to {new.new_max_mm:.3f} mm when new."
    )
    return [_size_query(event, text, (event.row,))]


def _measured_mm(event: Event, journals: Journals, ground: Event | None) -> float | None:
    """Median journal diameter at the fitting, or the last one before it since the journal was ground [mm]."""
    place = event.place
    read = journals.get(bearing_key(place))
    if event.on is None or read is None:
        return None
    since = read.day <= (event.on - EPOCH).days
    if ground is not None and ground.on is not None:
        ground_day = (ground.on - EPOCH).days
        since &= (read.day > ground_day) | ((read.day == ground_day) & read.as_left)
    if not since.any():
        return None
    last = since & (read.day == read.day[since].max())
    if (last & read.as_left).any():
        last &= read.as_left
    return float(np.median(read.value_mm[last]))


def _size_query(event: Event, text: str, rows: tuple[int, ...]) -> Query:
    ask = "Check the part fitted and the journal before anything runs; then correct the record."
    return query_of_event(event, "journal_size", text, ask, "shell_size", event.shell_size, rows)
