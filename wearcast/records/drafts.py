"""A table on its way from raw cells to a frame: columns as arrays, and which rows still stand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
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
from wearcast.records.faults import cell_fault, duplicate_column, missing_column
from wearcast.records.grids import Grid, GridColumn
from wearcast.records.number_cells import parse_number
from wearcast.records.tables import TABLES, UNITS, Column, Table
from wearcast.units import MM_PER_UNIT

Mask = NDArray[np.bool_]
Parsed = str | float | date | Problem

PLACE_COLUMNS = ("vessel", "engine", "bearing", "position", "half")
DERIVED = ("value_mm", "value_text", "new_min_mm", "new_max_mm", "limit_mm", "new_value_mm", "old_text", "confirmed",
           "file", "sheet", "row", "own_row")  # fmt: skip


@dataclass
class History:
    """What corrections did to a table, by row number: old texts struck through, readings confirmed."""

    old_text: dict[int, str] = field(default_factory=dict)
    confirmed: set[int] = field(default_factory=set)


@dataclass
class Draft:
    """One table being understood.

    Attributes
    ----------
    known : dict
        The file's columns by contract name.
    unknown : list of GridColumn
        The others, kept as text under the name they have here.
    values : dict of arrays, shape (rows,)
        Each contract column: str objects, float64 or datetime64[ns].
    unread : dict of bool arrays
        Where a column's cell was not understood; such a cell is asked nothing more.
    stands : bool array
        The rows without a fault so far.
    asked : bool array
        The rows whose cells are worth asking: not those refused as rows, whose cells may have slipped.
    whole : bool
        False where a required column is missing: nothing can be said of the rows.
    """

    table: Table
    grid: Grid
    known: dict[str, GridColumn]
    unknown: list[GridColumn]
    values: dict[str, NDArray[Any]]
    unread: dict[str, Mask]
    stands: Mask
    asked: Mask
    faults: list[Query]
    whole: bool = True

    def read(self, *names: str) -> Mask:
        """The rows whose cells of these columns were understood."""
        unread = np.zeros(len(self.stands), dtype=np.bool_)
        for name in names:
            unread |= self.unread[name]
        return ~unread

    def filled(self, name: str) -> Mask:
        """The rows with something in this column."""
        column = self.known.get(name)
        return ~column.blank if column else np.zeros(len(self.stands), dtype=np.bool_)

    def refuse(
        self, rows: Mask, column: str, expected: str, suggestion: str = "", kind: str = "not_understood"
    ) -> None:
        """Refuse these rows for their cell of one column; one query for each text found there."""
        self.stands &= ~rows
        rows = rows & self.asked
        if not rows.any():
            return
        if column not in self.known:
            self._refuse_for_lack_of(column, expected)
            return
        for raw, at in groups(self.known[column], np.flatnonzero(rows)):
            self.faults.append(
                cell_fault(
                    self.grid, self.grid.numbers[at].tolist(), column, shown(raw), expected, suggestion, kind
                )
            )

    def refuse_text(
        self, rows: Mask, column: str, text: str, suggestion: str = "", kind: str = "not_understood"
    ) -> None:
        """Refuse these rows together, in the words given."""
        self.stands &= ~rows
        rows = rows & self.asked
        if rows.any():
            numbers = self.grid.numbers[rows].tolist()
            self.faults.append(cell_fault(self.grid, numbers, column, "", "", suggestion, kind, text))

    def _refuse_for_lack_of(self, column: str, expected: str) -> None:
        self.whole = False
        if not any(fault.kind == "missing_column" and fault.column == column for fault in self.faults):
            self.faults.append(missing_column(self.grid, column, f", and rows need it (expected {expected})"))


def groups(column: GridColumn, rows: NDArray[np.int64]) -> list[tuple[Raw, NDArray[np.int64]]]:
    """The rows sorted by what stands in the column, each text once."""
    codes = column.codes[rows]
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order])) + 1
    return [(column.texts[codes[part[0]]], rows[part]) for part in np.split(order, starts)]


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
        value = parse_number(raw, grid.notation)
        return value if isinstance(value, Problem) else _within(value, column)

    def day(raw: Raw) -> Parsed:
        if is_blank(raw):
            return Problem("a date such as 2024-05-17", "Fill it in.")
        return parse_date(raw, grid.notation, latest)

    def choice(raw: Raw) -> Parsed:
        return parse_choice(raw, column.choices, exact=column.choices == UNITS)

    def word(raw: Raw) -> Parsed:
        if is_blank(raw):
            return Problem("a text", "Fill it in.")
        return parse_place(raw) if column.cell == "place" else parse_text(raw)

    kinds: dict[str, Callable[[Raw], Parsed]] = {
        "number": number, "date": day, "choice": choice, "text": word, "place": word, "verbatim": text_of,
    }  # fmt: skip
    return kinds[column.cell]


def _within(value: float, column: Column) -> Parsed:
    if column.least is not None and value < column.least:
        return Problem(f"a number not below {column.least:g}", "Correct it.")
    if column.above is not None and value <= column.above:
        return Problem(f"a number above {column.above:g}", "Correct it.")
    if column.whole and value != int(value):
        return Problem("a whole number", "Correct it.")
    return value


def frame(made: Draft, history: History | None = None) -> pd.DataFrame:
    """The rows that stand, in file order, with derived and unknown columns."""
    keep = np.flatnonzero(made.stands) if made.whole else np.empty(0, dtype=np.int64)
    data: dict[str, Any] = {column.name: made.values[column.name][keep] for column in made.table.columns}
    if "unit" in data:
        for name in made.table.lengths:
            data[f"{name}_mm"] = in_mm(data[name], data["unit"])
    if made.table.name == "readings":
        data["value_text"] = _texts(made.known.get("value"), keep, digits=True)
    if history:
        numbers = made.grid.numbers[keep].tolist()
        data["old_text"] = np.array([history.old_text.get(number, "") for number in numbers], dtype=object)
        data["confirmed"] = np.array([number in history.confirmed for number in numbers], dtype=np.bool_)
    data["file"] = np.full(len(keep), made.grid.file, dtype=object)
    data["sheet"] = np.full(len(keep), made.grid.sheet, dtype=object)
    data["own_row" if "row" in data else "row"] = made.grid.numbers[keep]
    for column in made.unknown:
        data[column.name] = _texts(column, keep)
    result = pd.DataFrame(data)
    texts = {name: str for name, values in data.items() if values.dtype == object}
    return result.astype(texts) if not len(keep) else result


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
