"""Rows of a corrections table drafted from the queries, for a user to read, edit and keep.

Nothing is corrected here. Where one change is the plain reading of a query it is filled in; where only the user can
know, the action stays empty. `by` and `date` are always empty: whoever keeps a row signs it, and the reader refuses
rows that nobody has signed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from types import MappingProxyType
from typing import Any

import numpy as np

from wearcast.doubts.plausibility import slip_of
from wearcast.lives.history import History
from wearcast.queries import KINDS, Query
from wearcast.units import MM_PER_UNIT

HOW_TO = (
    "Read each row against the original sheet, edit or delete it, and fill in by and date. An empty action is yours to "
    "choose: replace with what was measured, confirm if it was measured again and is right, or withdraw. Rows without "
    "action, by or date are refused when the records are read."
)
"""What the user is told beside the draft."""


@dataclass(frozen=True)
class DraftRow:
    """One row of the corrections table."""

    table: str
    row: int
    column: str
    old: str
    new: str
    action: str
    reason: str
    by: str = ""
    date: str = ""
    approved_by: str = ""


COLUMNS = tuple(one.name for one in fields(DraftRow))


def draft_corrections(queries: Sequence[Query], history: History) -> list[dict[str, Any]]:
    """Drafted corrections for the queries about readings, one row a cell, in the order of the queries.

    Parameters
    ----------
    queries : sequence of Query
        As `doubt` or `wearcast check` lists them; refusals are left out, for their rows were not understood.
    history : History
        The history they are about.

    Returns
    -------
    list of dict
        Rows with the columns of the corrections table.
    """
    readings = history.readings
    measured = readings["table"] == "readings"
    by_row = {int(row): k for k, row in zip(np.flatnonzero(measured), readings["row"][measured], strict=True)}
    drafted: dict[tuple[int, str], DraftRow] = {}
    for query in queries:
        if query.stops_run or query.table != "readings":
            continue
        cells = [readings.iloc[by_row[row]] for row in query.rows if row in by_row]
        for row in DRAFTS[KINDS[query.kind].draft](query, history, cells):
            drafted.setdefault((row.row, row.column), row)
    return [asdict(row) for row in drafted.values()]


Cells = Sequence[Any]
"""Rows of `History.readings`."""


def _row(cell: Any, column: str, old: str, new: str, action: str, reason: str) -> DraftRow:
    return DraftRow("readings", int(cell["row"]), column, old, new, action, reason)


def _reason(query: Query, words: str = "") -> str:
    kind = query.kind.replace("_", " ")
    return f"{kind}: {words}" if words else kind


def _yours(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:  # noqa: ARG001
    """The value of each row with the action left to the user."""
    for cell in cells:
        yield _row(cell, "value", cell["value_text"], "", "", _reason(query))


def _factor(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:
    """The value brought back by the factor that explains it, in the unit as written."""
    for cell in cells:
        limit = history.series[int(cell["series"])].limit
        slip = slip_of(float(cell["value_mm"]), limit) if limit is not None else None
        if slip is None or slip.factor is None:
            yield from _yours(query, history, [cell])
            continue
        value = float(cell["value_mm"]) * slip.factor / MM_PER_UNIT[cell["unit"]]
        digits = 5 if cell["unit"] == "in" else (0 if cell["unit"] == "um" else 3)
        words = slip.words.partition(": ")[2].rstrip(".") or slip.words.rstrip(".")
        yield _row(cell, "value", cell["value_text"], f"{value:.{digits}f}", "replace", _reason(query, words))


def _duplicate(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:
    """Equal values: all but the first withdrawn. Different ones: the user says which stands."""
    values = {float(cell["value_mm"]) for cell in cells}
    if len(values) == 1:
        for cell in cells[1:]:
            yield _row(cell, "value", cell["value_text"], "", "withdraw", _reason(query, "written twice"))
    else:
        yield from _yours(query, history, cells)


def _halves(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:  # noqa: ARG001
    """Upper and lower exchanged."""
    other = {"upper": "lower", "lower": "upper"}
    for cell in cells:
        yield _row(cell, "half", cell["half"], other[cell["half"]], "replace", _reason(query))


def _ends(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:
    """Every main counted from the other end: first + last - i."""
    for cell in cells:
        new = _from_other_end(history, cell)
        if new is None:
            yield from _yours(query, history, [cell])
        elif new != cell["position"]:
            yield _row(cell, "position", cell["position"], new, "replace", _reason(query))


def _from_other_end(history: History, cell: Any) -> str | None:
    facts = history.engines[(cell["vessel"], cell["engine"])].facts
    count = facts.get("mains") if cell["bearing"] == "main" else facts.get("throws")
    first = facts.get("first_main") if cell["bearing"] == "main" else 1.0
    known = isinstance(count, float) and isinstance(first, float) and np.isfinite([count, first]).all()
    if not known or not str(cell["position"]).isdigit():
        return None
    assert isinstance(count, float)
    assert isinstance(first, float)
    return str(int(2 * first + count - 1) - int(cell["position"]))


def _date(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:
    """The later rows given the date of the rows before them that share the dial."""
    readings = history.readings
    for cell in cells:
        same = readings[
            (readings["vessel"] == cell["vessel"])
            & (readings["engine"] == cell["engine"])
            & (readings["date"] < cell["date"])
            & ((readings["total_h"] - cell["total_h"]).abs() <= 1.0)
        ]
        if len(same):
            new, old = same["date"].max().date().isoformat(), cell["date"].date().isoformat()
            yield _row(cell, "date", old, new, "replace", _reason(query))
        else:
            yield from _yours(query, history, [cell])


def _nothing(query: Query, history: History, cells: Cells) -> Iterator[DraftRow]:  # noqa: ARG001
    """No reading to correct: an event is missing, or another record is wrong."""
    return iter(())


Draft = Callable[[Query, History, Cells], Iterator[DraftRow]]

DRAFTS: MappingProxyType[str, Draft] = MappingProxyType(
    {
        "value": _yours,
        "factor": _factor,
        "twice": _duplicate,
        "half": _halves,
        "position": _ends,
        "date": _date,
        "none": _nothing,
    }
)
"""What `queries.Kind.draft` names."""
