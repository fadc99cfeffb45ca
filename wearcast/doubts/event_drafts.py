"""Rows of an events table drafted from queries about renewals that nobody recorded; nothing is added by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.records.tables import TABLES

COLUMNS = tuple(column.name for column in TABLES["events"].columns)
HOW_TO = (
    "Keep the rows that are true, correct the size where another shell was put in, and add them to the events table "
    "(or to the book: wearcast book add). Take the others out and settle their readings in a corrections table."
)


def draft_events(queries: Sequence[Query], history: History) -> list[dict[str, Any]]:
    """A renewal for each place that a query says looks renewed, with the wall left there as the new one."""
    readings = history.readings
    measured = np.flatnonzero((readings["table"] == "readings").to_numpy())
    by_row = {int(row): k for k, row in zip(measured, readings["row"].to_numpy()[measured], strict=True)}
    drafted: dict[tuple[str, ...], dict[str, Any]] = {}
    for query in queries:
        if query.kind != "unrecorded_renewal" or query.table != "readings":
            continue
        for row in query.rows:
            cell = readings.iloc[by_row[row]]
            place = {name: str(cell[name]) for name in ("vessel", "engine", "bearing", "position", "half")}
            day = str(cell["date"].date())
            event = drafted.setdefault(
                (*place.values(), day),
                {
                    **place,
                    "date": day,
                    "counter_h": f"{cell['counter_h']:.10g}"
                    if cell["counter_h"] == cell["counter_h"]
                    else "",
                    "event": "renewal",
                    "shell_size": history.lives[cell["life"]].shell_size,
                    "remark": f"drafted: {query.kind.replace('_', ' ')}, to be confirmed",
                },
            )
            if cell["state"] == "as_left" and cell["point"] == "crown":
                event |= {"new_value": cell["value_text"], "unit": cell["unit"]}
    return list(drafted.values())
