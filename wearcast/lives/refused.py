"""A fault of one engine is that engine's: it is refused whole, and the others go on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from wearcast.lives.history import EngineKey
from wearcast.queries import Query
from wearcast.records.records import RecordSet

OF_ALL = ("missing_column", "missing_table")
"""Kinds of faults that are every engine's; the rows of an unknown engine may be any's."""


def engines_at_fault(faults: Sequence[Query], records: RecordSet) -> frozenset[EngineKey]:
    """The engines that faults belong to; none where one of the faults may be any engine's, such as one of the limits.

    A row without an engine is its vessel's.
    """
    known = list(zip(records.engines["vessel"], records.engines["engine"], strict=True))
    misread = {(fault.vessel, fault.engine) for fault in faults if fault.table == "engines"}
    found: set[EngineKey] = set()
    for fault in faults:
        keys = fault.engines or ((fault.vessel, fault.engine),)
        anyones = fault.kind in OF_ALL or (fault.kind == "unknown_engine" and not misread.issuperset(keys))
        if anyones or not all(vessel for vessel, _ in keys):
            return frozenset()
        for vessel, engine in keys:
            mine = [key for key in known if key[0] == vessel] if not engine else [(vessel, engine)]
            if not engine and fault.table not in ("events", "windows"):
                return frozenset()
            found.update(mine)
    return frozenset(found)


def without(records: RecordSet, engines: Iterable[EngineKey], faults: Sequence[Query]) -> RecordSet:
    """The records without some engines; these faults stay with them."""
    gone = set(engines)

    def kept(table: pd.DataFrame) -> pd.DataFrame:
        keys = zip(table["vessel"], table["engine"], strict=True)
        return table[np.array([key not in gone for key in keys], dtype=bool)].reset_index(drop=True)

    tables = {name: kept(records.tables[name]) for name in ("engines", "readings", "events")}
    return replace(records, tables={**records.tables, **tables}, faults=tuple(faults))
