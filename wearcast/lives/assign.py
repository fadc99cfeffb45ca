"""Which shell life each reading belongs to, and whether its size fits the journal and the limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.frames import groups_of, rows_of
from wearcast.lives.history import EngineAt, EngineKey
from wearcast.lives.journals import journal_faults
from wearcast.lives.limits import LimitBook
from wearcast.lives.shells import Event, Life, Place, life_of, lives_at, same_size
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query


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
    assumptions: tuple[str, ...]


_ASSUMED_NEW = "No fitting recorded; taken as new at 0 h, for the first reading lies within 24 000 h of it"
_UNKNOWN_FITTING = "Fitted at an unknown time; ages count from the first reading"


@dataclass
class _Gathered:
    lives: list[Life] = field(default_factory=list)
    faults: list[Query] = field(default_factory=list)
    assumed: dict[str, list[str]] = field(default_factory=dict)
    kept: list[pd.DataFrame] = field(default_factory=list)
    new_walls: list[dict[str, object]] = field(default_factory=list)

    def assume(self, lives: Sequence[Life]) -> None:
        """Note what is taken for granted of a place's lives."""
        for life in lives:
            place = str(life.place)
            if life.fitting == "assumed":
                self.assumed.setdefault(_ASSUMED_NEW, []).append(place)
            elif life.fitting == "unknown":
                self.assumed.setdefault(_UNKNOWN_FITTING, []).append(place)
            if life.size_assumed and QUANTITIES[life.quantity].forecast:
                self.assumed.setdefault(f"Shell size taken as {life.shell_size}", []).append(place)


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
        events_of.setdefault((event.place.vessel, event.place.engine), []).append(event)
    got = _Gathered()
    keys = ["vessel", "engine", "bearing", "position", "half", "quantity"]
    for (vessel, engine, bearing, position, half, quantity), at_place in groups_of(readings, keys):
        stand = engines.get((vessel, engine))
        if stand is None:
            continue
        place = Place(vessel, engine, bearing, position, half)
        _one_place(got, place, quantity, at_place, events_of.get((vessel, engine), []), stand, limits)
    for (vessel, engine), told in events_of.items():
        if (vessel, engine) in engines:
            got.faults += journal_faults(told, readings, engines[(vessel, engine)].engine_type, limits)
    frame = pd.concat(got.kept, ignore_index=True) if got.kept else readings.iloc[:0]
    if got.new_walls:
        frame = pd.concat([frame, pd.DataFrame(got.new_walls)], ignore_index=True)
    assumptions = (f"{text}: {'; '.join(dict.fromkeys(places))}." for text, places in got.assumed.items())
    return Placed(frame, tuple(got.lives), tuple(got.faults), tuple(assumptions))


def _one_place(
    got: _Gathered,
    place: Place,
    quantity: str,
    at_place: pd.DataFrame,
    events: Sequence[Event],
    stand: EngineAt,
    limits: LimitBook,
) -> None:
    first = int(at_place["total_h"].to_numpy().argmin())
    in_service = stand.facts.get("in_service")
    lives = lives_at(
        place,
        quantity,
        events,
        float(at_place["total_h"].iloc[first]),
        at_place["date"].iloc[first].date(),
        in_service.date() if isinstance(in_service, pd.Timestamp) and not pd.isna(in_service) else None,
    )
    index, state_needed = life_of(
        lives, at_place["day"].to_numpy(dtype=np.int64), at_place["state"].to_numpy(dtype=object)
    )
    no_limit = np.array([_lacks_limit(life, stand, limits) for life in lives])
    for row in rows_of(at_place[state_needed]):
        got.faults.append(_state_needed(row, lives[0]))
    for row, k in zip(rows_of(at_place[~state_needed]), index[~state_needed].tolist(), strict=True):
        if no_limit[k]:
            got.faults.append(_no_limit(row, lives[k], stand, limits))
    fits = ~state_needed & ~no_limit[index]
    kept, index = at_place[fits], index[fits]
    base = len(got.lives)
    got.lives += lives
    got.assume(lives)
    got.kept.append(_ages(kept, lives, index).assign(life=index + base))
    got.new_walls += [
        _new_wall(life, base + k)
        for k, life in enumerate(lives)
        if np.isfinite(life.new_wall_mm) and not no_limit[k]
    ]


def _ages(kept: pd.DataFrame, lives: Sequence[Life], index: NDArray[np.int64]) -> pd.DataFrame:
    """Age of the shell at each reading, from fitting where that is known."""
    total_h = kept["total_h"].to_numpy()
    fitted_h = np.array([life.fitted_h for life in lives])[index] if len(lives) else np.empty(0)
    shell_h = np.maximum(total_h - fitted_h, 0.0)
    first_h = np.array([total_h[index == k].min() if (index == k).any() else 0.0 for k in range(len(lives))])
    tau_h = np.where(np.isfinite(shell_h), shell_h, total_h - first_h[index])
    fitted_on = np.array([np.datetime64(life.fitted_on or "NaT", "ns") for life in lives])[index]
    at_fitting = (kept["date"].to_numpy() == fitted_on) & np.isfinite(shell_h) & (shell_h == 0)
    return kept.assign(
        table="readings",
        shell_h=shell_h,
        tau_h=tau_h,
        new_wall=at_fitting,
        state=kept["state"].where(kept["state"] != "", "as_found"),
    )


def _new_wall(life: Life, index: int) -> dict[str, object]:
    """The wall measured when the shell was fitted, as a reading at age 0."""
    known = np.isfinite(life.fitted_h)
    return {
        "table": "events",
        "vessel": life.place.vessel,
        "engine": life.place.engine,
        "bearing": life.place.bearing,
        "position": life.place.position,
        "half": life.place.half,
        "point": "crown" if QUANTITIES[life.quantity].points else "",
        "quantity": life.quantity,
        "value": life.new_wall_mm,
        "value_mm": life.new_wall_mm,
        "value_text": life.new_wall_text or repr(life.new_wall_mm),
        "unit": "mm",
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
    return _query(row, "not_understood", text, "Fill in the state.", "state", "")


def _what(life: Life) -> str:
    return "shell" if life.quantity in ("wall", "wear") else life.quantity.replace("_", " ")


def _lacks_limit(life: Life, stand: EngineAt, limits: LimitBook) -> bool:
    """Whether readings of this life's size have no limit to go by."""
    quantity = QUANTITIES[life.quantity]
    if not quantity.forecast:
        return False
    sizes = limits.sizes(stand.engine_type, life.place.bearing, life.place.half, quantity.name)
    if not sizes and quantity.name == "journal_diameter":
        return False  # a journal may be watched without a limit
    return not any(same_size(size, life.shell_size) for size in sizes)


def _no_limit(row: Any, life: Life, stand: EngineAt, limits: LimitBook) -> Query:
    place = life.place
    sizes = limits.sizes(stand.engine_type, place.bearing, place.half, life.quantity)
    where = " ".join(filter(None, (place.bearing, place.half, life.quantity)))
    have = f"only {', '.join(sizes)}" if sizes else "none"
    text = (
        f"a {QUANTITIES[life.quantity].title} of shell size {life.shell_size}; expected a limit of that size "
        f"for {stand.engine_type} {where} in the limits table, which has {have}."
    )
    ask = f"Add the maker's limit for {life.shell_size}, or correct the size."
    return _query(row, "limit_size", text, ask, "shell_size", life.shell_size)


def _query(row: Any, kind: str, text: str, ask: str, column: str, found: str) -> Query:
    return Query(
        kind,
        text,
        ask,
        table="readings",
        rows=(int(row.row),),
        file=row.file,
        sheet=row.sheet,
        column=column,
        found=found,
        vessel=row.vessel,
        engine=row.engine,
        bearing=row.bearing,
        position=row.position,
        half=row.half,
    )
