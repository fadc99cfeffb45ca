"""Rules between tables: engines that exist, signs of deflections, halves, places spelled one way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.quantities import HALVES
from wearcast.records.cells import did_you_mean, one_of, visible
from wearcast.records.drafts import Draft, combinations
from wearcast.records.names import one_name, told_again
from wearcast.records.places import beyond_the_engine, check_spelling


def check_between(drafts: Mapping[str, Draft]) -> list[str]:
    """Refuse rows that do not fit the other tables; give what is only worth a note."""
    notes = one_name(drafts)
    if "readings" in drafts:
        notes += told_again(drafts["readings"])
    engines = drafts.get("engines")
    if engines is None or not engines.whole:
        return notes
    for name in ("readings", "events", "windows"):
        if name in drafts and drafts[name].whole:
            _check_engines(drafts[name], engines)
    placed = [drafts[name] for name in ("readings", "events") if name in drafts and drafts[name].whole]
    if placed:
        check_spelling(placed)
    readings, events = drafts.get("readings"), drafts.get("events")
    if readings is not None and readings.whole:
        _check_deflection_sign(readings, engines)
        if events is not None and events.whole:
            _check_halves(events, readings)
    notes += [note for made in placed for note in beyond_the_engine(made, engines)]
    return notes + [
        note
        for name in ("limits", "spares")
        if name in drafts and drafts[name].whole
        for note in _strange_types(drafts[name], engines)
    ]


def _pairs(made: Draft, rows: NDArray[Any] | None = None) -> list[tuple[str, str]]:
    """Vessel and engine of each row asked for."""
    at = slice(None) if rows is None else rows
    return list(zip(made.values["vessel"][at].tolist(), made.values["engine"][at].tolist(), strict=True))


def _check_engines(made: Draft, engines: Draft) -> None:
    named = set(_pairs(engines, engines.read("vessel", "engine")))
    standing = set(_pairs(engines, engines.stands))
    vessels = {vessel for vessel, _ in standing}
    codes, first = combinations(made, ("vessel", "engine"))
    read = made.read("vessel", "engine")
    for code, (vessel, engine) in enumerate(_pairs(made, first)):
        of_vessel = made.table.name in ("windows", "events") and engine == ""
        if (vessel, engine) in standing or (of_vessel and vessel in vessels):
            continue
        rows = read & (codes == code)
        label = f"{visible(vessel)} engine {visible(engine)}".removesuffix(" engine ")
        if (vessel, engine) in named:
            text = f"found {label}, whose row in {engines.grid.file} is refused; expected an engine that is known."
            advice = "Correct its row in engines first."
        else:
            text = f"found {label}; expected an engine named in {engines.grid.file}."
            advice = _which_engine(vessel, engine, named)
        made.refuse_text(rows, "engine", text, advice, "unknown_engine")


def _which_engine(vessel: str, engine: str, named: set[tuple[str, str]]) -> str:
    own = sorted(known for ship, known in named if ship == vessel)
    if own and engine:
        return f"Engines of {visible(vessel)} are: {visible(', '.join(own))}. Correct the name or add the engine."
    close = did_you_mean(vessel, {ship for ship, _ in named})
    return f"{close} Correct the name, or add the engine to engines.".strip()


def _check_deflection_sign(readings: Draft, engines: Draft) -> None:
    """Without the sign convention of its engine a deflection says nothing."""
    deflections = readings.stands & (readings.values["quantity"] == "web_deflection")
    if not deflections.any():
        return
    silent = engines.stands & (engines.values["deflection_sign"] == "")
    for at in np.flatnonzero(silent).tolist():
        vessel, engine = engines.values["vessel"][at], engines.values["engine"][at]
        rows = deflections & (readings.values["vessel"] == vessel) & (readings.values["engine"] == engine)
        row = int(engines.grid.numbers[at])
        place = ", ".join(part for part in (engines.grid.file, engines.grid.sheet) if part)
        readings.refuse_text(
            rows,
            "value",
            f"web deflections of {visible(vessel)} engine {visible(engine)}, whose deflection_sign "
            f"({place}, row {row}) is empty; expected opening_plus or opening_minus.",
            "Fill in deflection_sign from the form the readings were written on.",
        )


def _check_halves(events: Draft, readings: Draft) -> None:
    """A renewal where shells have halves must say which."""
    starts = (
        events.stands & np.isin(events.values["event"], ("fitted", "renewal")) & (events.values["half"] == "")
    )
    if not starts.any():
        return
    place = ["vessel", "engine", "bearing", "position"]
    halved = readings.stands & (readings.values["half"] != "")
    with_half = pd.DataFrame({name: readings.values[name][halved] for name in place}).drop_duplicates()
    asked = pd.DataFrame({name: events.values[name] for name in place})
    found = asked.merge(with_half, how="left", on=place, indicator=True)["_merge"] == "both"
    events.refuse(
        starts & found.to_numpy(),
        "half",
        f"{one_of(HALVES)}: readings there tell the halves apart",
        "Write which half-bearing it was; for both, write two rows.",
    )


def _strange_types(made: Draft, engines: Draft) -> list[str]:
    known = set(engines.values["engine_type"][engines.read("engine_type")].tolist())
    found = sorted(set(made.values["engine_type"][made.stands].tolist()) - known)
    return [
        f"{made.grid.file}: engine type {visible(name)} is no engine's in this record set. "
        f"{did_you_mean(name, known)}".strip()
        for name in found
    ]
