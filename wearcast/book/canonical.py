"""Tables brought to one way of writing: the text of every cell as it came, less what only its file could explain.

A decimal comma, the minus of typeset text, a date cell and the number cell 3.0 of a label mean something by their
file alone, so they are written out here; digits, and cells that mean nothing, stay as found. The file itself is
kept byte for byte beside them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.book import schema
from wearcast.door.trees import json_of
from wearcast.records.cells import Notation, Problem, Raw, is_blank, parse_choice, parse_place, text_of
from wearcast.records.date_cells import parse_date
from wearcast.records.frames import FROM_CELL
from wearcast.records.grids import Grid, GridColumn, letter
from wearcast.records.number_cells import DIALS, as_dial, parse_number
from wearcast.records.tables import TABLES, UNITS, Column

MORE = "more"
"""The column that holds those the contract does not know."""


def canonical(grid: Grid) -> Grid:
    """The grid with every column of its table, then the unknown ones, cells written one way; a copy of its own."""
    table = TABLES[grid.table]
    by_name: dict[str, GridColumn] = {}
    unknown: list[GridColumn] = []
    for column in grid.columns:
        name = column.name.casefold()
        if table.column(name) and name not in by_name:
            by_name[name] = column
        else:
            unknown.append(column)
    columns = []
    for index, known in enumerate(table.columns):
        found = by_name.get(known.name)
        if found is None or not found.texts:
            columns.append(empty_column(known.name, index, len(grid.numbers)))
            continue
        texts: list[Raw] = [written(known, raw, grid.notation) for raw in found.texts]
        columns.append(GridColumn(known.name, letter(index), texts, found.codes.copy()))
    columns += _named(unknown, len(columns))
    columns += _from_cells(grid, len(columns))
    return Grid(grid.table, grid.file, grid.sheet, columns, grid.numbers, Notation(), origin=grid.origin)


def empty_column(name: str, index: int, rows: int) -> GridColumn:
    """A column in which nothing stands."""
    return GridColumn(name, letter(index), [""], np.zeros(rows, dtype=np.int32))


def written(column: Column, raw: Raw, notation: Notation) -> str:
    """One cell in the way of writing of a book.

    >>> written(TABLES["readings"].column("value"), "7,980", Notation(decimal_comma=True))
    '7.980'
    """
    if is_blank(raw):
        return ""
    raw = as_dial(raw) if column.name in DIALS else raw
    found = text_of(raw)
    match column.cell:
        case "number":
            plain = found.replace(",", ".").replace("\N{MINUS SIGN}", "-")
            return found if isinstance(parse_number(raw, notation), Problem) else plain
        case "date":
            day = parse_date(raw, notation)
            return found if isinstance(day, Problem) else day.isoformat()
        case "choice":
            word = parse_choice(raw, column.choices, exact=column.choices == UNITS)
            return found if isinstance(word, Problem) else word
        case "place":
            label = parse_place(raw)
            return found if isinstance(label, Problem) else label
    return found


def _named(unknown: Sequence[GridColumn], after: int) -> list[GridColumn]:
    """Unknown columns under names of their own."""
    taken: set[str] = set()
    named = []
    for index, column in enumerate(unknown, start=after):
        name = column.name or f"column {column.letter}"
        name = f"{name} (column {column.letter})" if name in taken else name
        taken.add(name)
        texts: list[Raw] = [text_of(raw) for raw in column.texts]
        named.append(GridColumn(name, letter(index), texts, column.codes.copy()))
    return named


def _from_cells(grid: Grid, at: int) -> list[GridColumn]:
    """For rows of a sheet of another layout, the cell that each value stood in."""
    if grid.origin is None or not any(grid.origin.cells):
        return []
    codes, cells = pd.factorize(np.array(list(grid.origin.cells), dtype=object))
    return [GridColumn(FROM_CELL, letter(at), list(cells), codes.astype(np.int32))]


def texts_of(column: GridColumn) -> NDArray[np.object_]:
    """The text of every row."""
    array = np.empty(len(column.texts), dtype=object)
    array[:] = column.texts
    return array[column.codes] if len(column.texts) else np.full(len(column.codes), "", dtype=object)


def column_of(grid: Grid, name: str) -> GridColumn:
    """A column of a canonical grid by its name."""
    return next(column for column in grid.columns if column.name == name)


def unknown_columns(grid: Grid) -> list[GridColumn]:
    """The columns kept in ``more``: those after the contract's, and of these the ones the schema has not."""
    later = [column_of(grid, name) for name in schema.LATER.get(grid.table, ())]
    return [*later, *grid.columns[len(TABLES[grid.table].columns) :]]


def packed(columns: Sequence[GridColumn], rows: int) -> GridColumn:
    """Unknown columns as one: JSON of the cells in which something stands, or an empty text."""
    if not columns:
        return empty_column(MORE, 0, rows)
    combined, first = combination(columns)
    texts: list[Raw] = []
    for row in first.tolist():
        cells = {column.name: text_of(column[row]) for column in columns}
        filled = {name: text for name, text in cells.items() if text}
        texts.append(json.dumps(filled, ensure_ascii=False, sort_keys=True) if filled else "")
    return GridColumn(MORE, "", texts, combined.astype(np.int32))


def unpacked(more: GridColumn, after: int) -> list[GridColumn]:
    """The reverse of `packed`; columns in order of their names.

    Raises
    ------
    ValueError
        If a text is none that `packed` makes.
    """
    cells = [json_of(text_of(raw)) if text_of(raw) else {} for raw in more.texts]
    for one in cells:
        if not isinstance(one, dict) or not all(isinstance(text, str) for text in one.values()):
            raise ValueError("no columns by name")
    names = sorted({name for one in cells for name in one})
    return [
        GridColumn(name, letter(index), [one.get(name, "") for one in cells], more.codes)
        for index, name in enumerate(names, start=after)
    ]


def combination(columns: Sequence[GridColumn]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which rows agree in all columns: a number for each row, and the first row of each number, in row order."""
    combined = np.zeros(len(columns[0].codes), dtype=np.int64)
    for column in columns:
        if len(column.texts) > 1:
            combined, _ = pd.factorize(combined * len(column.texts) + column.codes)
    combined, _ = pd.factorize(combined)
    _, first = np.unique(combined, return_index=True)
    return combined.astype(np.int64), first.astype(np.int64)
