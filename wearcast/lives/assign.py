"""Which shell life each reading belongs to, and whether its size fits the journal and the limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.about import query_about
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.journals import journal_faults, journal_readings
from wearcast.lives.limits import LimitBook
from wearcast.lives.notes import Note
from wearcast.lives.shells import (
    EPOCH,
    Event,
    Life,
    Place,
    engine_key,
    life_of,
    lives_at,
    natural_order,
    same_size,
)
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query
from wearcast.units import MM_PER_UNIT


@dataclass(frozen=True)
class Placed:
    """Readings with their life, and the faults met on the way.

    Attributes
    ----------
    readings : DataFrame
        With `table`, `life`, `shell_h`, `tau_h`, `new_wall`, and a row for each new wall measured at fitting.
    """

    readings: pd.DataFrame
    lives: tuple[Life, ...]
    faults: tuple[Query, ...]
    assumptions: tuple[Note, ...]


_ASSUMED_NEW = "no fitting recorded; taken as new at 0 h, for the first reading lies within 24 000 h of it"
_UNKNOWN_FITTING = "fitted at an unknown time; ages count from the first reading"


NO_LIMIT = "no limit given; watched, not forecast"
_NEW_WALL_UNUSED = "New wall told by the event not used, for the hours at fitting are not known"


@dataclass(frozen=True, eq=False)
class _Columns:
    """The columns that place a reading, as arrays over all readings."""

    day: NDArray[np.int64]
    total_h: NDArray[np.float64]
    state: NDArray[np.object_]


@dataclass
class _Gathered:
    life: NDArray[np.int64]
    shell_h: NDArray[np.float64]
    tau_h: NDArray[np.float64]
    new_wall: NDArray[np.bool_]
    lives: list[Life] = field(default_factory=list)
    state_needed: list[tuple[int, Life]] = field(default_factory=list)
    no_limit: list[tuple[int, Life, EngineAt]] = field(default_factory=list)
    assumed: dict[str, set[Place]] = field(default_factory=dict)
    new_walls: list[dict[str, object]] = field(default_factory=list)

    def assume(self, lives: Sequence[Life], unlimited: bool = False) -> None:
        """Note what is taken for granted of a place's lives, where a forecast rests on it."""
        for life in lives:
            quantity = QUANTITIES[life.quantity]
            if not quantity.forecast:
                continue
            said = [NO_LIMIT] if unlimited else []
            if life.fitting == "assumed" and not unlimited:
                said.append(_ASSUMED_NEW)
            elif life.fitting == "unknown" and not unlimited:
                said.append(_UNKNOWN_FITTING)
            if life.size_assumed and not unlimited:
                said.append(f"shell size taken as {life.shell_size}")
            for text in said:
                title = quantity.title[0].upper() + quantity.title[1:]
                self.assumed.setdefault(f"{title}: {text}", set()).add(life.place)


def place_readings(
    readings: pd.DataFrame,
    events: Sequence[Event],
    engines: Mapping[EngineKey, EngineAt],
    limits: LimitBook,
) -> Placed:
    """Build the lives of every place and quantity read, and put each reading into its own.

    Parameters
    ----------
    readings : DataFrame
        Readings with `total_h` and `day`.
    """
    events_of: dict[EngineKey, list[Event]] = {}
    for event in events:
        events_of.setdefault(engine_key(event.place), []).append(event)
    n = len(readings)
    got = _Gathered(np.full(n, -1), np.full(n, np.nan), np.full(n, np.nan), np.zeros(n, dtype=bool))
    columns = _Columns(
        readings["day"].to_numpy(dtype=np.int64),
        readings["total_h"].to_numpy(dtype=np.float64),
        readings["state"].to_numpy(dtype=object),
    )
    keys = ["vessel", "engine", "bearing", "position", "half", "quantity"]
    for (vessel, engine, bearing, position, half, quantity), rows in row_numbers_of(readings, keys).items():
        stand = engines.get((vessel, engine))
        if stand is not None:
            place = Place(vessel, engine, bearing, position, half)
            told = events_of.get((vessel, engine), [])
            _one_place(got, place, quantity, rows, columns, told, stand, limits)
    read = {(life.place, life.quantity) for life in got.lives}
    _never_read(got, read, events_of, engines, limits)
    faults = _faults(got, readings, limits)
    journals = journal_readings(readings)
    for key, told in events_of.items():
        if key in engines:
            faults += journal_faults(told, journals, engines[key].engine_type, limits)
    assumptions = (
        Note(text, places=tuple(sorted(places, key=lambda place: natural_order(str(place)))))
        for text, places in got.assumed.items()
    )
    return Placed(_kept(readings, got), tuple(got.lives), tuple(faults), tuple(assumptions))


def _one_place(
    got: _Gathered,
    place: Place,
    quantity: str,
    rows: NDArray[np.int64],
    columns: _Columns,
    events: Sequence[Event],
    stand: EngineAt,
    limits: LimitBook,
) -> None:
    first = rows[int(columns.total_h[rows].argmin())]
    in_service = stand.facts.get("in_service")
    lives = lives_at(
        place,
        quantity,
        events,
        float(columns.total_h[first]),
        EPOCH + timedelta(days=int(columns.day[first])),
        in_service.date() if isinstance(in_service, pd.Timestamp) and not pd.isna(in_service) else None,
    )
    index, state_needed = life_of(lives, columns.day[rows], columns.state[rows])
    no_limit = np.array([_lacks_limit(life, stand, limits) for life in lives])
    got.state_needed += [(int(row), lives[0]) for row in rows[state_needed]]
    lacking = ~state_needed & no_limit[index]
    got.no_limit += [
        (int(row), lives[k], stand) for row, k in zip(rows[lacking], index[lacking], strict=True)
    ]
    fits = ~state_needed & ~no_limit[index]
    rows, index = rows[fits], index[fits]
    base = len(got.lives)
    got.lives += lives
    watched = quantity != "journal_diameter"  # a journal is watched without a limit as a rule
    got.assume(lives, watched and not limits.sizes(stand.engine_type, place.bearing, place.half, quantity))
    got.life[rows] = index + base
    _set_ages(got, rows, index, lives, columns)
    measured_new = set(index[got.new_wall[rows]].tolist())
    for k, life in enumerate(lives):
        if not np.isfinite(life.new_wall_mm) or no_limit[k]:
            continue
        if not np.isfinite(life.fitted_h):
            got.assumed.setdefault(_NEW_WALL_UNUSED, set()).add(life.place)
        elif k not in measured_new:  # the reading of that day says it already
            got.new_walls.append(_new_wall(life, base + k))


def _never_read(
    got: _Gathered,
    read: set[tuple[Place, str]],
    events_of: Mapping[EngineKey, Sequence[Event]],
    engines: Mapping[EngineKey, EngineAt],
    limits: LimitBook,
) -> None:
    """Lives of shells that events tell of and nobody has read: their sisters' wear forecasts them."""
    for key, told in events_of.items():
        stand = engines.get(key)
        for place in dict.fromkeys(event.place for event in told if event.kind in ("fitted", "renewal")):
            known = limits.sizes(stand.engine_type, place.bearing, place.half, "wall") if stand else []
            if not place.half or not known or (place, "wall") in read:
                continue
            lives = lives_at(place, "wall", told, np.nan, None)
            base = len(got.lives)
            got.lives += lives
            got.assume(lives)
            got.new_walls += [
                _new_wall(life, base + k)
                for k, life in enumerate(lives)
                if np.isfinite(life.new_wall_mm)
                and np.isfinite(life.fitted_h)
                and any(same_size(size, life.shell_size) for size in known)
            ]


def _set_ages(
    got: _Gathered,
    rows: NDArray[np.int64],
    index: NDArray[np.int64],
    lives: Sequence[Life],
    columns: _Columns,
) -> None:
    """Age of the shell at each reading, from fitting where that is known."""
    total_h = columns.total_h[rows]
    shell_h = np.maximum(total_h - np.array([life.fitted_h for life in lives])[index], 0.0)
    first_h = np.full(len(lives), np.inf)
    np.minimum.at(first_h, index, total_h)
    never = -(10**9)
    fitted_day = np.array([(life.fitted_on - EPOCH).days if life.fitted_on else never for life in lives])
    # Read on the day it was fitted, whatever the dial says by the end of that day: the new shell itself.
    new = (columns.day[rows] == fitted_day[index]) & np.isfinite(shell_h)
    got.shell_h[rows] = np.where(new, 0.0, shell_h)
    got.tau_h[rows] = np.where(np.isfinite(shell_h), got.shell_h[rows], total_h - first_h[index])
    got.new_wall[rows] = new


def _kept(readings: pd.DataFrame, got: _Gathered) -> pd.DataFrame:
    """Readings that found their life, with it, and the new walls of the events table after them."""
    state = readings["state"]
    frame = readings.assign(
        table="readings",
        state=state.where(state != "", "as_found"),
        life=got.life,
        shell_h=got.shell_h,
        tau_h=got.tau_h,
        new_wall=got.new_wall,
    )[got.life >= 0]
    if not got.new_walls:
        return frame.reset_index(drop=True)
    walls = pd.DataFrame(got.new_walls)
    for name in frame.columns.difference(walls.columns):
        walls[name] = (
            False if frame[name].dtype == bool else ("" if frame[name].dtype in ("str", object) else np.nan)
        )
    return pd.concat([frame, walls[list(frame.columns)]], ignore_index=True)


def _faults(got: _Gathered, readings: pd.DataFrame, limits: LimitBook) -> list[Query]:
    """Refusals of the readings that found no life; one for all that lack the same limit."""
    asked = rows_of(readings.iloc[[k for k, _ in got.state_needed]])
    faults = [_state_needed(row, life) for row, (_, life) in zip(asked, got.state_needed, strict=True)]
    lacking = list(rows_of(readings.iloc[[k for k, *_ in got.no_limit]]))
    alike: dict[tuple[str, ...], list[int]] = {}
    for n, (_, life, stand) in enumerate(got.no_limit):
        key = (
            stand.engine_type,
            life.place.bearing,
            life.place.half,
            life.quantity,
            life.shell_size.casefold(),
        )
        alike.setdefault(key, []).append(n)
    for members in alike.values():
        _, life, stand = got.no_limit[members[0]]
        rows = tuple(sorted(int(lacking[n].row) for n in members))
        keys = tuple(dict.fromkeys(engine_key(got.no_limit[n][1].place) for n in members))
        faults.append(replace(_no_limit(lacking[members[0]], life, stand, limits, rows), engines=keys))
    return faults


def _new_wall(life: Life, index: int) -> dict[str, object]:
    """The wall measured when the shell was fitted, as a reading at age 0."""
    known = np.isfinite(life.fitted_h)
    unit = life.new_wall_unit or "mm"
    return {
        "table": "events",
        "vessel": life.place.vessel,
        "engine": life.place.engine,
        "bearing": life.place.bearing,
        "position": life.place.position,
        "half": life.place.half,
        "point": "crown" if QUANTITIES[life.quantity].points else "",
        "quantity": life.quantity,
        "value": life.new_wall_mm / MM_PER_UNIT[unit],
        "value_mm": life.new_wall_mm,
        "value_text": life.new_wall_text or repr(life.new_wall_mm / MM_PER_UNIT[unit]),
        "unit": unit,
        "date": pd.Timestamp(life.fitted_on) if life.fitted_on else pd.NaT,
        "counter_h": np.nan,
        "state": "as_left",
        "instrument": "",
        "u_um": np.nan,
        "total_h": life.fitted_h,
        "shell_h": 0.0 if known else np.nan,
        "tau_h": 0.0,
        "life": index,
        "new_wall": True,
        "row": life.started_by[-1],
        "file": "",
        "sheet": "",
    }


def _state_needed(row: Any, life: Life) -> Query:
    text = (
        f"the state is empty, and on {row.date.date()} one {_what(life)} ended and another began; expected "
        "as_found (of the one taken out) or as_left (of the one put in)."
    )
    return query_about([row], "not_understood", text, "Fill in the state.", table="readings", column="state")


def _what(life: Life) -> str:
    return "shell" if QUANTITIES[life.quantity].belongs_to == "shell" else life.quantity.replace("_", " ")


def _lacks_limit(life: Life, stand: EngineAt, limits: LimitBook) -> bool:
    """Whether readings of this life's size have no limit where other sizes of the place have one.

    A quantity without any limit there is watched without one.
    """
    quantity = QUANTITIES[life.quantity]
    if not quantity.forecast:
        return False
    sizes = limits.sizes(stand.engine_type, life.place.bearing, life.place.half, quantity.name)
    return bool(sizes) and not any(same_size(size, life.shell_size) for size in sizes)


def _no_limit(row: Any, life: Life, stand: EngineAt, limits: LimitBook, rows: tuple[int, ...]) -> Query:
    place = life.place
    sizes = limits.sizes(stand.engine_type, place.bearing, place.half, life.quantity)
    where = " ".join(filter(None, (place.bearing, place.half, life.quantity)))
    have = f"only {', '.join(sizes)}" if sizes else "none"
    text = (
        f"a {QUANTITIES[life.quantity].title} of shell size {life.shell_size}; expected a limit of that size "
        f"for {stand.engine_type} {where} in the limits table, which has {have}."
    )
    ask = f"Add the maker's limit for {life.shell_size}, or correct the size."
    return query_about(
        [row],
        "limit_size",
        text,
        ask,
        table="readings",
        column="shell_size",
        found=life.shell_size,
        rows=rows,
    )
