"""From a draft to the canonical frame of its table."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.records.cells import text_of
from wearcast.records.drafts import Draft, History
from wearcast.records.grids import GridColumn
from wearcast.units import MM_PER_UNIT

FROM_CELL = "from_cell"
"""Column of rows taken from a sheet of another layout: the cell their value stands in."""


def frame(made: Draft, history: History | None = None) -> pd.DataFrame:
    """The rows that stand, in file order, with derived and unknown columns."""
    keep = np.flatnonzero(made.stands) if made.whole else np.empty(0, dtype=np.int64)
    data: dict[str, Any] = {column.name: made.values[column.name][keep] for column in made.table.columns}
    if "unit" in data:
        for name in made.table.lengths:
            data[f"{name}_mm"] = in_mm(data[name], data["unit"])
    for table, name in (("readings", "value"), ("events", "new_value")):
        if made.table.name == table:
            data[f"{name}_text"] = _texts(made.known.get(name), keep, digits=True)
    if history:
        numbers = made.grid.numbers[keep]
        data["old_text"] = np.full(len(keep), "", dtype=object)
        for at in np.flatnonzero(np.isin(numbers, list(history.old_text))).tolist():
            data["old_text"][at] = history.old_text[int(numbers[at])]
        data["confirmed"] = np.isin(numbers, list(history.confirmed))
    data["file"] = np.full(len(keep), made.grid.file, dtype=object)
    data["sheet"] = np.full(len(keep), made.grid.sheet, dtype=object)
    origin = made.grid.origin
    if origin is not None:
        data["sheet"][:] = [origin.sheets[k] for k in keep.tolist()]
        data[FROM_CELL] = np.array([origin.cells[k] for k in keep.tolist()], dtype=object)
    data["own_row" if "row" in data else "row"] = made.grid.sheet_rows[keep]
    for column in made.unknown:
        data[column.name] = _texts(column, keep)
    if not len(keep):  # an empty array of objects does not say that it holds texts
        data = {
            name: pd.Series(dtype=str) if values.dtype == object else values for name, values in data.items()
        }
    return pd.DataFrame(data)


def in_mm(values: NDArray[np.float64], units: NDArray[Any]) -> NDArray[np.float64]:
    """Lengths in millimetres; micrometres are divided, so that 7982 um is the double nearest to 7.982."""
    result = np.full(len(values), np.nan)
    for unit, factor in MM_PER_UNIT.items():
        at = units == unit
        result[at] = values[at] * factor if factor >= 1.0 else values[at] / round(1.0 / factor)
    return result


def _texts(column: GridColumn | None, keep: NDArray[np.int64], digits: bool = False) -> NDArray[Any]:
    if column is None:
        return np.full(len(keep), "", dtype=object)
    texts = np.empty(len(column.texts), dtype=object)
    texts[:] = [
        text_of(raw).replace(",", ".").replace("\u2212", "-") if digits else text_of(raw)
        for raw in column.texts
    ]
    return texts[column.codes[keep]]
