"""Shell lives: from fitting to removal, at one place, as one quantity sees them.

A renewal ends one life and starts the next; a refit never does. A wall belongs to its half; a clearance
begins anew when either half or the journal changes; a journal at its regrind.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from wearcast.quantities import QUANTITIES

ASSUME_NEW_WITHIN_H = 24_000.0
"""With no fitting recorded, a shell first read within this many hours of 0 is taken as the first one."""

STANDARD = "standard"

EPOCH = date(1970, 1, 1)


def same_size(one: str, other: str) -> bool:
    """Whether two shell sizes are the same, whatever their case."""
    return one.strip().casefold() == other.strip().casefold()


def engine_key(of: Any) -> tuple[str, str]:
    """Vessel and engine of whatever has both: a place, a query, a row of a table."""
    return of.vessel, of.engine


def bearing_key(of: Any) -> tuple[str, str, str, str]:
    """Vessel, engine, bearing and position of whatever has them, so that both halves have the same."""
    return of.vessel, of.engine, of.bearing, of.position


@dataclass(frozen=True, order=True)
class Place:
    """A place in an engine, never the part: `half` is empty for a bearing as a whole."""

    vessel: str
    engine: str
    bearing: str
    position: str
    half: str = ""

    def __str__(self) -> str:
        """The place in words.

        >>> str(Place("Ossel Brae", "ME", "big_end", "2", "upper"))
        'Ossel Brae ME big end 2 upper'
        """
        words = (self.vessel, self.engine, self.bearing.replace("_", " "), self.position, self.half)
        return " ".join(word for word in words if word)


@dataclass(frozen=True)
class Event:
    """One row of the events table, dial already turned into total hours.

    Attributes
    ----------
    on : date or None
        None for a fitting at an unknown time.
    total_h : float
        Total running hours [h]; NaN where unknown.
    new_wall_mm : float
        Wall measured at fitting [mm]; NaN where not measured.
    hours_sd_h : float
        Standard deviation of the hours [h]; 0 where the dial was read.
    """

    kind: str
    place: Place
    on: date | None
    total_h: float
    shell_size: str
    new_wall_mm: float
    finding: str
    remark: str
    row: int
    hours_sd_h: float = 0.0
    new_wall_text: str = ""
    new_wall_unit: str = ""
    file: str = ""
    sheet: str = ""


@dataclass(frozen=True)
class Change:
    """Something that may alter wear from a date on: a `change` row of the events table.

    Attributes
    ----------
    engine : str
        Empty for every engine of the vessel.
    bearing, position : str
        Empty where it is not local.
    finding : str
        What changed: fuel, oil, load, alignment, filter, or free text.
    """

    vessel: str
    engine: str
    bearing: str
    position: str
    on: date
    finding: str
    row: int
    file: str
    sheet: str


def natural_order(position: str) -> tuple[tuple[str, int], ...]:
    """A key that sorts positions as people do: 2 before 10, A2 before A10 before B1.

    >>> sorted(["B1", "A10", "A2", "3", "12"], key=natural_order)
    ['3', '12', 'A2', 'A10', 'B1']
    """
    parts = re.findall(r"(\D*)(\d*)", position)
    return tuple((text, int(digits) if digits else -1) for text, digits in parts if text or digits)


Fitting = Literal["known", "assumed", "unknown"]


@dataclass(frozen=True)
class Life:
    """One life of a shell (or clearance, journal, …) at one place.

    Attributes
    ----------
    shell_no : int
        1 for the first fitted, 2 after one renewal, …
    fitting : "known", "assumed" or "unknown"
        Whether the hours at fitting are recorded, taken as 0, or not known (ages then count from the first
        reading).
    fitted_h : float
        Total running hours at fitting [h]; NaN where unknown.
    fitted_sd_h : float
        Their standard deviation [h], above 0 where they are those of a date.
    ended_on : date or None
        None for the one in service.
    new_wall_mm : float
        Wall measured when it was new [mm]; NaN where not measured.
    started_by : tuple of int
        Rows of the events table that started it.
    """

    place: Place
    quantity: str
    shell_no: int
    shell_size: str
    fitting: Fitting
    fitted_on: date | None
    fitted_h: float
    ended_on: date | None = None
    ended_h: float = np.nan
    new_wall_mm: float = np.nan
    new_wall_text: str = ""
    new_wall_unit: str = ""
    started_by: tuple[int, ...] = ()
    size_assumed: bool = False
    fitted_sd_h: float = 0.0

    @property
    def in_service(self) -> bool:
        """True until a renewal ends it."""
        return self.ended_on is None


def starts_a_life(event: Event, quantity: str, place: Place, thrust_only: bool = False) -> bool:
    """Whether an event begins a new life of a quantity at a place.

    ``thrust_only``: an axial clearance written under another bearing than `thrust`; it begins anew with any
    thrust shell of the engine.
    """
    if event.kind not in QUANTITIES[quantity].restarts_at:
        return False
    at, where = event.place, place
    if thrust_only:
        return at.bearing == "thrust" and engine_key(at) == engine_key(where)
    if at.position != where.position or bearing_key(at) != bearing_key(where):
        return False
    return not where.half or not at.half or at.half == where.half


def lives_at(
    place: Place,
    quantity: str,
    events: Sequence[Event],
    first_reading_h: float,
    first_reading_on: date | None,
    in_service: date | None = None,
) -> tuple[Life, ...]:
    """The lives of one quantity at one place, oldest first.

    Parameters
    ----------
    events : sequence of Event
        Events of the engine; only those that start a life here count.
    first_reading_h, first_reading_on : float, date or None
        Total hours [h] and date of the first reading here; NaN and None where there is none.
    in_service : date or None
        When the engine entered service, shown as the date of an assumed fitting.
    """
    thrust_only = quantity == "axial_clearance" and place.bearing != "thrust"
    starting = sorted(
        (event for event in events if starts_a_life(event, quantity, place, thrust_only)),
        key=lambda event: (event.on or date.min, event.kind != "regrind", event.row),
    )
    by_opening: list[list[Event]] = []
    for event in starting:
        if by_opening and by_opening[-1][0].on == event.on:
            by_opening[-1].append(event)
        else:
            by_opening.append([event])

    lives: list[Life] = []
    if _someone_came_before(by_opening, first_reading_on):
        lives.append(_unrecorded_first(place, quantity, first_reading_h, in_service, by_opening))
    for together in by_opening:
        if lives:
            lives[-1] = replace(lives[-1], ended_on=together[0].on, ended_h=together[0].total_h)
        lives.append(_started(place, quantity, together, lives))
    return tuple(lives)


def _someone_came_before(by_opening: Sequence[Sequence[Event]], first_reading_on: date | None) -> bool:
    """Whether a shell was there before the first one recorded."""
    if not by_opening:
        return first_reading_on is not None
    first = by_opening[0]
    if all(event.kind != "fitted" for event in first):
        return True  # a renewal or regrind replaces something
    return first_reading_on is not None and first[0].on is not None and first_reading_on < first[0].on


def _unrecorded_first(
    place: Place,
    quantity: str,
    first_reading_h: float,
    in_service: date | None,
    by_opening: Sequence[Sequence[Event]],
) -> Life:
    begins_h = first_reading_h if np.isfinite(first_reading_h) else _first_h(by_opening)
    assumed = bool(np.isfinite(begins_h) and begins_h <= ASSUME_NEW_WITHIN_H)
    return Life(
        place,
        quantity,
        shell_no=1,
        shell_size=STANDARD,
        fitting="assumed" if assumed else "unknown",
        fitted_on=in_service if assumed else None,
        fitted_h=0.0 if assumed else np.nan,
        size_assumed=True,
    )


def _first_h(by_opening: Sequence[Sequence[Event]]) -> float:
    return by_opening[0][0].total_h if by_opening else np.nan


def _started(place: Place, quantity: str, together: Sequence[Event], before: Sequence[Life]) -> Life:
    sizes = [event.shell_size for event in together if event.shell_size]
    inherited = before[-1].shell_size if before else STANDARD
    measured = [event for event in together if np.isfinite(event.new_wall_mm)]
    own_wall = measured[-1] if measured and QUANTITIES[quantity].belongs_to == "shell" else None
    known = np.isfinite(together[0].total_h)
    return Life(
        place,
        quantity,
        shell_no=len(before) + 1,
        shell_size=sizes[-1] if sizes else inherited,
        fitting="known" if known else "unknown",
        fitted_on=together[0].on,
        fitted_h=together[0].total_h,
        new_wall_mm=own_wall.new_wall_mm if own_wall else np.nan,
        new_wall_text=own_wall.new_wall_text if own_wall else "",
        new_wall_unit=own_wall.new_wall_unit if own_wall else "",
        started_by=tuple(event.row for event in together),
        size_assumed=not sizes,
        fitted_sd_h=together[0].hours_sd_h,
    )


def life_of(
    lives: Sequence[Life], day: NDArray[np.int64], state: NDArray[np.object_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Which life each reading belongs to, by its day and state.

    At the opening that ends one life and starts the next, what was found belongs to the shell taken out and
    what was left to the one put in; an empty state cannot be placed.

    Parameters
    ----------
    lives : sequence of Life
        The lives of one quantity at one place, oldest first.
    day : ndarray of int, shape (n,)
        Days since 1970-01-01.
    state : ndarray of str, shape (n,)
        `as_found`, `as_left` or empty.

    Returns
    -------
    index : ndarray of int, shape (n,)
        Index into `lives`.
    state_needed : ndarray of bool, shape (n,)
        True where only a state could tell.
    """
    starts = np.array(
        [(life.fitted_on - EPOCH).days for life in lives[1:] if life.fitted_on is not None], dtype=np.int64
    )
    index = np.searchsorted(starts, day, side="left").astype(np.int64)
    on_the_day = np.isin(day, starts)
    return index + (on_the_day & (state == "as_left")), on_the_day & (state == "")
