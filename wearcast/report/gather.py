"""A forecast cut up by engine, once, so that each page finds its own rows without a search."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from wearcast.decide.eased import ChangesByHand, changes_by_hand
from wearcast.forecasting.own import tau_now_h
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast
from wearcast.frames import rows_of
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.shells import Event
from wearcast.queries import Query

OF_THE_ENGINE = frozenset({"alignment_query", "gauge_due", "rate_changed"})
"""Kinds of query that name readings without doubting them: what they show is the matter."""


@dataclass(frozen=True)
class Change:
    """One correction of one cell: what stood there, what stands there now, and why."""

    column: str
    old: str
    new: str
    why: str


@dataclass(frozen=True, eq=False)
class Reading:
    """One reading, with what the forecast made of it.

    Attributes
    ----------
    row : Any
        The row of `History.readings`, as a named tuple.
    counted, in_line : bool
        Whether it is in the forecast, and in the own line.
    """

    row: Any
    counted: bool
    in_line: bool
    queries: tuple[Query, ...]
    changes: tuple[Change, ...]

    @property
    def doubted(self) -> bool:
        """Whether it is drawn hollow: a query names it and nobody has confirmed it, or it is left out."""
        doubts = [query for query in self.queries if query.kind not in OF_THE_ENGINE]
        return not self.counted or (bool(doubts) and not self.confirmed)

    @property
    def confirmed(self) -> bool:
        """Whether somebody measured again and found it right."""
        return bool(self.row.confirmed == 1)  # empty for new walls told by an event

    def text(self, column: str) -> str:
        """A text cell of the row; empty where there is none."""
        value = getattr(self.row, column, "")
        return value if isinstance(value, str) else ""


@dataclass(frozen=True, eq=False)
class EngineRecords:
    """All that belongs to one engine.

    Attributes
    ----------
    lives : tuple of int
        Index into `History.lives`, oldest first at each place.
    readings : mapping of life to its readings, by date
    series : mapping of life to its series
    rows : mapping of life to its row of the forecast table; lives not in service have none.
    row_numbers : mapping of life to the number of that row in `Forecast.table`, from 0.
    """

    forecast: Forecast
    engine: EngineAt
    lives: tuple[int, ...]
    readings: dict[int, list[Reading]]
    series: dict[int, list[int]]
    rows: dict[int, ShellForecast]
    row_numbers: dict[int, int]
    events: tuple[Event, ...]
    queries: tuple[Query, ...]
    left_out: tuple[Query, ...]
    tau_now_h: dict[int, float]
    changes: ChangesByHand

    @cached_property
    def table_rows(self) -> tuple[ShellForecast, ...]:
        """Rows of the forecast table, in its order."""
        return tuple(self.rows.values())

    @cached_property
    def began_h(self) -> dict[int, float]:
        """Total running hours at which the ages of each life start [h]; NaN where there is no reading."""
        now_h = self.engine.as_of_h
        found = {}
        for life in self.lives:
            fitted_h = self.forecast.history.lives[life].fitted_h
            read_h = [reading.row.total_h for reading in self.readings[life]]
            first_h = min((h for h in read_h if np.isfinite(h)), default=np.nan)
            found[life] = fitted_h if np.isfinite(fitted_h) else min(first_h, now_h)
        return found


@dataclass
class _Cut:
    lives: dict[EngineKey, list[int]] = field(default_factory=lambda: defaultdict(list))
    series: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    readings: dict[int, list[Reading]] = field(default_factory=lambda: defaultdict(list))
    rows: dict[EngineKey, dict[int, ShellForecast]] = field(default_factory=lambda: defaultdict(dict))
    events: dict[EngineKey, list[Event]] = field(default_factory=lambda: defaultdict(list))


def cut_by_engine(forecast: Forecast, changes: ChangesByHand | None = None) -> tuple[EngineRecords, ...]:
    """Every engine of a forecast with what belongs to it, in the order of the engines table.

    What was changed by hand is worked out where it is not given.
    """
    history = forecast.history
    cut = _Cut()
    for index, life in enumerate(history.lives):
        cut.lives[(life.place.vessel, life.place.engine)].append(index)
    for index, one in enumerate(history.series):
        cut.series[one.life].append(index)
    numbers = {row.life: k for k, row in enumerate(forecast.rows)}
    for row in forecast.rows:
        place = history.lives[row.life].place
        cut.rows[(place.vessel, place.engine)][row.life] = row
    for event in history.events:
        cut.events[(event.place.vessel, event.place.engine)].append(event)
    _cut_readings(forecast, cut)
    now_h = tau_now_h(history)
    changes = changes or changes_by_hand(forecast)
    of_type: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for row in forecast.rows:
        of_type[row.engine_type].append(row.key)
    return tuple(
        EngineRecords(
            forecast=forecast,
            engine=engine,
            lives=tuple(cut.lives[key]),
            readings={life: cut.readings[life] for life in cut.lives[key]},
            series={life: cut.series[life] for life in cut.lives[key]},
            rows=cut.rows[key],
            row_numbers={life: numbers[life] for life in cut.rows[key]},
            events=tuple(sorted(cut.events[key], key=lambda e: (e.on is not None, e.on, e.row))),
            queries=_of_engine(forecast.queries, key),
            left_out=_of_engine(history.left_out, key),
            tau_now_h={life: float(now_h[life]) for life in cut.lives[key]},
            changes=changes.only(of_type[engine.engine_type]),
        )
        for key, engine in history.engines.items()
    )


def _of_engine(queries: tuple[Query, ...], key: EngineKey) -> tuple[Query, ...]:
    """Queries about an engine, and those about none in particular."""
    return tuple(
        query
        for query in queries
        if query.vessel in ("", key[0]) and (not query.vessel or query.engine in ("", key[1]))
    )


def _cut_readings(forecast: Forecast, cut: _Cut) -> None:
    queries: dict[tuple[str, int], list[Query]] = defaultdict(list)
    for query in forecast.queries:
        for number in dict.fromkeys(query.rows):
            queries[(query.table, number)].append(query)
    changes = _changes(forecast)
    table = forecast.history.readings
    used, in_line = forecast.used.tolist(), forecast.own.in_line.tolist()
    for k, row in enumerate(rows_of(table)):
        at = (row.table, int(row.row))
        cut.readings[row.life].append(
            Reading(row, used[k], in_line[k], tuple(queries.get(at, ())), tuple(changes.get(at, ())))
        )
    for readings in cut.readings.values():
        readings.sort(key=lambda one: (one.row.date, one.row.state == "as_left", one.row.row))


def _changes(forecast: Forecast) -> dict[tuple[str, int], list[Change]]:
    """Cells replaced by corrections, by table and row."""
    found: dict[tuple[str, int], list[Change]] = defaultdict(list)
    for row in rows_of(forecast.history.records.corrections):
        if row.action == "replace":
            why = f"{row.reason}; {row.by}, {row.date.date()}"
            found[(row.table, int(row.row))].append(Change(row.column, row.old, row.new, why))
    return found
