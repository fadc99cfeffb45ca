"""A journal ground without a new shell."""

from __future__ import annotations

from wearcast.doubts.family import Found
from wearcast.lives.history import History
from wearcast.queries import Query


def find_journal_queries(history: History) -> Found:
    """Regrinds with no shell fitted at the same place on the same day."""
    fitted = {
        (event.place.vessel, event.place.engine, event.place.bearing, event.place.position, event.on)
        for event in history.events
        if event.kind in ("fitted", "renewal")
    }
    queries = tuple(
        Query(
            "journal_query",
            f"the journal at {event.place} was ground to {event.shell_size or 'an unstated size'} on {event.on}, "
            "and no new shell is recorded at that opening.",
            "Add the renewal, or correct the regrind.",
            table="events",
            rows=(event.row,),
            file=event.file,
            sheet=event.sheet,
            column="event",
            found="regrind",
            vessel=event.place.vessel,
            engine=event.place.engine,
            bearing=event.place.bearing,
            position=event.place.position,
            half=event.place.half,
        )
        for event in history.events
        if event.kind == "regrind"
        and (event.place.vessel, event.place.engine, event.place.bearing, event.place.position, event.on)
        not in fitted
    )
    return Found(queries)
