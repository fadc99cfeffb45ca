"""A query about one row of the events table."""

from __future__ import annotations

from wearcast.lives.shells import Event
from wearcast.queries import Query


def query_of_event(
    event: Event, kind: str, text: str, ask: str, column: str, found: str, rows: tuple[int, ...] = ()
) -> Query:
    """A query about an event, its place and cell filled in; `rows` where it is about further rows, too."""
    place = event.place
    return Query(
        kind,
        text,
        ask,
        table="events",
        rows=rows or (event.row,),
        file=event.file,
        sheet=event.sheet,
        column=column,
        found=found,
        vessel=place.vessel,
        engine=place.engine,
        bearing=place.bearing,
        position=place.position,
        half=place.half,
    )
