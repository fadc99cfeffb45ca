"""The table of the rows a mapping found: how its numbers and dates are written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from wearcast.records.cells import Notation, Raw
from wearcast.records.gathered import Row, gathered
from wearcast.records.grids import Grid
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.sheets import RawSheet
from wearcast.records.number_cells import writes_with
from wearcast.records.tables import TABLES, Column

_PARTS = re.compile(r"(\d{1,4})[-/. ](\d{1,2})[-/. ](\d{1,4})\.?", re.ASCII)


def grid_of(mapping: Mapping, rows: Sequence[Row], sheet: RawSheet) -> Grid:
    """The table of the mapped rows."""

    def change(column: Column, raw: Raw) -> Raw:
        return _in_order(raw, mapping.date_order) if column.cell == "date" and mapping.date_order else raw

    notation = _notation(mapping, rows, sheet)
    return gathered(mapping.table, sheet.file, rows, notation, f"nowhere in {mapping.name}", change)


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
