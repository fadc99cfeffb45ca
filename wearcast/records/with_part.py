"""A record set as it would be with a part that has just arrived: a filled form, one opening."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.errors import WrongUse
from wearcast.records.names import bank_and_number, folded, spellings
from wearcast.records.records import RecordSet

OpeningKey = tuple[str, str, date]
"""Vessel, engine and date."""

_TOLD_BY = {
    "engines": ("vessel", "engine"),
    "limits": ("engine_type", "bearing", "half", "quantity", "shell_size", "point", "limit_side"),
}


@dataclass(frozen=True, eq=False)
class WithPart:
    """Records before a part came, and with it.

    Attributes
    ----------
    before, now : RecordSet
        Of the engine types concerned alone; what was known of the same openings already is in neither but by the part.
    openings : tuple of OpeningKey
        Those the part tells of, by date.
    known_already : int
        Readings of these openings that the records held.
    """

    before: RecordSet
    now: RecordSet
    openings: tuple[OpeningKey, ...]
    known_already: int


def with_part(known: RecordSet, part: RecordSet) -> WithPart:
    """Put a part beside what is known, its names written as they are known.

    Raises
    ------
    WrongUse
        If the part tells of an engine that nothing is known of, or of no opening at all.
    """
    part = _as_known(known, part)
    engines = _told_anew("engines", known, part)
    openings = _openings(part)
    if not openings:
        raise WrongUse(f"{part.source}: neither readings nor events in it; nothing to compare.")
    types = set(engines["engine_type"][_of_engines(engines, {key[:2] for key in openings})])
    mine = engines["engine_type"].isin(types)
    before, already = dict(known.tables), 0
    before["engines"] = engines[mine]
    before["limits"] = _told_anew("limits", known, part)
    now = dict(before)
    for name in ("readings", "events"):
        table = known.tables[name]
        keys = list(zip(table["vessel"], table["engine"], table["date"].dt.date, strict=True))
        told = np.array([key in openings for key in keys], dtype=bool)
        concerned = _of_engines(
            table, set(zip(engines["vessel"][mine], engines["engine"][mine], strict=True))
        )
        concerned |= (table["engine"] == "").to_numpy(dtype=bool)
        already += int(told.sum()) if name == "readings" else 0
        before[name] = table[concerned & ~told]
        now[name] = _under(before[name], part.tables[name])
    plain = replace(known, faults=(), notes=(), origins={})
    return WithPart(
        replace(plain, tables=before), replace(plain, tables=now, faults=part.faults), openings, already
    )


def _as_known(known: RecordSet, part: RecordSet) -> RecordSet:
    """The part with vessels, engines, gauges and places as the records write them, and files told apart."""
    pairs = [tuple(key) for key in known.engines[["vessel", "engine"]].itertuples(index=False)]
    pairs += [tuple(key) for key in part.engines[["vessel", "engine"]].itertuples(index=False)]
    gauges = {folded(name): name for name in known.readings["instrument"]}
    places = {bank_and_number(name): name for name in known.readings["position"]}
    names = {one.name for one in known.files}
    tables = dict(part.tables)
    for name in ("readings", "events"):
        table = tables[name].copy()
        for key in dict.fromkeys(zip(table["vessel"], table["engine"], strict=True)):
            named = (table["vessel"] == key[0]) & (table["engine"] == key[1])
            table.loc[named, ["vessel", "engine"]] = spellings(*key, pairs)[0]
        table["position"] = [places.get(bank_and_number(one), one) for one in table["position"]]
        if name == "readings":
            table["instrument"] = [gauges.get(folded(one), one) for one in table["instrument"]]
        table["file"] = [f"{one} (to come)" if one in names else one for one in table["file"]]
        tables[name] = table
    return replace(part, tables=tables)


def _openings(part: RecordSet) -> tuple[OpeningKey, ...]:
    told = pd.concat([part.tables[name][["date", "vessel", "engine"]] for name in ("readings", "events")])
    told = told[told["date"].notna()].drop_duplicates().sort_values(["date", "vessel", "engine"])
    return tuple((vessel, engine, on.date()) for on, vessel, engine in told.itertuples(index=False))


def _of_engines(table: pd.DataFrame, keys: set[tuple[str, str]]) -> NDArray[np.bool_]:
    pairs = zip(table["vessel"], table["engine"], strict=True)
    return np.array([pair in keys for pair in pairs], dtype=bool)


def _told_anew(name: str, known: RecordSet, part: RecordSet) -> pd.DataFrame:
    """The known rows of a table, and those of the part that tell of something else."""
    by = list(_TOLD_BY[name])
    there = set(known.tables[name][by].itertuples(index=False, name=None))
    new = [key not in there for key in part.tables[name][by].itertuples(index=False, name=None)]
    return _under(known.tables[name], part.tables[name][new])


def _under(table: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
    """Rows under rows; a column that only one of them has is empty in the other."""
    if not len(more):
        return table
    columns = list(dict.fromkeys((*table.columns, *more.columns)))
    filled = []
    for one, other in ((table, more), (more, table)):
        missing = {
            name: False if other[name].dtype == bool else ("" if other[name].dtype == object else np.nan)
            for name in columns
            if name not in one.columns
        }
        filled.append(one.assign(**missing)[columns])
    return pd.concat([one for one in filled if len(one)], ignore_index=True)
