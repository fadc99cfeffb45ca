"""Corrections, applied to the cells as found before any of them is understood.

So a correction can mend a row that could not be read, and what it puts in goes through the same rules as
what was there. Nothing is overwritten in the files; the old text stays beside the new one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from wearcast.records.cells import (
    Notation,
    Problem,
    Raw,
    SheetCell,
    is_blank,
    parse_place,
    shown,
    text_of,
    visible,
)
from wearcast.records.date_cells import parse_date
from wearcast.records.drafts import Draft, History
from wearcast.records.grids import Grid, GridColumn, letter
from wearcast.records.number_cells import parse_number
from wearcast.records.tables import TABLES, Column

CORRECTED_TABLES = ("readings", "events")


@dataclass
class Applied:
    """The grids as corrected, what was changed in each and taken out, and a note of every correction."""

    grids: dict[str, Grid]
    history: dict[str, History] = field(
        default_factory=lambda: {name: History() for name in CORRECTED_TABLES}
    )
    notes: list[str] = field(default_factory=list)
    withdrawn: dict[str, Grid] = field(default_factory=dict)


@dataclass(frozen=True)
class _Correction:
    """One row of the corrections table with the cell it is about."""

    origin: str
    grid: Grid
    cell: GridColumn
    row: int
    number: int
    why: str
    new: Raw


def correct(grids: Mapping[str, Grid], corrections: Draft | None) -> Applied:
    """Apply the corrections in file order; refuse those that do not fit what stands there."""
    applied = Applied(dict(grids))
    if corrections is None or not corrections.whole:
        return applied
    gone: dict[str, dict[int, str]] = {}
    for at in np.flatnonzero(corrections.stands).tolist():
        table = str(corrections.values["table"][at])
        correction = _find(corrections, at, applied.grids.get(table), gone.setdefault(table, {}))
        if correction is None:
            continue
        place = f"{correction.grid.file}, row {correction.number}"
        history, old = applied.history[table], text_of(correction.cell[correction.row])
        match corrections.values["action"][at]:
            case "replace":
                correction.cell[correction.row] = correction.new
                new = text_of(correction.new) or "empty"
                change = f"{correction.cell.name}: {old or 'empty'} -> {new} {correction.why}"
                earlier = history.old_text.get(correction.number)
                history.old_text[correction.number] = f"{earlier}; {change}" if earlier else change
                history.confirmed.discard(correction.number)
                applied.notes.append(f"{place}, corrected: {change}.")
            case "withdraw":
                gone[table][correction.row] = correction.origin
                applied.notes.append(f"{place}, withdrawn {correction.why}.")
            case _:
                history.confirmed.add(correction.number)
                applied.notes.append(f"{place}, confirmed {correction.why}.")
    for table, rows in gone.items():
        if rows:
            mask = np.zeros(len(applied.grids[table].numbers), dtype=np.bool_)
            mask[list(rows)] = True
            applied.withdrawn[table] = applied.grids[table].without(~mask)
            applied.grids[table] = applied.grids[table].without(mask)
    return applied


def _find(made: Draft, at: int, grid: Grid | None, gone: Mapping[int, str]) -> _Correction | None:
    """The cell a correction is about, or None with the refusal noted."""
    row = _row(made, at, grid, gone)
    if grid is None or row is None:
        return None
    cell = _cell(made, at, grid, row)
    if cell is None:
        return None
    origin = f"{made.grid.file}, row {int(made.grid.numbers[at])}"
    new = _new(made, at, TABLES[grid.table].column(cell.name.casefold()), origin)
    if isinstance(new, Problem):
        _refuse(made, at, "new", new.expected, new.suggestion)
        return None
    day = np.datetime_as_string(made.values["date"][at], unit="D")
    why = f"({made.values['reason'][at]}; {made.values['by'][at]}, {day})"
    return _Correction(origin, grid, cell, row, int(grid.numbers[row]), why, new)


def _row(made: Draft, at: int, grid: Grid | None, gone: Mapping[int, str]) -> int | None:
    """Where the row of a correction stands in the grid."""
    number = int(made.values["row"][at])
    if grid is None:
        _refuse(made, at, "table", "a table of this record set that can be read")
        return None
    found = grid.positions([number])
    if not len(found):
        holds = f"its rows are 2 to {int(grid.numbers[-1])}" if len(grid.numbers) else "it has no rows"
        _refuse(made, at, "row", f"a row of {grid.file} with something in it; {holds}")
        return None
    row = int(found[0])
    if row in gone:
        _refuse(made, at, "row", f"a row that still stands; {gone[row]} has withdrawn it")
        return None
    return row


def _cell(made: Draft, at: int, grid: Grid, row: int) -> GridColumn | None:
    """The column of a correction, if what stands there is what the correction says."""
    name = str(made.values["column"][at])
    cell = _column(grid, name) if name else None
    if not name:
        advice = "Name one and give its text as old, so that the row can be checked."
        _refuse(made, at, "column", "the name of a column", advice)
    elif cell is None:
        _refuse(made, at, "column", f"a column of {grid.file}: {visible(', '.join(grid.header), 400)}")
    else:
        column = TABLES[grid.table].column(cell.name.casefold())
        if _same(column, str(made.values["old"][at]), made.grid.notation, cell[row], grid.notation):
            return cell
        place = f"{grid.file}, row {int(grid.numbers[row])}, {cell.name}"
        advice = "If the records have changed since, look at them again and write the correction anew."
        _refuse(made, at, "old", f"what stands in {place}: {shown(cell[row])}", advice)
    return None


def _refuse(
    made: Draft, at: int, column: str, expected: str, suggestion: str = "Correct the correction."
) -> None:
    rows = np.zeros(len(made.stands), dtype=np.bool_)
    rows[at] = True
    made.refuse(rows, column, expected, suggestion)


def _column(grid: Grid, name: str) -> GridColumn | None:
    """The column of that name; one of the contract that the file lacks is added, empty."""
    wanted = name.casefold()
    for column in grid.columns:
        if column.name.casefold() == wanted:
            return column
    if not TABLES[grid.table].column(wanted):
        return None
    column = GridColumn(wanted, letter(len(grid.columns)), [""], np.zeros(len(grid.numbers), dtype=np.int32))
    grid.columns.append(column)
    return column


def _same(column: Column | None, old: str, old_notation: Notation, raw: Raw, notation: Notation) -> bool:
    """Whether two cells say the same: as text, else as number, date or label."""
    found = text_of(raw)
    if old == found:
        return True
    if column is None or not old or not found:
        return False
    if column.cell == "number":
        numbers = parse_number(old, old_notation), parse_number(raw, notation)
        return not isinstance(numbers[0], Problem) and numbers[0] == numbers[1]
    if column.cell == "date":
        dates = parse_date(old, old_notation), parse_date(raw, notation)
        return not isinstance(dates[0], Problem) and dates[0] == dates[1]
    if column.cell == "choice":
        return old.casefold() == found.casefold()
    return column.cell == "place" and parse_place(old) == parse_place(raw)


def _new(made: Draft, at: int, column: Column | None, origin: str) -> Raw | Problem:
    """The cell to put in, read in the notation of the corrections table, not of the table it goes to."""
    action = made.values["action"][at]
    raw = made.known["new"][at]
    if action != "replace":
        if is_blank(raw):
            return raw
        return Problem(f"nothing: {action} takes no new value", "Empty the cell, or write replace as action.")
    if is_blank(raw) or column is None or column.cell not in ("number", "date"):
        return SheetCell("text", text_of(raw), origin=origin)
    if column.cell == "date":
        day = parse_date(raw, made.grid.notation)
        return day if isinstance(day, Problem) else SheetCell("text", day.isoformat(), origin=origin)
    number = parse_number(raw, made.grid.notation)
    if isinstance(number, Problem):
        return number
    return SheetCell("number", text_of(raw).replace(",", "."), number, origin)
