"""One table as found in a file: named columns of raw cells, each distinct cell kept once.

A million readings hold few distinct texts a column, so cells are understood once a text and then spread out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wearcast.records.cells import Notation, Raw, is_blank

HEADER_WITHIN, HEADER_FROM = 20, 3
"""Where column names are looked for if row 1 has few: rows, and names that make a header (judgement)."""

Rows = NDArray[np.int64]
"""Positions of rows in a grid, counted from 0 (not the row numbers of the file)."""


@dataclass
class GridColumn:
    """One column as found.

    Attributes
    ----------
    name : str
        The header cell, stripped.
    letter : str
        The column as a spreadsheet names it.
    texts : list of Raw
        The distinct cells.
    codes : array of int, shape (rows,)
        For each row the position of its cell in `texts`.
    """

    name: str
    letter: str
    texts: list[Raw]
    codes: NDArray[np.int32]

    def __getitem__(self, row: int) -> Raw:
        return self.texts[int(self.codes[row])]

    def __setitem__(self, row: int, raw: Raw) -> None:
        self.codes[row] = len(self.texts)
        self.texts.append(raw)

    @property
    def blank(self) -> NDArray[np.bool_]:
        """Which rows have nothing in this column."""
        by_text = np.array([is_blank(text) for text in self.texts], dtype=np.bool_)
        return by_text[self.codes] if len(by_text) else np.zeros(len(self.codes), dtype=np.bool_)

    def take(self, rows: NDArray[np.bool_]) -> GridColumn:
        """The column with only these rows."""
        return GridColumn(self.name, self.letter, self.texts, self.codes[rows])


@dataclass(frozen=True)
class RowProblem:
    """Rows that cannot be understood as rows, whatever their cells say; `numbers` as a spreadsheet shows them."""

    numbers: tuple[int, ...]
    found: str
    expected: str
    suggestion: str
    column: str = ""


@dataclass(frozen=True)
class Origin:
    """Where the cells of a table stand in a file that is laid out in another way.

    Attributes
    ----------
    rows : array of int, shape (rows,)
        The row of the sheet each row of the grid was taken from.
    columns : mapping of str to list of str
        For each column of the grid, row by row, where its cell stands: ``column D``, or what else gave it.
    cells : sequence of str, one a row
        The cell the row's value stands in (``D14``), where rows of the sheet hold several.
    sheets : sequence of str, one a row
        The sheet it stands in.
    """

    rows: NDArray[np.int64]
    columns: Mapping[str, Sequence[str]]
    cells: Sequence[str]
    sheets: Sequence[str]

    def take(self, rows: NDArray[np.bool_]) -> Origin:
        """The origin of only these rows."""
        at = np.flatnonzero(rows).tolist()
        columns = {name: [of[k] for k in at] for name, of in self.columns.items()}
        cells, sheets = [self.cells[k] for k in at], [self.sheets[k] for k in at]
        return Origin(self.rows[rows], columns, cells, sheets)


@dataclass
class Grid:
    """One table as found in a file.

    Attributes
    ----------
    columns : list of GridColumn
        In the order of the file.
    numbers : array of int, shape (rows,)
        Row numbers as a spreadsheet shows them, rising; entirely empty rows are left out.
    header_row : int or None
        Where the column names seem to stand if not in row 1.
    origin : Origin or None
        Where the cells stand in a sheet of another layout; `numbers` then only tell the rows apart.
    """

    table: str
    file: str
    sheet: str
    columns: list[GridColumn]
    numbers: NDArray[np.int64]
    notation: Notation
    problems: list[RowProblem] = field(default_factory=list)
    header_row: int | None = None
    origin: Origin | None = None

    @property
    def sheet_rows(self) -> NDArray[np.int64]:
        """For each row its number in the sheet, as a spreadsheet shows it."""
        return self.numbers if self.origin is None else self.origin.rows

    @property
    def header(self) -> list[str]:
        """The column names found."""
        return [column.name for column in self.columns if column.name]

    def positions(self, numbers: Sequence[int]) -> Rows:
        """Where the rows of these numbers stand; numbers of no row are passed over."""
        wanted = np.asarray(numbers, dtype=np.int64)
        return np.flatnonzero(np.isin(self.numbers, wanted))

    def without(self, rows: NDArray[np.bool_]) -> Grid:
        """The grid less the rows marked."""
        keep = ~rows
        columns = [column.take(keep) for column in self.columns]
        return Grid(
            self.table,
            self.file,
            self.sheet,
            columns,
            self.numbers[keep],
            self.notation,
            self.problems,
            self.header_row,
            self.origin.take(keep) if self.origin else None,
        )


def without_empty_rows(grid: Grid) -> Grid:
    """The grid less the rows in which nothing stands."""
    empty = np.ones(len(grid.numbers), dtype=np.bool_)
    for column in grid.columns:
        empty &= column.blank
    return grid.without(empty) if empty.any() else grid


def letter(index: int) -> str:
    """The name a spreadsheet gives the column at this position, counted from 0.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def header_match(cells: Sequence[str], names: Sequence[str]) -> int:
    """How many of these cells are column names of the table."""
    return len({cell.strip().casefold() for cell in cells} & set(names))


def no_codes() -> NDArray[np.int32]:
    """The codes of a column without rows."""
    return np.empty(0, dtype=np.int32)
