"""What has been eased: every change by hand that moves a forecast away from action, and how far it moves it.

A correction or a changed limit is taken back by itself, all is forecast again, and what would come sooner without it
is told. Nothing is judged: a change may be right, and still has to be seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from wearcast.errors import InputRefused, WrongUse
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.run import Forecast, forecast
from wearcast.frames import rows_of
from wearcast.lives.shells import engine_key
from wearcast.progress import counting
from wearcast.records.limit_changes import LimitChange
from wearcast.records.records import RecordSet
from wearcast.records.tables import TABLES
from wearcast.settings import Settings
from wearcast.units import H_PER_KH, MM_PER_UNIT
from wearcast.wear.curves import LONGEST_KH

LONGEST_H = LONGEST_KH * H_PER_KH
LIMIT, SETTING = "limit changed", "setting changed"
DEEDS = {"replace": "replaced", "withdraw": "withdrawn", "confirm": "confirmed"}

NOTABLE_H = 24.0
NOTABLE_SHARE = 0.002
"""Hours to the early end that are told, at least a day and this share of them (judgement)."""


@dataclass(frozen=True)
class Deed:
    """One change by hand.

    Attributes
    ----------
    what : str
        "reading withdrawn", "event replaced", "limit changed", "setting changed", ...
    table, row : str, int
        The row it is about; of a record book its id.
    about : tuple of str
        What it is of: vessel, engine, bearing, position, half, quantity, as far as told.
    column, old, new : str
        As written.
    by, on, why, approved_by : str
    """

    what: str
    table: str
    row: int
    about: tuple[str, str, str, str, str, str]
    column: str
    old: str
    new: str
    by: str
    on: str
    why: str
    approved_by: str


@dataclass(frozen=True)
class Eased:
    """A change that moves a forecast away from action, with the shell that it moves most.

    Attributes
    ----------
    key : tuple of str
        Vessel, engine, bearing, position, half, quantity.
    hours_p10 : tuple of float
        Hours to the early end without the change, and as it is [h]; NaN beyond 200 000 h.
    date_p10 : tuple of (date or None)
    p_next : tuple of float
        Chance of the limit before the next window, without and as it is.
    moved : int
        How many shells it moves away from action.
    """

    deed: Deed
    key: tuple[str, str, str, str, str, str]
    hours_p10: tuple[float, float]
    date_p10: tuple[date | None, date | None]
    p_next: tuple[float, float]
    moved: int


@dataclass(frozen=True)
class ChangesByHand:
    """What was changed by hand.

    Attributes
    ----------
    eased : tuple of Eased
        What moves a forecast away from action, most first.
    untried : tuple of Deed
        Corrections of which it was not worked out, for there are too many.
    settings : tuple of Deed
        Settings that are not the usual ones.
    """

    eased: tuple[Eased, ...]
    untried: tuple[Deed, ...]
    settings: tuple[Deed, ...]

    def only(self, keys: Iterable[tuple[str, ...]]) -> ChangesByHand:
        """What is about these shells."""
        wanted = set(keys)
        return replace(self, eased=tuple(one for one in self.eased if one.key in wanted))


NO_CHANGES = ChangesByHand((), (), ())

MOST_TRIED = 12
"""Changes that are taken back one by one, the latest first: each costs a forecast of its sisters."""


def changes_by_hand(made: Forecast, of_type: str = "") -> ChangesByHand:
    """Every change by hand that moves a forecast away from action, by how much it moves it.

    Parameters
    ----------
    made : Forecast
    of_type : str, optional
        Only changes about engines of this type: its sisters are forecast together.
    """
    records = made.history.records
    now = {row.key: row for row in made.rows}
    found: list[tuple[float, Eased]] = []
    undone = [one for one in _undoings(records) if not of_type or one.engine_type == of_type]
    undone.sort(key=lambda one: (one.deed.what == LIMIT, one.deed.on), reverse=True)
    for one in counting("change by hand", undone[:MOST_TRIED]):
        deed, without = one.deed, one.without()
        engines = without.engines[(without.engines["engine_type"] == one.engine_type).to_numpy(dtype=bool)]
        tables = {**without.tables, "engines": engines}
        try:
            other = forecast(replace(without, tables=tables), made.history.as_of, made.settings, True)
        except (InputRefused, WrongUse):
            continue  # without it nothing could be forecast: it eases nothing that could be compared
        sooner_h = {row.key: _sooner_h(row, now[row.key]) for row in other.rows if row.key in now}
        moved = [key for key, sooner in sooner_h.items() if sooner > 0.0]
        if moved:
            most = max(moved, key=sooner_h.__getitem__)
            row, here = next(row for row in other.rows if row.key == most), now[most]
            told = Eased(
                deed,
                most,
                (row.hours_at(10), here.hours_at(10)),
                (row.date_at(10), here.date_at(10)),
                (row.p_limit_before_next_window, here.p_limit_before_next_window),
                len(moved),
            )
            found.append((sooner_h[most], told))
    found.sort(key=lambda pair: pair[0], reverse=True)
    untried = tuple(one.deed for one in undone[MOST_TRIED:])
    return ChangesByHand(tuple(one for _, one in found), untried, tuple(_of_settings(made.settings)))


def _sooner_h(without: ShellForecast, now: ShellForecast) -> float:
    """How many hours sooner a shell would come without the change; 0 where it is not worth telling [h]."""
    if without.damaged and not now.damaged:
        return np.inf
    before, since = without.hours_at(10), now.hours_at(10)
    sooner = (LONGEST_H if np.isnan(since) else since) - before
    return (
        sooner if sooner > max(NOTABLE_H, NOTABLE_SHARE * before) else 0.0
    )  # NaN, never reached, is not above


@dataclass(frozen=True)
class _Undoing:
    """A change by hand, the engine type it is about, and a way to the records without it."""

    deed: Deed
    engine_type: str
    without: Callable[[], RecordSet]


def _undoings(records: RecordSet) -> Iterator[_Undoing]:
    """Each change by hand; of several corrections of one cell the first old text and the last hand."""
    engines = records.engines
    types = dict(
        zip(zip(engines["vessel"], engines["engine"], strict=True), engines["engine_type"], strict=True)
    )
    by_cell: dict[tuple[str, int, str], list[Any]] = {}
    for one in rows_of(records.corrections):
        cell = one.column if one.action == "replace" else ""
        by_cell.setdefault((one.table, int(one.row), cell), []).append(one)
    for (name, row, _), found in by_cell.items():
        tables = records.withdrawn if found[0].action == "withdraw" else records.tables
        table = tables.get(name, records.tables[name])
        at = table[(table["row"] == row).to_numpy()]
        if len(at):
            about = next(iter(rows_of(at)))
            without = partial(_without, records, name, row, found[0])
            yield _Undoing(
                _deed(name, row, about, found[0], found[-1]), types.get(engine_key(about), ""), without
            )
    for change in records.limit_changes:
        yield _Undoing(
            _limit_deed(change), change.now.cells["engine_type"], partial(_with_limit, records, change)
        )


def _without(records: RecordSet, name: str, row: int, correction: Any) -> RecordSet:
    """The records as if a row had not been corrected."""
    table = records.tables[name]
    at = np.flatnonzero((table["row"] == row).to_numpy())
    if correction.action == "withdraw":
        gone = records.withdrawn[name]
        back = gone[(gone["row"] == row).to_numpy()].astype(table.dtypes.to_dict())
        table = pd.concat([table, back]).sort_values("row", ignore_index=True)
    elif correction.action == "confirm":
        table = table.copy()
        table.loc[table.index[at], "confirmed"] = False
    else:
        column = correction.column.casefold()
        old = _typed(name, column, correction.old)
        table = table if old is None else _put(name, table, at, column, old, correction.old)
    return replace(records, tables={**records.tables, name: table})


def _typed(name: str, column: str, text: str) -> Any:
    """A cell as its column has it; None where it cannot be read."""
    known = TABLES[name].column(column)
    if known is None:
        return None
    try:
        match known.cell:
            case "number":
                return float(text.replace(",", ".")) if text else np.nan
            case "date":
                return pd.Timestamp(text) if text else pd.NaT
    except ValueError:
        return None
    return text


def _put(name: str, table: pd.DataFrame, at: Any, column: str, value: Any, text: str) -> pd.DataFrame:
    table = table.copy()
    index = table.index[at]
    table.loc[index, column] = value
    if f"{column}_text" in table:
        table.loc[index, f"{column}_text"] = text.replace(",", ".")
    for length in TABLES[name].lengths:
        if column in (length, "unit"):
            factors = table.loc[index, "unit"].map(dict(MM_PER_UNIT)).astype(float)
            table.loc[index, f"{length}_mm"] = table.loc[index, length] * factors
    return table


def _deed(table: str, row: int, at: Any, first: Any, last: Any) -> Deed:
    place = *engine_key(at), at.bearing, at.position, at.half
    new = last.new if last.action == "replace" else ""
    on = "" if pd.isna(last.date) else str(last.date.date())
    return Deed(
        f"{table.removesuffix('s')} {DEEDS[last.action]}", table, row, (*place, getattr(at, "quantity", "")),
        first.column, first.old, new, last.by, on, last.reason, last.approved_by,
    )  # fmt: skip


def _limit_deed(change: LimitChange) -> Deed:
    cells = change.now.cells
    about = "", "", cells["bearing"], "", cells["half"], cells["quantity"]
    was, now = change.was.written(change.column), change.now.written(change.column)
    why = f"under the same document: {cells['limit_source']}"
    return Deed(
        LIMIT, "limits", change.now.row, about, change.column, was, now, change.by, change.at[:10], why,
        cells["approved_by"],
    )  # fmt: skip


def _with_limit(records: RecordSet, change: LimitChange) -> RecordSet:
    limits, column = records.limits.copy(), change.column
    index = limits.index[(limits["row"] == change.now.row).to_numpy()]
    figure = change.was.figure(column)
    value = np.nan if figure is None else figure
    if f"{column}_mm" in limits:
        limits.loc[index, f"{column}_mm"] = value
        value = value / MM_PER_UNIT[change.now.cells["unit"]]
    limits.loc[index, column] = value
    return replace(records, tables={**records.tables, "limits": limits})


def _of_settings(settings: Settings) -> list[Deed]:
    usual = {(section, name): value for section, name, value in Settings().rows()}
    return [
        Deed(
            SETTING,
            "settings",
            0,
            ("",) * 6,
            name,
            str(usual[section, name]),
            str(value),
            "",
            "",
            section,
            "",
        )
        for section, name, value in settings.rows()
        if value != usual[section, name]
    ]
