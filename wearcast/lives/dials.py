"""Every engine's total running hours and its as-of moment, from the rows of a record set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.hours import Conflict, DialChange, hours_per_year, total_hours
from wearcast.queries import Query
from wearcast.units import DAYS_PER_YEAR

EPOCH = pd.Timestamp("1970-01-01")


@dataclass(frozen=True)
class Dials:
    """Engines at their as-of moment, rows with their total hours, and the dial faults.

    Attributes
    ----------
    readings, events : DataFrame
        The tables with a column `total_h` [h]; rows of refused dial readings are gone.
    """

    engines: Mapping[EngineKey, EngineAt]
    readings: pd.DataFrame
    events: pd.DataFrame
    faults: tuple[Query, ...]
    assumptions: tuple[str, ...]


def days(dates: pd.Series) -> NDArray[np.int64]:
    """Days since 1970-01-01 of a column of dates; a missing date is a very early one."""
    filled = dates.fillna(EPOCH - pd.Timedelta(days=100_000))
    return filled.to_numpy().astype("datetime64[D]").astype(np.int64)


def as_date(day: float) -> date:
    """The date that many days after 1970-01-01."""
    return date(1970, 1, 1) + timedelta(days=round(day))


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
    readings = readings.assign(day=days(readings["date"]), total_h=np.nan)
    events = events.assign(day=days(events["date"]), total_h=np.nan)
    readings_of = row_numbers_of(readings, ["vessel", "engine"])
    events_of = row_numbers_of(events, ["vessel", "engine"])
    read_h, event_h = np.full(len(readings), np.nan), np.full(len(events), np.nan)
    stands: dict[EngineKey, EngineAt] = {}
    faults: list[Query] = []
    assumptions: list[str] = []
    nothing = np.empty(0, dtype=np.int64)
    for facts in engines.to_dict("records"):
        key = (str(facts["vessel"]), str(facts["engine"]))
        i, j = readings_of.get(key, nothing), events_of.get(key, nothing)
        points = _points(readings.iloc[i], events.iloc[j])
        changes = _changes(events.iloc[j])
        total_h, conflicts = total_hours(
            points["day"].to_numpy(dtype=np.int64), points["counter_h"].to_numpy(dtype=np.float64), changes
        )
        faults += [_fault(conflict, points, changes, key) for conflict in conflicts]
        hours_of = dict(zip(zip(points["day"], points["counter_h"], strict=True), total_h, strict=True))
        read_h[i] = [hours_of[p] for p in _pairs(readings.iloc[i])]
        event_h[j] = [hours_of.get(p, np.nan) for p in _pairs(events.iloc[j])]
        _set_change_hours(event_h, j, events, changes)
        day = points["day"].to_numpy(dtype=np.int64)
        sound = np.isfinite(total_h)
        all_day = np.concatenate([day[sound], np.array([change.day for change in changes], dtype=np.int64)])
        all_h = np.concatenate([total_h[sound], _totals_at(changes, event_h[j], events.iloc[j])])
        if not len(all_h):
            assumptions.append(f"{key[0]} {key[1]}: no counter reading, so no forecast.")
            continue
        stand, said = _stand(facts, key, all_day, all_h, as_of)
        stands[key] = stand
        assumptions += said
    lost_dial = np.isfinite(events["counter_h"]) & events["date"].notna() & ~np.isfinite(event_h)
    return Dials(
        stands,
        readings.assign(total_h=read_h)[np.isfinite(read_h)].reset_index(drop=True),
        events.assign(total_h=event_h)[~lost_dial].reset_index(drop=True),
        tuple(faults),
        tuple(assumptions),
    )


def _pairs(frame: pd.DataFrame) -> list[tuple[int, float]]:
    return list(zip(frame["day"], frame["counter_h"], strict=True))


def _points(readings: pd.DataFrame, events: pd.DataFrame) -> pd.DataFrame:
    """Distinct dial readings of one engine with the first row each stands in."""
    read = readings[["day", "counter_h", "file", "sheet", "row"]].assign(table="readings")
    dated = events["date"].notna() & events["counter_h"].notna() & (events["event"] != "counter_change")
    told = events.loc[dated, ["day", "counter_h", "file", "sheet", "row"]].assign(table="events")
    both = pd.concat([read, told], ignore_index=True) if len(told) else read
    return both.drop_duplicates(["day", "counter_h"]).reset_index(drop=True)


def _changes(events: pd.DataFrame) -> list[DialChange]:
    rows = events[events["event"] == "counter_change"]
    return [
        DialChange(int(row.day), float(row.counter_h), float(row.new_counter_h), int(row.row))
        for row in rows_of(rows)
    ]


def _set_change_hours(
    event_h: NDArray[np.float64], j: NDArray[np.int64], events: pd.DataFrame, changes: list[DialChange]
) -> None:
    """Total hours at each counter change, written at the places of its rows."""
    ordered = sorted(changes, key=lambda change: (change.day, change.old_last_h))
    offset_h = 0.0
    rows = events["row"].to_numpy()[j]
    for change in ordered:
        at = j[rows == change.row]
        event_h[at] = change.old_last_h + offset_h
        offset_h += change.old_last_h - change.new_first_h


def _totals_at(
    changes: list[DialChange], event_h: NDArray[np.float64], events: pd.DataFrame
) -> NDArray[np.float64]:
    rows = events["row"].to_numpy()
    return np.array([event_h[rows == change.row][0] for change in changes], dtype=np.float64)


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
    facts: dict[Any, Any],
    key: EngineKey,
    day: NDArray[np.int64],
    total_h: NDArray[np.float64],
    as_of: date | None,
) -> tuple[EngineAt, list[str]]:
    """One engine at its as-of moment, and what was assumed for it."""
    use = hours_per_year(
        day,
        total_h,
        float(facts["hours_per_year"]),
        float(facts["hours_per_year_sd"]),
    )
    last = int(np.lexsort((total_h, day))[-1])
    last_on, last_h = as_date(int(day[last])), float(total_h[last])
    name = f"{key[0]} {key[1]}"
    said = [f"{name}: {use.text}." if use.known else f"{name}: {use.text}; so no calendar dates."]
    on, now_h, now_sd_h = last_on, last_h, 0.0
    if as_of is not None:
        years = (as_of - last_on).days / DAYS_PER_YEAR
        on = as_of
        if years > 0 and use.known:
            now_h += years * use.hours_per_year
            now_sd_h = use.sd_h * float(np.sqrt(years + years**2 / use.years))
            said.append(
                f"{name}: hours carried forward from {last_h:.0f} h on {last_on} to {now_h:.0f} h "
                f"(±{now_sd_h:.0f}) on {on} at its yearly use."
            )
        elif years > 0:
            said.append(f"{name}: hours stand as on {last_on}; no yearly use is known to carry them forward.")
    return (
        EngineAt(
            key[0],
            key[1],
            str(facts["engine_type"]),
            use,
            on,
            now_h,
            now_sd_h,
            last_on,
            last_h,
            facts,
        ),
        said,
    )
