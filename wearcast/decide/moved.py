"""What moved since then, and what moved it: forecast again, one ingredient after the other, so that steps add up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wearcast.decide.plan import plan_at
from wearcast.decide.stand import stand_of
from wearcast.errors import InputRefused
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast, forecast
from wearcast.lives.history import EngineKey
from wearcast.lives.only import Only
from wearcast.progress import counting
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.sources import read

PROGRAM, CORRECTIONS, HOURS = "another version of the program", "corrections", "hours sailed"
SISTERS, OWN, LIMITS = "sisters' readings", "own readings", "limits or windows"
CAUSES = (PROGRAM, CORRECTIONS, HOURS, SISTERS, OWN, LIMITS)
"""What can move a forecast, in the order in which it is let in."""

NOTABLE_DAYS = 14
"""Days by which an early date must have moved to be told (judgement)."""

RowKey = tuple[str, str, str, str, str, str]

_READING = (
    "vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state", "instrument",
)  # fmt: skip
_EVENT = ("vessel", "engine", "date", "bearing", "position", "half", "event")


@dataclass(frozen=True)
class Move:
    """One shell in service × quantity, then and now.

    Attributes
    ----------
    then, now : date or None
        The early date; None where there is none, or nothing was in service.
    steps : tuple of (cause, days or None)
        How far each cause moved it [days], later is positive, largest first; None where it had or got no date.
    statements, openings : tuple
        What was said and when the plan opened it, then and now.
    """

    key: RowKey
    then: date | None
    now: date | None
    steps: tuple[tuple[str, int | None], ...]
    statements: tuple[str, str]
    openings: tuple[date | None, date | None]

    @property
    def days(self) -> int | None:
        """How far the early date moved [days]."""
        return None if self.then is None or self.now is None else (self.now - self.then).days

    @property
    def notable(self) -> bool:
        """Whether it is told: the date moved by weeks, came or went, or statement or opening are others."""
        dated = self.days is None and self.then is not self.now
        return (
            dated
            or abs(self.days or 0) >= NOTABLE_DAYS
            or self.statements[0] != self.statements[1]
            or self.openings[0] != self.openings[1]
        )


@dataclass(frozen=True, eq=False)
class Moved:
    """What moved between two states of one fleet's records, what matters most first."""

    since: date
    moves: tuple[Move, ...]

    @property
    def notable(self) -> tuple[Move, ...]:
        """Those that are told."""
        return tuple(one for one in self.moves if one.notable)

    def narrowed(self, only: Only) -> Moved:
        """Those of the places asked for."""
        return replace(self, moves=tuple(one for one in self.moves if only.holds(*one.key[:4])))

    @property
    def table(self) -> pd.DataFrame:
        """One row a shell in service × quantity."""
        return pd.DataFrame([_values(one) for one in self.moves], columns=list(COLUMNS))


COLUMNS = (
    "vessel", "engine", "bearing", "position", "half", "quantity", "date_p10_then", "date_p10_now",
    *(f"days_by_{name.replace(' ', '_').replace(chr(39), '')}" for name in CAUSES),
    "statement_then", "statement_now", "opening_then", "opening_now",
)  # fmt: skip
"""The columns of the table, in order."""


def _values(one: Move) -> tuple[Any, ...]:
    days = dict(one.steps)
    return (*one.key, one.then, one.now, *(days[name] for name in CAUSES), *one.statements, *one.openings)


def as_of_then(source: str | Path, now: RecordSet, since: date) -> RecordSet:
    """The records as they were: a book as known on that day, other records by the dates of their rows.

    Raises
    ------
    WrongUse
        If a book held nothing on that day.
    """
    from wearcast.book.address import is_book

    if is_book(source):
        from wearcast.book.read import read as read_book

        return read_book(source, since, since)
    tables = dict(now.tables)
    for name in ("readings", "events"):
        tables[name] = now.tables[name][~(now.tables[name]["date"] > pd.Timestamp(since)).to_numpy()]
    return replace(now, tables=tables, run_date=since)


def moved_since(
    source: str | Path,
    since: date,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
) -> Moved:
    """What moved in the records of one place since a day."""
    now = read(source)
    return moved(as_of_then(source, now, since), now, settings, leave_out_faulty)


def moved(
    then: RecordSet,
    now: RecordSet,
    settings: Settings | None = None,
    leave_out_faulty: bool = False,
    stated: Mapping[RowKey, date | None] | None = None,
    last: Forecast | None = None,
) -> Moved:
    """What moved between two states of the records.

    Parameters
    ----------
    then, now : RecordSet
    stated : mapping of row key to date, optional
        Early dates that another version of the program stated then.
    last : Forecast, optional
        The forecast of `now`, where it is made already.

    Notes
    -----
    One ingredient after another is let in, and all is forecast again: corrections; the dials that were read since and
    the yearly use; what was read and done on sisters; on the own engine; limits, windows and all the rest. Each step is
    the difference of two forecasts, so that they add up to the whole; in another order they would share it otherwise.
    """
    settings = settings or Settings()
    step = _Steps(then, now, settings)
    first = forecast(then, None, settings, leave_out_faulty)
    last = last or forecast(now, None, settings, leave_out_faulty)
    if refused := [fault for one in (first, last) if one.history.refused for fault in one.history.left_out]:
        raise InputRefused(refused)  # what moved rests on the same engines then and now
    corrected = step.forecast(step.corrected, first)
    sailed = step.forecast(step.with_hours(()), corrected)
    every = step.forecast(step.with_rows(()), sailed)
    opened = step.opened
    alone = {key: step.forecast(step.with_rows((key,)), sailed) for key in counting("engine", opened)}
    plans = [_openings(one, settings.risk) for one in (first, last)]
    found = []
    by_state = [{row.key: row for row in one.rows} for one in (first, corrected, sailed, every, last)]
    others = {key: {row.key: row for row in one.rows} for key, one in alone.items()}
    for key in dict.fromkeys((*by_state[-1], *by_state[0])):
        on = [_early(state.get(key)) for state in by_state]
        sisters = _early(others[key[:2]].get(key)) if key[:2] in others else on[3]
        before = on[0] if stated is None else stated.get(key, on[0])
        chain = [before, on[0], on[1], on[2], sisters, on[3], on[4]]
        steps = [
            (cause, None if a is None or b is None else (b - a).days)
            for cause, a, b in zip(CAUSES, chain[:-1], chain[1:], strict=True)
        ]
        steps = [(cause, 0 if a is None and b is None else days)
                 for (cause, days), a, b in zip(steps, chain[:-1], chain[1:], strict=True)]  # fmt: skip
        said = [state[key].statement if key in state else "" for state in (by_state[0], by_state[-1])]
        found.append(
            Move(
                key,
                before,
                on[-1],
                tuple(sorted(steps, key=lambda one: -abs(one[1]) if one[1] is not None else -np.inf)),
                (said[0], said[1]),
                (plans[0].get(key[:4]), plans[1].get(key[:4])),
            )
        )
    found.sort(key=lambda one: _weight(one, now.run_date), reverse=True)
    return Moved(then.run_date, tuple(found))


def _weight(one: Move, today: date) -> tuple[bool, float]:
    """A changed statement first, then how far the date moved beside how far ahead it lies: near dates matter most."""
    ahead = min((on for on in (one.then, one.now) if on is not None), default=date.max) - today
    return one.statements[0] != one.statements[1], abs(one.days or 0) / max(ahead.days, 90)


def _early(row: ShellForecast | None) -> date | None:
    """The early date; a damaged shell has none."""
    return None if row is None or row.damaged else row.date_at(10)


def _openings(made: Forecast, risk: float) -> dict[tuple[str, str, str, str], date]:
    """When the plan first opens each place."""
    found: dict[tuple[str, str, str, str], date] = {}
    for one in plan_at(stand_of(made), risk).planned:
        place = (*one.key, one.bearing, one.position)
        found[place] = min(one.window.on, found.get(place, date.max))
    return found


@dataclass(frozen=True, eq=False)
class _Steps:
    """The record sets between then and now."""

    then: RecordSet
    now: RecordSet
    settings: Settings

    def forecast(self, records: RecordSet, before: Forecast) -> Forecast:
        """The forecast of one state; that before it where the records are the same."""
        was = before.history.records
        if all(records.tables[name].equals(was.tables[name]) for name in records.tables):
            return before
        return forecast(records, None, self.settings, leave_out_faulty=True)

    @cached_property
    def _kept(self) -> dict[str, np.ndarray[Any, np.dtype[np.bool_]]]:
        """Which rows of now were there then, corrected or not, by table."""
        return {
            name: _keys(self.now.tables[name], by)
            .isin(_keys(self.then.tables[name], by))
            .to_numpy(dtype=bool)
            for name, by in (("readings", _READING), ("events", _EVENT))
        }

    @property
    def corrected(self) -> RecordSet:
        """The rows of then as they stand now."""
        kept = {name: self.now.tables[name][mine] for name, mine in self._kept.items()}
        return replace(self.now, tables={**self.then.tables, **kept})

    @cached_property
    def opened(self) -> tuple[EngineKey, ...]:
        """Engines of which rows came since."""
        added = [self.now.tables[name][~mine] for name, mine in self._kept.items()]
        return tuple(
            dict.fromkeys(key for one in added for key in zip(one["vessel"], one["engine"], strict=True))
        )

    def with_hours(self, others: tuple[EngineKey, ...]) -> RecordSet:
        """As corrected, and the dials read since with the yearly use; rows that came since of other engines, too."""
        tables = {**self.corrected.tables, "engines": self.now.tables["engines"]}
        dials = []
        for name, kept in self._kept.items():
            table = self.now.tables[name]
            theirs = np.array(
                [key in others for key in zip(table["vessel"], table["engine"], strict=True)], bool
            )
            tables[name] = table[kept | theirs]
            dials.append(table.loc[~kept & ~theirs & table["counter_h"].notna().to_numpy()])
        events = tables["events"]
        read_since = pd.concat([one.reindex(columns=events.columns) for one in dials])
        read_since = read_since[read_since["date"].notna()]
        texts = [
            name
            for name in events.columns
            if events[name].dtype == object or str(events[name].dtype) == "str"
        ]
        blank = {name: "" for name in texts if name not in ("vessel", "engine", "file", "sheet", "event")}
        new_dial = (read_since["event"] == "counter_change").to_numpy()
        as_dials = read_since.assign(**blank, event=np.where(new_dial, "counter_change", "counter"))
        as_dials = as_dials.drop_duplicates(["vessel", "engine", "date", "counter_h", "event"])
        if len(as_dials):
            tables["events"] = pd.concat(
                [events, as_dials.astype(events.dtypes.to_dict())], ignore_index=True
            )
        return replace(self.now, tables=tables)

    def with_rows(self, but: tuple[EngineKey, ...]) -> RecordSet:
        """All that came since, but of some engines their dials alone; limits, windows and the rest as they were."""
        return self.with_hours(tuple(key for key in self.opened if key not in but))


def _keys(table: pd.DataFrame, by: tuple[str, ...]) -> pd.Series:
    """A text for each row by which it is known again; the second of the same key is another."""
    text = table[list(by)].astype(str).agg("\0".join, axis=1) if len(table) else pd.Series([], dtype=str)
    return text + "\0" + text.groupby(text).cumcount().astype(str) if len(table) else text
