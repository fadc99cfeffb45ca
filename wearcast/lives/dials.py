"""Every engine's total running hours and its as-of moment, from the rows of a record set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import records_of, row_numbers_of, rows_of
from wearcast.lives.about import query_about
from wearcast.lives.dated_hours import hours_on_dates
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.hours import Conflict, DialChange, hours_per_year, total_hours
from wearcast.lives.notes import Note
from wearcast.lives.shells import EPOCH
from wearcast.queries import Query


@dataclass(frozen=True)
class Dials:
    """Engines at their as-of moment, rows with their total hours, and the dial faults.

    Attributes
    ----------
    readings, events : DataFrame
        The tables with `total_h` [h] and `hours_sd_h` [h], above 0 where the hours are those of a date; rows of
        refused dial readings are gone.
    said : tuple of Note
        Which hours were had from dates.
    """

    engines: Mapping[EngineKey, EngineAt]
    readings: pd.DataFrame
    events: pd.DataFrame
    faults: tuple[Query, ...]
    said: tuple[Note, ...] = ()


def days(dates: pd.Series) -> NDArray[np.int64]:
    """Days since 1970-01-01 of a column of dates; a missing date is a very early one."""
    filled = dates.fillna(pd.Timestamp(EPOCH) - pd.Timedelta(days=100_000))
    return filled.to_numpy().astype("datetime64[D]").astype(np.int64)


def as_date(day: float) -> date:
    """The date that many days after 1970-01-01."""
    return EPOCH + timedelta(days=round(day))


def read_dials(
    readings: pd.DataFrame, events: pd.DataFrame, engines: pd.DataFrame, as_of: date | None
) -> Dials:
    """Turn dial readings into total running hours, engine by engine.

    Parameters
    ----------
    readings, events, engines : DataFrame
        Tables of a record set, rows up to the as-of date.
    as_of : date or None
        The date asked for; None for each engine's last counter reading.
    """
    readings = readings.assign(day=days(readings["date"]))
    events = events.assign(day=days(events["date"]))
    shown = _shown(readings, events)
    rows_of_engine = row_numbers_of(shown.frame, ["vessel", "engine"])
    total_h, sd_h = np.full(len(shown.frame), np.nan), np.zeros(len(shown.frame))
    said: list[Note] = []
    stands: dict[EngineKey, EngineAt] = {}
    faults: list[Query] = []
    nothing = np.empty(0, dtype=np.int64)
    for facts in records_of(engines):
        key = (str(facts["vessel"]), str(facts["engine"]))
        rows = rows_of_engine.get(key, nothing)
        changes = shown.changes(rows)
        undialled = rows[~np.isfinite(shown.dial_h[rows])]
        dials = rows[~shown.is_change[rows] & np.isfinite(shown.dial_h[rows])]
        first, back = _distinct(shown.day[dials], shown.dial_h[dials])
        points = dials[first]
        point_h, conflicts = total_hours(shown.day[points], shown.dial_h[points], changes)
        faults += [_fault(conflict, shown.frame.iloc[points], changes, key) for conflict in conflicts]
        total_h[dials] = point_h[back]
        _set_change_hours(total_h, rows[shown.is_change[rows]], changes)
        sound = rows[np.isfinite(total_h[rows])]
        if not len(sound):
            faults += _no_hours(shown.frame.iloc[undialled], key)
            continue  # no counter reading, so no forecast
        stand = _stand(facts, key, shown.day[sound], total_h[sound])
        stands[key] = stand if as_of is None else stand.at(as_of)
        if len(undialled):
            began = pd.to_datetime(facts["in_service"])
            total_h[undialled], sd_h[undialled] = hours_on_dates(
                shown.day[undialled],
                shown.day[sound],
                total_h[sound],
                np.nan if pd.isna(began) else (began.date() - EPOCH).days,
                stand.use,
            )
            lost = undialled[~np.isfinite(total_h[undialled])]
            faults += _no_hours(shown.frame.iloc[lost], key)
            said += _from_dates(shown.day[undialled], total_h[undialled], sd_h[undialled], key)
    read_h, event_h, event_sd_h = (
        total_h[: len(readings)],
        np.full(len(events), np.nan),
        np.zeros(len(events)),
    )
    event_h[shown.event_rows], event_sd_h[shown.event_rows] = total_h[len(readings) :], sd_h[len(readings) :]
    lost = np.zeros(len(events), dtype=bool)
    lost[shown.event_rows] = ~np.isfinite(event_h[shown.event_rows])
    return Dials(
        stands,
        readings.assign(total_h=read_h, hours_sd_h=sd_h[: len(readings)])[np.isfinite(read_h)].reset_index(
            drop=True
        ),
        events.assign(total_h=event_h, hours_sd_h=event_sd_h)[~lost].reset_index(drop=True),
        tuple(faults),
        tuple(said),
    )


@dataclass(frozen=True, eq=False)
class _Shown:
    """Every dial reading of every table, readings first, as arrays beside the rows they stand in.

    Attributes
    ----------
    event_rows : ndarray of int
        Row numbers (from 0) of the events that show a dial, in the order they follow the readings.
    """

    frame: pd.DataFrame
    day: NDArray[np.int64]
    dial_h: NDArray[np.float64]
    new_dial_h: NDArray[np.float64]
    is_change: NDArray[np.bool_]
    event_rows: NDArray[np.int64]

    def changes(self, rows: NDArray[np.int64]) -> list[DialChange]:
        """The counter changes among some rows."""
        numbers = self.frame["row"].to_numpy()
        return [
            DialChange(int(self.day[k]), float(self.dial_h[k]), float(self.new_dial_h[k]), int(numbers[k]))
            for k in rows[self.is_change[rows]].tolist()
        ]


def _shown(readings: pd.DataFrame, events: pd.DataFrame) -> _Shown:
    columns = ["vessel", "engine", "day", "counter_h", "file", "sheet", "row"]
    timed = events["counter_h"].notna() | (events["event"] != "fitted")
    dated = (events["date"].notna() & timed).to_numpy(dtype=bool)
    told = events.loc[dated, [*columns, "event", "new_counter_h"]].assign(table="events")
    read = readings[columns].assign(event="", new_counter_h=np.nan, table="readings")
    frame = pd.concat([read, told], ignore_index=True) if len(told) else read
    return _Shown(
        frame,
        frame["day"].to_numpy(dtype=np.int64),
        frame["counter_h"].to_numpy(dtype=np.float64),
        frame["new_counter_h"].to_numpy(dtype=np.float64),
        (frame["event"] == "counter_change").to_numpy(dtype=bool),
        np.flatnonzero(dated),
    )


def _no_hours(rows: pd.DataFrame, key: EngineKey) -> list[Query]:
    """Refusals of rows without a dial whose hours cannot be had from their date."""
    about: dict[tuple[str, int], list[Any]] = {}
    for row in rows_of(rows):
        about.setdefault((row.table, row.day), []).append(row)
    text = "counter_h is empty, and no dial reading before and after {} tells the hours of that day."
    ask = (
        "Write the dial of that day, or give a dial reading of an earlier and a later day (an event counter, "
        "or in_service in engines for 0 h)."
    )
    return [
        query_about(same, "not_understood", text.format(as_date(day)), ask, table=table, column="counter_h",
                    vessel=key[0], engine=key[1], bearing="", position="", half="")
        for (table, day), same in about.items()
    ]  # fmt: skip


def _from_dates(
    day: NDArray[np.int64], total_h: NDArray[np.float64], sd_h: NDArray[np.float64], key: EngineKey
) -> list[Note]:
    """Which hours are those of dates, and how well they are known."""
    had = sorted({(d, h, s) for d, h, s in zip(day, total_h, sd_h, strict=True) if np.isfinite(h)})
    told = ", ".join(f"{as_date(d)}: {h:.0f} h ± {s:.0f}" for d, h, s in had[:6])
    more = f" and {len(had) - 6} more" if len(had) > 6 else ""
    text = f"{key[0]} {key[1]}: hours taken from dates, straight between dial readings: {told}{more}."
    return [Note(text, key)] if had else []


def _distinct(
    day: NDArray[np.int64], dial_h: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First place of each distinct pair of day and dial, in order of appearance, and the pair of each place."""
    pairs = np.stack([day.astype(np.float64), dial_h])
    _, first, back = np.unique(pairs, axis=1, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return first[order], rank[back.ravel()]


def _set_change_hours(
    total_h: NDArray[np.float64], rows: NDArray[np.int64], changes: list[DialChange]
) -> None:
    """Total hours at each counter change, written at its row."""
    offset_h = 0.0
    for k in sorted(range(len(changes)), key=lambda k: (changes[k].day, changes[k].old_last_h)):
        total_h[rows[k]] = changes[k].old_last_h + offset_h
        offset_h += changes[k].old_last_h - changes[k].new_first_h


def _fault(conflict: Conflict, points: pd.DataFrame, changes: list[DialChange], key: EngineKey) -> Query:
    """The refusal of one dial reading, with the row it contradicts."""
    lost = points.iloc[conflict.index]
    here = f"{lost.counter_h:.0f} h on {as_date(lost.day)}"
    if conflict.other < 0:
        change = changes[-1 - conflict.other]
        beside_row = change.row
        beside = (
            f"the counter change of {as_date(change.day)} from {change.old_last_h:.0f} h "
            f"to {change.new_first_h:.0f} h (events, row {change.row})"
        )
    else:
        other = points.iloc[conflict.other]
        beside_row = int(other.row)
        beside = f"{other.counter_h:.0f} h on {as_date(other.day)} ({other.table}, row {other.row})"
    if conflict.kind == "two_dials":
        kind, text = "counter_fall", f"{here} could be read on the old dial or the new one, beside {beside}."
        ask = "Write the hours of the dial meant, or the date before or after the change."
    elif conflict.kind == "counter_fall":
        kind = "counter_fall"
        text = (
            f"the dial shows {here}, which cannot stand beside {beside}: "
            f"the hours would fall by {-conflict.gain_h:.0f}."
        )
        ask = "Correct the dial reading or the date, or add the counter_change event."
    else:
        kind = "hours_per_day"
        text = (
            f"the dial shows {here}, which cannot stand beside {beside}: "
            f"{conflict.gain_h:.0f} h gained in {conflict.days:.0f} days is more than 24 h a day."
        )
        ask = "Correct the dial reading or the date, or add the counter_change event."
    return Query(
        kind,
        text,
        ask,
        table=str(lost.table),
        rows=tuple(dict.fromkeys((int(lost.row), beside_row))),
        file=str(lost.file),
        sheet=str(lost.sheet),
        column="counter_h",
        found=f"{lost.counter_h:.0f}",
        expected="a dial that never falls and gains no more than 24 h a day",
        vessel=key[0],
        engine=key[1],
        evidence=round(conflict.gain_h, 1),
    )


def _stand(
    facts: dict[Any, Any], key: EngineKey, day: NDArray[np.int64], total_h: NDArray[np.float64]
) -> EngineAt:
    """One engine at its last counter reading."""
    use = hours_per_year(
        day,
        total_h,
        float(facts["hours_per_year"]),
        float(facts["hours_per_year_sd"]),
    )
    last = int(np.lexsort((total_h, day))[-1])
    last_on, last_h = as_date(int(day[last])), float(total_h[last])
    return EngineAt(*key, str(facts["engine_type"]), use, last_on, last_h, 0.0, last_on, last_h, facts)
