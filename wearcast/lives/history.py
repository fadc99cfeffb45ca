"""A record set turned into engines at their as-of moment, shell lives and series of readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import pandas as pd

from wearcast.lives.hours import Use
from wearcast.lives.limits import Limit, LimitBook
from wearcast.lives.shells import Event, Life
from wearcast.queries import Query
from wearcast.records.records import RecordSet

EngineKey = tuple[str, str]
"""Vessel and engine."""


@dataclass(frozen=True)
class EngineAt:
    """One engine at its as-of moment.

    Attributes
    ----------
    as_of : date
        The last counter reading of any kind, or the date asked for.
    as_of_h, as_of_sd_h : float
        Total running hours then [h], and their standard deviation [h] where they were carried forward.
    last_counter_on, last_counter_h : date, float
        The last counter reading used.
    facts : mapping
        The engine's row of the engines table.
    """

    vessel: str
    engine: str
    engine_type: str
    use: Use
    as_of: date
    as_of_h: float
    as_of_sd_h: float
    last_counter_on: date
    last_counter_h: float
    facts: Mapping[str, object]

    @property
    def key(self) -> EngineKey:
        """Vessel and engine."""
        return self.vessel, self.engine


@dataclass(frozen=True)
class Series:
    """One shell life × point: the readings that make one trend.

    Attributes
    ----------
    life : int
        Index into `History.lives`.
    limit : Limit or None
        What its wear is counted against; None where no limit of its class exists.
    governs : bool
        Whether reaching the limit at this point ends the shell's life.
    """

    life: int
    point: str
    limit: Limit | None
    governs: bool


@dataclass(frozen=True)
class History:
    """Everything known before any line is fitted.

    Attributes
    ----------
    engines : mapping of (vessel, engine) to EngineAt
        Engines with at least one counter reading.
    lives : tuple of Life
        Every life of every quantity read or fitted.
    series : tuple of Series
        Every trend, in order of life and point.
    readings : DataFrame
        One row a reading, new walls of the events table included, with `life`, `series` (-1 where none),
        `total_h`, `shell_h` (NaN where the fitting is unknown), `tau_h` (age the fits use: from fitting, or
        from the first reading where that is unknown), `value_20_mm` (diameters
        at 20 °C), `wear_um`, `step_um`, `new_wall`, `opening`.
    events : tuple of Event
        Events up to the as-of moment.
    left_out : tuple of Query
        Refusals whose rows were left out on request.
    assumptions : tuple of str
        What was assumed, in sentences.
    """

    records: RecordSet
    as_of: date | None
    engines: Mapping[EngineKey, EngineAt]
    lives: tuple[Life, ...]
    series: tuple[Series, ...]
    readings: pd.DataFrame
    events: tuple[Event, ...]
    limits: LimitBook
    left_out: tuple[Query, ...]
    assumptions: tuple[str, ...]

    def lost_events(self, life: Life) -> tuple[Query, ...]:
        """Events left out that may have ended, begun or aged a life: its history is incomplete."""
        place = life.place
        return tuple(
            fault
            for fault in self.left_out
            if fault.table == "events"
            and fault.vessel in ("", place.vessel)
            and fault.engine in ("", place.engine)
            and fault.bearing in ("", place.bearing)
            and fault.position in ("", place.position)
            and fault.half in ("", place.half)
        )

    def engine_of(self, life: Life) -> EngineAt:
        """The engine a life belongs to."""
        return self.engines[(life.place.vessel, life.place.engine)]
