"""One way from a record set to a history, or to a refusal that names every fault at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import NoReturn

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.clock import sound
from wearcast.errors import InputRefused, WrongUse
from wearcast.frames import rows_of
from wearcast.lives.assign import Placed, place_readings
from wearcast.lives.certificates import with_certified_u
from wearcast.lives.dials import Dials, read_dials
from wearcast.lives.history import EngineKey, History, Series
from wearcast.lives.limits import LimitBook
from wearcast.lives.notes import Note
from wearcast.lives.refused import engines_at_fault, without
from wearcast.lives.rounding import last_digit, rounding_steps_um
from wearcast.lives.shells import Change, Event, Life, Place, engine_key
from wearcast.lives.temperature import CORRECTED, IGNORED_NOTE, value_at_20_mm
from wearcast.queries import Query
from wearcast.records.records import RecordSet
from wearcast.units import MM_PER_UNIT, UM_PER_MM


def build(records: RecordSet, as_of: date | None = None, leave_out_faulty: bool = False) -> History:
    """Hours, shell lives and series of a record set.

    Parameters
    ----------
    records : RecordSet
        As read.
    as_of : date, optional
        Use only rows up to this date and stand every engine there; by default each engine stands at its last
        counter reading.
    leave_out_faulty : bool
        Go on without the rows that cannot be used, and list them in `History.left_out`. Otherwise the engines they
        are of are refused whole, and listed in `History.refused`; the others go on.

    Raises
    ------
    InputRefused
        With every fault of every table, if one may be any engine's or no engine is left.
    WrongUse
        If no reading is left to work on, or `as_of` is a day that no engine sees.
    """
    if as_of is not None:
        sound(as_of, "The as-of date")
    readings, events = _up_to(records, as_of)
    readings = with_certified_u(readings, records.gauges)
    readings = _of_known_engines(readings, records.engines)
    changes = _changes(events[(events["event"] == "change").to_numpy(dtype=bool)], records.engines)
    events = events[(events["event"] != "change").to_numpy(dtype=bool)]
    events = _of_known_engines(events, records.engines)
    faults = list(records.faults)
    unsure = {engine_key(fault) for fault in records.faults if fault.table == "events"}
    dials = read_dials(readings, events, records.engines, as_of)
    limits = LimitBook.from_table(records.limits)
    happened = _events(dials.events)
    placed = place_readings(dials.readings, happened, dials.engines, limits)
    faults += [fault for fault in dials.faults if leave_out_faulty or engine_key(fault) not in unsure]
    limits_read = not any(fault.table == "limits" for fault in records.faults)
    for fault in placed.faults:
        if not leave_out_faulty and engine_key(fault) in unsure:
            continue  # its events were not all understood: what follows from them is not judged
        if leave_out_faulty or limits_read or fault.kind != "limit_size":
            faults.append(fault)
    faults = list(records.told(faults))
    if faults and not leave_out_faulty:
        return _without_refused(records, as_of, faults)
    _refuse(faults)
    if not len(placed.readings):
        _nothing_left(records, faults, as_of)
    series, numbered = _series(placed, dials, limits)
    return History(
        records=records,
        as_of=as_of,
        engines=dials.engines,
        lives=placed.lives,
        series=series,
        readings=_measures(numbered, series),
        events=happened,
        changes=changes,
        limits=limits,
        left_out=tuple(faults),
        placing=(*_corrected(placed), *dials.said, *placed.assumptions),
    )


def _nothing_left(records: RecordSet, faults: list[Query], as_of: date | None) -> NoReturn:
    if faults:
        raise InputRefused(faults)
    first = records.readings["date"].min()
    if as_of is not None and first > pd.Timestamp(as_of):
        raise WrongUse(f"{records.source}: no reading up to {as_of}; the first is of {first.date()}.")
    raise WrongUse(f"{records.source}: no reading is left to work on.")


def _refuse(faults: list[Query]) -> None:
    if any(not fault.can_be_left_out for fault in faults):
        raise InputRefused(_in_order(faults))


def _in_order(faults: list[Query]) -> list[Query]:
    return sorted(faults, key=lambda fault: (fault.file, fault.sheet, fault.rows))


def _without_refused(records: RecordSet, as_of: date | None, faults: list[Query]) -> History:
    """The history of the engines that no fault is of; refused where there are none, or a fault may be any's."""
    refused = engines_at_fault(faults, records)
    left = without(records, refused, faults)
    if not refused or left.readings.empty:
        raise InputRefused(_in_order(faults))
    made = build(replace(left, faults=()), as_of)
    told = (*_in_order(faults), *made.left_out)
    kept = replace(made.records, faults=told)
    return replace(made, records=kept, left_out=told, refused=tuple(sorted({*refused, *made.refused})))


def _corrected(placed: Placed) -> tuple[Note, ...]:
    """What was done about temperatures."""
    told = placed.readings["temperature_c"].notna()
    large = placed.readings["quantity"].isin(CORRECTED)
    said = []
    if (told & large).any():
        said.append(f"{int((told & large).sum())} diameters with a temperature are taken at 20 °C (ISO 1).")
    if (told & (placed.readings["quantity"] == "wall")).any():
        said.append(f"{IGNORED_NOTE[0].upper()}{IGNORED_NOTE[1:]}.")
    return tuple(map(Note, said))


def _up_to(records: RecordSet, as_of: date | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    readings, events = records.readings, records.events
    if as_of is None:
        return readings, events
    last = pd.Timestamp(as_of)
    return readings[~(readings["date"] > last)], events[~(events["date"] > last)]


def _of_known_engines(frame: pd.DataFrame, engines: pd.DataFrame) -> pd.DataFrame:
    """Rows of engines in the engines table; the reader has already refused the others."""
    known = set(zip(engines["vessel"], engines["engine"], strict=True))
    pairs = zip(frame["vessel"], frame["engine"], strict=True)
    return frame[np.array([pair in known for pair in pairs], dtype=bool)]


def _events(table: pd.DataFrame) -> tuple[Event, ...]:
    return tuple(
        Event(
            kind=row.event,
            place=Place(row.vessel, row.engine, row.bearing, row.position, row.half),
            on=None if pd.isna(row.date) else row.date.date(),
            total_h=float(row.total_h),
            hours_sd_h=float(row.hours_sd_h),
            shell_size=row.shell_size,
            new_wall_mm=float(row.new_value_mm),
            finding=row.finding,
            remark=row.remark,
            row=int(row.row),
            new_wall_text=_value_text(row),
            new_wall_unit=row.unit,
            file=row.file,
            sheet=row.sheet,
        )
        for row in rows_of(table)
    )


def _changes(table: pd.DataFrame, engines: pd.DataFrame) -> tuple[Change, ...]:
    """Recorded changes of engines, or of whole vessels, that are known."""
    known = set(zip(engines["vessel"], engines["engine"], strict=True)) | {(v, "") for v in engines["vessel"]}
    return tuple(
        Change(
            vessel=row.vessel,
            engine=row.engine,
            bearing=row.bearing,
            position=row.position,
            on=row.date.date(),
            finding=row.finding,
            row=int(row.row),
            file=row.file,
            sheet=row.sheet,
        )
        for row in rows_of(table)
        if (row.vessel, row.engine) in known and not pd.isna(row.date)
    )


def _value_text(row: object) -> str:
    text = getattr(row, "new_value_text", "")
    value = getattr(row, "new_value", np.nan)
    return str(text) if text else ("" if not np.isfinite(value) else repr(float(value)))


def _series(placed: Placed, dials: Dials, limits: LimitBook) -> tuple[tuple[Series, ...], pd.DataFrame]:
    """Number the trends: every life × point read, and the crown of lives not read yet."""
    readings = placed.readings
    pairs = sorted(set(zip(readings["life"], readings["point"], strict=True)))
    read = {life for life, _ in pairs}
    points_of_place: dict[tuple[Place, str], list[str]] = {}
    for life, point in pairs:
        of = placed.lives[life]
        points_of_place.setdefault((of.place, of.quantity), []).append(point)
    for index, life in enumerate(placed.lives):
        if index not in read and life.in_service:
            points = points_of_place.get((life.place, life.quantity), ["crown"])
            pairs += [(index, point) for point in dict.fromkeys(points)]
    pairs = sorted(set(pairs))
    series = tuple(_one_series(life, point, placed.lives[life], dials, limits) for life, point in pairs)
    number = {pair: k for k, pair in enumerate(pairs)}
    keys = list(zip(readings["life"], readings["point"], strict=True))
    return series, readings.assign(series=[number[key] for key in keys])


def _one_series(index: int, point: str, life: Life, dials: Dials, limits: LimitBook) -> Series:
    engine: EngineKey = engine_key(life.place)
    limit, governs = limits.find(
        dials.engines[engine].engine_type,
        life.place.bearing,
        life.place.half,
        life.quantity,
        life.shell_size,
        point,
    )
    return Series(index, point, limit, governs and limit is not None)


def _measures(readings: pd.DataFrame, series: tuple[Series, ...]) -> pd.DataFrame:
    """Value at 20 °C, wear, rounding step and opening number of every reading."""
    at = readings["series"].to_numpy()
    opening_of = ["vessel", "engine", "date", "quantity", "instrument"]
    opening = readings.groupby(opening_of, sort=True).ngroup()
    shown_mm, step_um = _as_the_gauge_showed(readings, [*opening_of, "unit"])
    value_mm = value_at_20_mm(readings.assign(value_mm=shown_mm))
    wear_um = np.full(len(readings), np.nan)
    order = np.argsort(at, kind="stable")
    cuts = np.searchsorted(at[order], np.arange(len(series) + 1))
    for one, start, stop in zip(series, cuts[:-1], cuts[1:], strict=True):
        if one.limit is not None:
            rows = order[start:stop]
            wear_um[rows] = one.limit.wear_um(value_mm[rows])
    return readings.assign(value_20_mm=value_mm, wear_um=wear_um, opening=opening, step_um=step_um)


def _as_the_gauge_showed(
    readings: pd.DataFrame, opening_of: list[str]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Readings as their gauge showed them [mm], and its step [um]: 0.31417 in from a gauge read to 10 um is 7.98 mm.

    Some dates of one gauge are written finer than others, and few readings of a date say little of its step;
    so it is looked for in every opening and in all readings of the gauge.
    """
    units = np.asarray(readings["unit"].map(dict(MM_PER_UNIT)), dtype=np.float64)
    digits = {text: last_digit(text) for text in readings["value_text"].unique()}
    written_um = np.asarray(readings["value_text"].map(digits), dtype=np.float64) * units * UM_PER_MM
    value_um = readings["value_mm"].to_numpy(dtype=np.float64) * UM_PER_MM
    gauge_of = ["vessel", "quantity", "instrument", "unit"]
    sets = [
        np.asarray(readings.groupby(by, sort=False, dropna=False).ngroup(), dtype=np.intp)
        for by in (opening_of, gauge_of)
    ]
    step_um = rounding_steps_um(value_um, written_um, sets)
    with np.errstate(divide="ignore", invalid="ignore"):
        shown_um = step_um * np.round(value_um / step_um)
    coarser = (step_um > written_um) & (np.abs(shown_um - value_um) <= 0.5 * written_um)
    return np.where(coarser, shown_um, value_um) / UM_PER_MM, step_um
