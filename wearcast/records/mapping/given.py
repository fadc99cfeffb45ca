"""The grid of a table out of cells gathered one by one, each with the place it came from."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np

from wearcast.records.cells import Notation, Raw
from wearcast.records.grids import Grid, GridColumn, Origin, letter
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.rows import Given, Row
from wearcast.records.mapping.sheets import RawSheet
from wearcast.records.number_cells import writes_with
from wearcast.records.tables import TABLES

_PARTS = re.compile(r"(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})\.?", re.ASCII)


def grid_of(mapping: Mapping, rows: Sequence[Row], sheet: RawSheet) -> Grid:
    """The table of the mapped rows; every column of the table is there, empty where nothing gave it."""
    table = TABLES[mapping.table]
    notation = _notation(mapping, rows, sheet)
    columns, places = [], {}
    nowhere = Given("", f"nowhere in {mapping.name}")
    for index, column in enumerate(table.columns):
        given = [row.cells.get(column.name, nowhere) for row in rows]
        raws = [one.raw for one in given]
        if column.cell == "date" and mapping.date_order:
            raws = [_in_order(raw, mapping.date_order) for raw in raws]
        columns.append(grid_column(column.name, index, raws))
        places[column.name] = [one.place for one in given]
    numbers = np.arange(2, len(rows) + 2)
    origin = Origin(
        np.array([row.number for row in rows], dtype=np.int64),
        places,
        [row.value_cell for row in rows],
        [row.sheet for row in rows],
    )
    return Grid(mapping.table, sheet.file, sheet.name, columns, numbers, notation, origin=origin)


def grid_column(name: str, index: int, raws: Iterable[Raw]) -> GridColumn:
    """A column of cells, each distinct one kept once."""
    texts: dict[Raw, int] = {}
    codes = [texts.setdefault(raw, len(texts)) for raw in raws]
    return GridColumn(name, letter(index), list(texts), np.array(codes, dtype=np.int32))


def _notation(mapping: Mapping, rows: Sequence[Row], sheet: RawSheet) -> Notation:
    """How numbers are written: as the mapping says, else as for the record set's own files."""
    comma = mapping.decimal == "," or (mapping.decimal == "" and sheet.notation.decimal_comma)
    numbers = {column.name for column in TABLES[mapping.table].columns if column.cell == "number"}
    signs = {
        writes_with(given.raw)
        for row in rows
        for name, given in row.cells.items()
        if name in numbers and given.place != mapping.name
    }
    return Notation(comma, comma and {",", "."} <= signs, sheet.notation.epoch_1904)


def _in_order(raw: Raw, order: str) -> Raw:
    """A date text in ISO form, its parts in the order the mapping says; anything else as it stands."""
    found = _PARTS.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if not found:
        return raw
    parts = dict(zip(order.split(), found.groups(), strict=True))
    if len(parts["year"]) != 4 or len(parts["month"]) > 2 or len(parts["day"]) > 2:
        return raw
    try:
        return date(int(parts["year"]), int(parts["month"]), int(parts["day"])).isoformat()
    except ValueError:
        return raw
