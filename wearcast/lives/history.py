"""A record set turned into engines at their as-of moment, shell lives and series of readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import row_numbers_of
from wearcast.lives.hours import Use
from wearcast.lives.limits import Limit, LimitBook
from wearcast.lives.notes import Note
from wearcast.lives.shells import Change, Event, Life, engine_key
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.units import DAYS_PER_YEAR

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

    def at(self, as_of: date) -> EngineAt:
        """The engine at a date, its hours carried forward from the last counter reading at its yearly use."""
        years = (as_of - self.last_counter_on).days / DAYS_PER_YEAR
        if years <= 0 or not self.use.known:
            return replace(self, as_of=as_of, as_of_h=self.last_counter_h, as_of_sd_h=0.0)
        now_h = self.last_counter_h + years * self.use.hours_per_year
        sd_h = self.use.sd_h * float(np.sqrt(years + years**2 / self.use.years))
        return replace(self, as_of=as_of, as_of_h=now_h, as_of_sd_h=sd_h)

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What is taken for its yearly use and its hours at as-of."""
        name, use = f"{self.vessel} {self.engine}", self.use
        said = f"{name}: {use.text}." if use.known else f"{name}: {use.text}; so no calendar dates."
        if self.as_of <= self.last_counter_on:
            return (said,)
        if not use.known:
            still = f"hours stand as on {self.last_counter_on}; no yearly use is known to carry them forward."
            return said, f"{name}: {still}"
        return said, (
            f"{name}: hours carried forward from {self.last_counter_h:.0f} h on {self.last_counter_on} to "
            f"{self.as_of_h:.0f} h (±{self.as_of_sd_h:.0f}) on {self.as_of} at its yearly use."
        )


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


@dataclass(frozen=True, eq=False)
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
        Events up to the as-of moment, but for changes.
    changes : tuple of Change
        What may alter wear, up to the as-of moment.
    left_out : tuple of Query
        Refusals whose rows were left out on request, or with their engines.
    refused : tuple of (vessel, engine)
        Engines left out whole, for a fault is theirs.
    placing : tuple of Note
        What was assumed when the readings were placed.
    """

    records: RecordSet
    as_of: date | None
    engines: Mapping[EngineKey, EngineAt]
    lives: tuple[Life, ...]
    series: tuple[Series, ...]
    readings: pd.DataFrame
    events: tuple[Event, ...]
    changes: tuple[Change, ...]
    limits: LimitBook
    left_out: tuple[Query, ...]
    placing: tuple[Note, ...]
    refused: tuple[EngineKey, ...] = ()

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What was assumed."""
        table = self.records.engines
        said = [
            Note(
                f"{vessel} {engine}: refused until its faults are mended; no forecast, plan or order counts it."
            )
            for vessel, engine in self.refused
        ]
        for key in zip(table["vessel"].tolist(), table["engine"].tolist(), strict=True):
            if key in self.engines:
                said += [Note(text, key) for text in self.engines[key].assumptions]
            else:
                said.append(Note(f"{key[0]} {key[1]}: no counter reading, so no forecast."))
        return (*map(Note, (*self.records.notes, *self._set_aside)), *said, *self.placing)

    @cached_property
    def tables(self) -> dict[tuple[str, bytes], pd.DataFrame]:
        """Companion tables worked out so far, by name and choice of readings; they go with the history."""
        return {}

    @cached_property
    def rows_of_engine(self) -> Mapping[EngineKey, NDArray[np.int64]]:
        """Rows of the readings of every engine that has any."""
        return row_numbers_of(self.readings, ["vessel", "engine"])

    @property
    def assumptions(self) -> tuple[str, ...]:
        """The notes in sentences."""
        return tuple(map(str, self.notes))

    @property
    def _set_aside(self) -> tuple[str, ...]:
        readings, events = self._later_than(self.as_of)
        if not readings and not events:
            return ()
        return (f"As of {self.as_of}: {readings} readings and {events} events dated later are set aside.",)

    def _later_than(self, as_of: date | None) -> tuple[int, int]:
        """Readings and events of the records dated later."""
        if as_of is None:
            return 0, 0
        readings, events = (
            int((table["date"] > pd.Timestamp(as_of)).sum())
            for table in (self.records.readings, self.records.events)
        )
        return readings, events

    def at(self, as_of: date) -> History | None:
        """The same history with every engine at one date; None where other rows count by then."""
        if self._later_than(as_of) != self._later_than(self.as_of):
            return None
        engines = {key: engine.at(as_of) for key, engine in self.engines.items()}
        return replace(self, as_of=as_of, engines=engines)

    @property
    def at_counter(self) -> History:
        """The same history with every engine at its last counter reading."""
        engines = {key: engine.at(engine.last_counter_on) for key, engine in self.engines.items()}
        return replace(self, engines=engines)

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
        return self.engines[engine_key(life.place)]
