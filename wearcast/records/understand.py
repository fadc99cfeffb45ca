"""From a grid to a draft: columns sorted, every cell understood by itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.queries import Query
from wearcast.records.cells import (
    Problem,
    Raw,
    is_blank,
    parse_choice,
    parse_place,
    parse_text,
    shown,
    text_of,
)
from wearcast.records.date_cells import parse_date
from wearcast.records.drafts import Draft, Mask, groups
from wearcast.records.faults import cell_fault, duplicate_column, missing_column
from wearcast.records.grids import Grid, GridColumn
from wearcast.records.number_cells import DIALS, as_dial, parse_number
from wearcast.records.tables import TABLES, UNITS, Column, Table

Parsed = str | float | date | Problem

DERIVED = (
    *(f"{name}_mm" for table in TABLES.values() for name in table.lengths),
    *("value_text", "new_value_text", "old_text", "confirmed", "file", "sheet", "row", "own_row"),
)
"""Names that frames give their own columns; an unknown column of such a name is kept under another."""


def draft(grid: Grid, run_date: date) -> Draft:
    """Understand every cell of a table by itself."""
    table = TABLES[grid.table]
    known, unknown, faults = _arrange(grid, table)
    rows = len(grid.numbers)
    made = Draft(
        table,
        grid,
        known,
        unknown,
        {},
        {},
        np.ones(rows, dtype=np.bool_),
        np.ones(rows, dtype=np.bool_),
        faults,
        not faults,
    )
    for problem in grid.problems:
        at = np.isin(grid.numbers, np.asarray(problem.numbers, dtype=np.int64))
        in_header = 1 in problem.numbers
        if in_header or at.any():
            made.stands &= ~at
            made.whole = made.whole and not in_header
            numbers = [*([1] if in_header else []), *grid.numbers[at].tolist()]
            kind = "missing_column" if in_header else "not_understood"
            made.faults.append(
                cell_fault(
                    grid, numbers, problem.column, problem.found, problem.expected, problem.suggestion, kind
                )
            )
    hollow = _hollow(made) & made.stands
    made.asked &= made.stands
    made.refuse_text(
        hollow,
        "",
        f"found none of the required cells filled; expected a row of {table.name}.",
        "Fill the row in, or take it out; a note belongs in the column remark of a reading.",
    )
    made.asked &= ~hollow
    for column in table.columns:
        _understand(made, column, run_date)
    return made


def _arrange(grid: Grid, table: Table) -> tuple[dict[str, GridColumn], list[GridColumn], list[Query]]:
    """Sort the file's columns into known and unknown; refuse missing and doubled ones."""
    known: dict[str, GridColumn] = {}
    unknown: list[GridColumn] = []
    letters: dict[str, list[str]] = {}
    taken = set(DERIVED) | {column.name for column in table.columns}
    for column in grid.columns:
        name = column.name.casefold()
        if table.column(name):
            letters.setdefault(name, []).append(column.letter)
            known.setdefault(name, column)
        else:
            label = column.name or f"column {column.letter}"
            label = f"{label} (column {column.letter})" if label in taken else label
            taken.add(label)
            unknown.append(replace(column, name=label))
    faults = [duplicate_column(grid, name, places) for name, places in letters.items() if len(places) > 1]
    faults += [
        missing_column(grid, column.name)
        for column in table.columns
        if column.required and column.name not in known
    ]
    return known, unknown, faults


def _hollow(made: Draft) -> Mask:
    """The rows with something in them, but in no column that must be filled."""
    hollow = np.ones(len(made.stands), dtype=np.bool_)
    for column in made.table.columns:
        if column.filled:
            hollow &= ~made.filled(column.name)
    return hollow


def _understand(made: Draft, column: Column, run_date: date) -> None:
    found = made.known.get(column.name)
    rows = len(made.stands)
    parse = _parser(column, made.grid, run_date)
    empty = _empty(column)
    if found is None or not len(found.texts):
        made.values[column.name] = _array(column, [empty])[np.zeros(rows, dtype=np.int32)]
        made.unread[column.name] = np.zeros(rows, dtype=np.bool_)
        return
    parsed: list[Parsed] = [
        empty if is_blank(raw) and not column.filled else parse(raw) for raw in found.texts
    ]
    bad = np.array([isinstance(value, Problem) for value in parsed], dtype=np.bool_)
    made.values[column.name] = _array(column, [empty if isinstance(v, Problem) else v for v in parsed])[
        found.codes
    ]
    made.unread[column.name] = bad[found.codes]
    if bad.any():
        made.stands &= ~made.unread[column.name]
        at = np.flatnonzero(made.unread[column.name] & made.asked)
        problems = {
            id(raw): value
            for raw, value in zip(found.texts, parsed, strict=True)
            if isinstance(value, Problem)
        }
        for raw, part in groups(found, at) if len(at) else []:
            problem = problems[id(raw)]
            made.faults.append(
                cell_fault(
                    made.grid, made.grid.numbers[part].tolist(), column.name, shown(raw), problem.expected,
                    problem.suggestion,
                )
            )  # fmt: skip


def _empty(column: Column) -> Parsed:
    if column.cell == "number":
        return float(column.default) if column.default else float("nan")
    return date.min if column.cell == "date" else column.default


def _array(column: Column, values: list[Any]) -> NDArray[Any]:
    if column.cell == "number":
        return np.array(values, dtype=np.float64)
    if column.cell == "date":
        return np.array(["NaT" if v == date.min else v for v in values], dtype="datetime64[D]").astype(
            "datetime64[ns]"
        )
    array = np.empty(len(values), dtype=object)
    array[:] = values
    return array


def _parser(column: Column, grid: Grid, run_date: date) -> Callable[[Raw], Parsed]:
    """How a cell of this column is understood; an empty cell reaches it only where it must be filled."""
    latest = run_date if column.past else None

    def number(raw: Raw) -> Parsed:
        if is_blank(raw):
            return Problem("a number", "Fill it in; if there is none, take the row out.")
        value = parse_number(as_dial(raw) if column.name in DIALS else raw, grid.notation)
        return value if isinstance(value, Problem) else _within(value, column)

    def day(raw: Raw) -> Parsed:
        if is_blank(raw):
            return Problem("a date such as 2024-05-17", "Fill it in.")
        return parse_date(raw, grid.notation, latest, column.since)

    def choice(raw: Raw) -> Parsed:
        return parse_choice(raw, column.choices, exact=column.choices == UNITS)

    def word(raw: Raw) -> Parsed:
        if is_blank(raw):
            return Problem("a number or label" if column.cell == "place" else "a text", "Fill it in.")
        return parse_place(raw) if column.cell == "place" else parse_text(raw)

    kinds: dict[str, Callable[[Raw], Parsed]] = {
        "number": number, "date": day, "choice": choice, "text": word, "place": word, "verbatim": text_of,
    }  # fmt: skip
    return kinds[column.cell]


def _within(value: float, column: Column) -> Parsed:
    if not column.least <= value <= column.most:
        return Problem(f"a number from {column.least:,.10g} to {column.most:,.10g}", "Correct it.")
    if 0 < abs(value) < column.finest:
        return Problem(f"0, or a number of at least {column.finest:.10f}".rstrip("0"), "Correct it.")
    if column.whole and value != int(value):
        return Problem("a whole number", "Correct it.")
    return value
