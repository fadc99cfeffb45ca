"""Limits changed under the same document and revision: asked about, for nothing says who moved them and why."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.family import Found
from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.records.limit_changes import LimitChange

_ASK = (
    "Compare with the document. If it was revised, name the new revision in limit_source; a limit that is eased needs "
    "the name of who approved it (approved_by)."
)


def find_limit_changes(history: History, counted: NDArray[np.bool_]) -> Found:  # noqa: ARG001  (no reading is looked at)
    """One query a limit and figure."""
    return Found(tuple(_query(one, history.records.source) for one in history.records.limit_changes))


def _query(change: LimitChange, file: str) -> Query:
    cells = change.now.cells
    parts = cells["bearing"], cells["half"], cells["quantity"]
    what = " ".join(part.replace("_", " ") for part in parts if part)
    was, now = change.was.written(change.column), change.now.written(change.column)
    text = (
        f"{change.column} of {cells['engine_type']} {what} {cells['shell_size']} is {now or 'empty'} and was "
        f"{was or 'empty'}, both by “{cells['limit_source']}”{': it is eased' if change.eases else ''}. Brought in by "
        f"{change.by} on {change.at[:10]}; approved by: {cells['approved_by'] or 'nobody named'}."
    )
    return Query(
        "limit_changed", text, _ASK, table="limits", rows=(change.now.row,), file=file, column=change.column,
        found=now, expected=was, bearing=cells["bearing"], half=cells["half"],
    )  # fmt: skip
