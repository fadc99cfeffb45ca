"""Damage seen on a shell that is still in service: it overrides any trend."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.findings import listed_term
from wearcast.doubts.family import Found
from wearcast.lives.about import query_of_event
from wearcast.lives.history import History
from wearcast.lives.shells import Event
from wearcast.queries import Query


def find_damage(history: History, counted: NDArray[np.bool_]) -> Found:  # noqa: ARG001  (no reading is looked at)
    """Findings on shells in service; one made on the day a shell was put in is of the shell taken out."""
    fitted: dict[tuple[str, ...], date] = {}
    for event in history.events:
        if event.kind in ("fitted", "renewal") and event.on is not None:
            key = _key(event, event.place.half)
            fitted[key] = max(event.on, fitted.get(key, event.on))
    return Found(
        tuple(
            _damage_query(event)
            for event in history.events
            if event.kind == "finding" and event.on is not None and _in_service(event, fitted)
        )
    )


def _key(event: Event, half: str) -> tuple[str, ...]:
    place = event.place
    return place.vessel, place.engine, place.bearing, place.position, half


def _in_service(event: Event, fitted: dict[tuple[str, ...], date]) -> bool:
    """Whether a shell that the finding may be of lies there still: of either half where it names none."""
    halves = (event.place.half,) if event.place.half else ("upper", "lower", "")
    known = [fitted[_key(event, half)] for half in halves if _key(event, half) in fitted]
    assert event.on is not None
    return not known or min(known) < event.on


def _damage_query(event: Event) -> Query:
    listed = listed_term(event.finding)
    named = f"{event.finding} ({listed.tells})" if listed else f'"{event.finding}"'
    text = f"damage noted at {event.place} on {event.on}: {named}, and no renewal is recorded since."
    ask = "Damage overrides the trend, whatever wall is left. If the shell was renewed, add the event."
    return query_of_event(event, "damage_noted", text, ask, "finding", event.finding)
