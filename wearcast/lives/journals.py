"""Shell sizes against the journal they are to run on.

A standard shell on a reground journal has burnt an engine room; a renewal that does not match is refused and
cannot be left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from wearcast.lives.limits import LimitBook
from wearcast.lives.shells import Event, Place, same_size
from wearcast.queries import Query

JOURNAL_STEP_MM = 0.10
"""A journal this far [mm] from its size's new diameters is of another size: under half the usual undersize
step of 0.25 mm (judgement)."""


def journal_faults(
    events: Sequence[Event], readings: pd.DataFrame, engine_type: str, limits: LimitBook
) -> list[Query]:
    """Fittings and renewals of one engine whose shell size does not match the journal.

    Parameters
    ----------
    events : sequence of Event
        All events of one engine.
    readings : DataFrame
        Readings of all engines, for the journal diameters measured.
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
            elif (measured_mm := _measured_mm(event, readings, ground)) is not None:
                faults += _wrong_diameter(event, measured_mm, engine_type, limits)
            journal_size = journal_size or event.shell_size
    return faults


def _wrong_size(event: Event, journal_size: str, ground: Event | None) -> Query:
    why = (
        f"the journal was ground to {journal_size} on {ground.on} (row {ground.row})"
        if ground is not None
        else f"the journal has carried {journal_size} shells and no regrind is recorded"
    )
    return _query(
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
    return [_query(event, text, (event.row,))]


def _measured_mm(event: Event, readings: pd.DataFrame, ground: Event | None) -> float | None:
    """Median journal diameter at the fitting, or the last one before it since the journal was ground [mm]."""
    if event.on is None:
        return None
    place: Place = event.place
    mine = readings[
        (readings["vessel"] == place.vessel)
        & (readings["engine"] == place.engine)
        & (readings["bearing"] == place.bearing)
        & (readings["position"] == place.position)
        & (readings["quantity"] == "journal_diameter")
        & (readings["date"] <= pd.Timestamp(event.on))
    ]
    if ground is not None and ground.on is not None:
        after = mine["date"] > pd.Timestamp(ground.on)
        mine = mine[after | ((mine["date"] == pd.Timestamp(ground.on)) & (mine["state"] == "as_left"))]
    if not len(mine):
        return None
    last = mine[mine["date"] == mine["date"].max()]
    if (last["state"] == "as_left").any():
        last = last[last["state"] == "as_left"]
    return float(np.median(last["value_mm"]))


def _query(event: Event, text: str, rows: tuple[int, ...]) -> Query:
    return Query(
        "journal_size",
        text,
        "Check the part fitted and the journal before anything runs; then correct the record.",
        table="events",
        rows=rows,
        file=event.file,
        sheet=event.sheet,
        column="shell_size",
        found=event.shell_size,
        vessel=event.place.vessel,
        engine=event.place.engine,
        bearing=event.place.bearing,
        position=event.place.position,
        half=event.place.half,
    )
