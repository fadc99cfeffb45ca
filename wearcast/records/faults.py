"""Building the queries that name a cell, a row, a column or a table."""

from __future__ import annotations

from collections.abc import Sequence

from wearcast.queries import Query
from wearcast.records.cells import did_you_mean, one_of, visible
from wearcast.records.grids import Grid
from wearcast.records.tables import TABLES, Table


def sentence(found: str, expected: str) -> str:
    """What was found and what was expected."""
    return f"found {found}; expected {expected}." if expected else f"found {found}."


def cell_fault(
    grid: Grid,
    numbers: Sequence[int],
    column: str,
    found: str,
    expected: str,
    suggestion: str = "",
    kind: str = "not_understood",
    text: str = "",
) -> Query:
    """A refusal of cells of one column, or of whole rows where `column` is empty."""
    return Query(
        kind=kind,
        text=text or sentence(found, expected),
        suggestion=suggestion,
        table=grid.table,
        rows=tuple(numbers),
        file=grid.file,
        sheet=grid.sheet,
        column=column,
        found=found,
        expected=expected,
    )


def unreadable(
    table: Table | None, file: str, sheet: str, found: str, suggestion: str, rows: tuple[int, ...] = ()
) -> Query:
    """A whole table that cannot be read. It is never left out: rows would vanish unseen."""
    return Query(
        kind="missing_table",
        text=f"{found}. Nothing of it was read.",
        suggestion=suggestion,
        table=table.name if table else "",
        file=file,
        sheet=sheet,
        rows=rows,
        found=found,
        expected="a readable table",
    )


def missing_table(table: Table, source: str, found: Sequence[str], kind: str) -> Query:
    """A required table that is not there; `kind` is how tables come: ``file`` or ``sheet``."""
    name = f"{table.name}.csv" if kind == "file" else table.name
    others = ", ".join(visible(other) for other in found[:12]) if found else "none"
    return Query(
        kind="missing_table",
        text=f"there is no {kind} {name}; found: {others}.",
        suggestion=f"{did_you_mean(table.name, found)} Every record set has readings, engines and limits.".strip(),
        table=table.name,
        file=source,
        found=others,
        expected=name,
    )


def no_table(source: str, found: Sequence[str], kind: str) -> Query:
    """A source, meant to be added to others, in which no table of a record set was found."""
    others = ", ".join(visible(other) for other in found[:12]) if found else "none"
    return Query(
        kind="missing_table",
        text=f"no {kind} has the name of a table; found: {others}.",
        suggestion=f"Expected one or more of {one_of(list(TABLES))}; for a sheet of another layout write a mapping.",
        file=source,
        found=others,
        expected="a table of a record set",
    )


def missing_column(grid: Grid, column: str, why: str = "") -> Query:
    """A column that must be there, with the columns that were found."""
    header = grid.header
    found = ", ".join(visible(name, 30) for name in header[:40]) or "none"
    if grid.header_row is not None:
        suggestion = f"The column names seem to stand in row {grid.header_row}: move them to row 1."
    else:
        known = {known.name for known in TABLES[grid.table].columns}
        strangers = [name for name in header if name.casefold() not in known]
        suggestion = did_you_mean(column, strangers)
        suggestion = (
            suggestion.replace("Did you mean", "Rename").replace("?", f" to {column} if it is the same.")
            if suggestion
            else f"Add the column {column}."
        )
    return Query(
        kind="missing_column",
        text=f"there is no column {column}{why}; found: {found}.",
        suggestion=suggestion,
        table=grid.table,
        file=grid.file,
        sheet=grid.sheet,
        rows=(1,),
        column=column,
        found=found,
        expected=column,
    )


def duplicate_column(grid: Grid, name: str, letters: Sequence[str]) -> Query:
    """Two columns of one name: which holds the values cannot be known."""
    columns = one_of([f"{letter}" for letter in letters]).replace(" or ", " and ")
    return Query(
        kind="missing_column",
        text=f'columns {columns} are both named "{name}"; expected one.',
        suggestion="Rename or delete the one that does not hold the values.",
        table=grid.table,
        file=grid.file,
        sheet=grid.sheet,
        rows=(1,),
        column=name,
        found=f"{name} in columns {columns}",
        expected="one column of that name",
    )
