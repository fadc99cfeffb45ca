"""What came back from an opening, reading by reading, beside what was to be expected; nothing is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from wearcast.forecasting.run import Forecast, forecast
from wearcast.forms.expected import Ahead, Band, as_last_read, bands
from wearcast.frames import rows_of
from wearcast.lives.history import EngineKey, History
from wearcast.lives.shells import Life, Place
from wearcast.progress import counting
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.records.with_part import OpeningKey, with_part
from wearcast.settings import Settings

BY_LAST_READING = ("web_deflection", "journal_diameter")
"""Quantities that, where nothing is forecast, are expected where they were last read."""


@dataclass(frozen=True)
class Came:
    """One reading.

    Attributes
    ----------
    value_mm : float
        As read; diameters at 20 °C [mm].
    expected : Band or None
        The range printed on the form, three standard uncertainties each side; None where nothing tells.
    new : bool
        What was expected is a new shell within the maker's range.
    towards : bool
        It lies outside, on the side of the limit.
    past_mm : float or None
        The limit it stands at or past [mm].
    queries : tuple of Query
        What is asked about this reading beside all others.
    """

    key: EngineKey
    on: date
    place: Place
    quantity: str
    point: str
    state: str
    value_mm: float
    expected: Band | None
    new: bool
    towards: bool
    past_mm: float | None
    queries: tuple[Query, ...]
    row: int

    @property
    def outside(self) -> bool:
        """Whether it lies outside the range expected."""
        band = self.expected
        return band is not None and not band.low_mm <= self.value_mm <= band.high_mm

    @property
    def plausible(self) -> bool:
        """Whether there is nothing to ask."""
        return not (self.outside or self.queries or self.past_mm is not None)


@dataclass(frozen=True, eq=False)
class CameBack:
    """What came back, and what to ask before it is entered.

    Attributes
    ----------
    openings : tuple of OpeningKey
    readings : tuple of Came
        In the order of the sheet.
    refused : tuple of Query
        Rows that could not be used at all.
    queries : tuple of Query
        What is asked about the readings and events of the part.
    known_already : int
        Readings of these openings in the records; they were left aside, so that nothing is compared with itself.
    """

    openings: tuple[OpeningKey, ...]
    readings: tuple[Came, ...]
    refused: tuple[Query, ...]
    queries: tuple[Query, ...]
    known_already: int


def came_back(known: RecordSet, part: RecordSet, settings: Settings | None = None) -> CameBack:
    """Look at a part before it is entered.

    Parameters
    ----------
    known : RecordSet
        What is known without it.
    part : RecordSet
        A filled form, or another part of a record set.

    Raises
    ------
    WrongUse
        If the part tells of an engine that nothing is known of, or of no opening at all.
    """
    both = with_part(known, part)
    after = forecast(both.now, None, settings, leave_out_faulty=True)
    history, table = after.history, after.history.readings
    files = {name for one in ("readings", "events") for name in part_files(both.now, both.before, one)}
    mine = table[(table["table"] == "readings").to_numpy() & table["file"].isin(files).to_numpy()]
    expected: dict[int, tuple[Band | None, bool]] = {}
    for stands_on, here in counting("opening", tuple(_by_standing(both.before, mine).items())):
        before = _forecast(both.before, stands_on, settings)
        for (key, total_h), rows in here.items():
            expected |= _expected(before, history, mine.loc[rows], key, total_h)
    queries = tuple(one for one in after.queries if one.file in files)
    asked: dict[tuple[str, int], list[Query]] = {}
    for query in queries:
        for row in query.rows if query.table == "readings" and query.kind != "rate_changed" else ():
            asked.setdefault((query.file, row), []).append(query)
    readings = tuple(
        _came(history, one, *expected.get(k, (None, False)), asked.get((one.file, int(one.row)), []))
        for k, one in zip(mine.index.tolist(), rows_of(mine), strict=True)
    )
    refused = tuple(one for one in history.left_out if one.file in files or one in part.faults)
    return CameBack(both.openings, readings, refused, queries, both.known_already)


def part_files(now: RecordSet, before: RecordSet, name: str) -> set[str]:
    """Files that only the part's rows of a table come from."""
    return set(now.tables[name]["file"]) - set(before.tables[name]["file"])


Standing = dict[tuple[EngineKey, float], list[int]]
"""Rows of the readings by engine and hours at which they were taken."""


def _by_standing(before: RecordSet, mine: pd.DataFrame) -> dict[date | None, Standing]:
    """Readings by where the forecast they are compared with stands: their own day where the records go on after it."""
    told = pd.concat([before.tables[name][["vessel", "engine", "date"]] for name in ("readings", "events")])
    dates = told.groupby(["vessel", "engine"])["date"].max()
    last: dict[EngineKey, pd.Timestamp] = dict(zip(dates.index.tolist(), dates.tolist(), strict=True))
    found: dict[date | None, Standing] = {}
    for k, row in zip(mine.index.tolist(), rows_of(mine), strict=True):
        key = (row.vessel, row.engine)
        stands_on = row.date.date() if key in last and last[key] > row.date else None
        found.setdefault(stands_on, {}).setdefault((key, float(row.total_h)), []).append(k)
    return found


def _forecast(before: RecordSet, stands_on: date | None, settings: Settings | None) -> Forecast | None:
    """What was known; None where nothing was."""
    from wearcast.errors import InputRefused, WrongUse

    try:
        return forecast(before, stands_on, settings, leave_out_faulty=True)
    except (InputRefused, WrongUse):
        return None


def _expected(
    before: Forecast | None, history: History, rows: pd.DataFrame, key: EngineKey, total_h: float
) -> dict[int, tuple[Band | None, bool]]:
    """What readings of one engine at one dial should show, and whether that is a new shell, by row."""
    by_life: Mapping[tuple[Place, str, int, str], Band] = {}
    last: dict[str, Mapping[tuple[str, str, str], Band]] = {}
    if before is not None and key in before.history.engines:
        known = before.history
        hours = max(total_h - known.engines[key].as_of_h, 0.0)
        by_life = {
            _name(known.lives[known.series[k].life], known.series[k].point): band
            for k, band in bands(before, key, Ahead(hours, 0.0, "")).items()
        }
        last = {quantity: as_last_read(before, key, quantity) for quantity in BY_LAST_READING}
    found: dict[int, tuple[Band | None, bool]] = {}
    for k, row in zip(rows.index.tolist(), rows_of(rows), strict=True):
        life = history.lives[int(row.life)]
        band = by_life.get(_name(life, row.point))
        if band is None and row.quantity in last:
            band = last[row.quantity].get((row.bearing, row.position, row.point))
        new = band is None and life.fitted_on == row.date.date()
        limit = history.series[int(row.series)].limit if row.series >= 0 else None
        if new and limit is not None:
            band = Band(limit.new_min_mm, limit.new_max_mm)
        found[k] = (band, new)
    return found


def _name(life: Life, point: str) -> tuple[Place, str, int, str]:
    return life.place, life.quantity, life.shell_no, point


def _came(history: History, row: Any, expected: Band | None, new: bool, queries: list[Query]) -> Came:
    series = history.series[int(row.series)] if row.series >= 0 else None
    limit = series.limit if series is not None and series.governs else None
    value = float(row.value_20_mm)
    low_is_worse = limit is None or limit.side == "min"
    towards = expected is not None and (value < expected.low_mm if low_is_worse else value > expected.high_mm)
    return Came(
        key=(row.vessel, row.engine),
        on=row.date.date(),
        place=Place(row.vessel, row.engine, row.bearing, row.position, row.half),
        quantity=row.quantity,
        point=row.point,
        state=row.state,
        value_mm=value,
        expected=expected,
        new=new,
        towards=towards,
        past_mm=limit.limit_mm if limit is not None and limit.reached_by(value) else None,
        queries=tuple(queries),
        row=int(row.row),
    )
