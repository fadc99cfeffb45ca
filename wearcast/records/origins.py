"""Faults told by the cells of the sheet they came from."""

from __future__ import annotations

from dataclasses import replace

from wearcast.queries import Query
from wearcast.records.grids import Grid


def at_origin(fault: Query, grid: Grid) -> list[Query]:
    """The fault by sheet, rows and columns as the file is laid out; one for each column it touches.

    >>> from wearcast.records.cells import Notation
    >>> import numpy as np
    >>> from wearcast.records.grids import Origin
    >>> origin = Origin(np.array([5, 5]), {"value": ["column D", "column E"]}, ["D5", "E5"], ["wear", "wear"])
    >>> grid = Grid("readings", "a.xlsx", "wear", [], np.array([2, 3]), Notation(), origin=origin)
    >>> wide = Query("not_understood", "", file="a.xlsx", column="value", rows=(2, 3))
    >>> [one.where for one in at_origin(wide, grid)]
    ['a.xlsx, sheet wear, row 5, value (column D)', 'a.xlsx, sheet wear, row 5, value (column E)']
    """
    origin = grid.origin
    if origin is None:
        return [fault]
    places = origin.columns.get(fault.column)
    found: dict[tuple[str, str], set[int]] = {}
    for k in grid.positions(fault.rows).tolist():
        found.setdefault((origin.sheets[k], places[k] if places else ""), set()).add(int(origin.rows[k]))
    return [
        replace(
            fault,
            sheet=sheet,
            rows=tuple(sorted(rows)),
            column=f"{fault.column} ({place})" if place else fault.column,
        )
        for (sheet, place), rows in found.items()
    ] or [replace(fault, rows=())]
