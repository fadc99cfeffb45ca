"""A mapping as data: which sheet, which rows, which heading is which column, and what the sheet does not say."""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field
from typing import Literal

DecimalSign = Literal["", ".", ","]
DateOrder = Literal["", "day month year", "month day year", "year month day"]

NOTHING: ReadOnly[str, str] = {}


@dataclass(frozen=True)
class Values:
    """Columns of a wide sheet that hold a value in every row.

    Attributes
    ----------
    heading : str
        Their heading; braces take a column of the table out of it (``Main {position}``).
    constants : mapping
        What holds for all of them.
    """

    heading: str
    constants: ReadOnly[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Block:
    """One table below another, each under a title of its own.

    Attributes
    ----------
    title : str
        The text that opens a block; braces take a column of the table out of it.
    column : int
        Where titles stand, counted from 1.
    """

    title: str
    column: int = 1


@dataclass(frozen=True)
class Mapping:
    """How one table stands in another's sheet.

    Attributes
    ----------
    name : str
        The mapping file, for messages.
    table : str
        The table the rows become.
    sheet : str
        The sheet's name, braces allowed; empty for the only one.
    turned : bool
        One reading or opening a column; rows and columns are then changed over before anything else, and all
        numbers below count columns.
    header : tuple of int
        Rows with headings (in blocks counted from the title); several are joined by `` / ``.
    first, last : int
        First and last row of data; 0: right below the headings, to the end.
    skip : tuple of int
        Rows in between that are none.
    columns, cells, constants : mapping
        By column of the table: its heading, the one cell that holds it for all rows (row, column), its value.
    values : tuple of Values
        The columns of a wide sheet.
    words : mapping
        By column of the table: their word and ours.
    carry : tuple of str
        Columns in which an empty cell repeats the one before.
    empty : tuple of str
        What is written where nothing was measured.
    """

    name: str
    table: str = "readings"
    sheet: str = ""
    turned: bool = False
    header: tuple[int, ...] = (1,)
    first: int = 0
    last: int = 0
    skip: tuple[int, ...] = ()
    separator: str = ""
    decimal: DecimalSign = ""
    date_order: DateOrder = ""
    columns: ReadOnly[str, str] = field(default_factory=dict)
    cells: ReadOnly[str, tuple[int, int]] = field(default_factory=dict)
    constants: ReadOnly[str, str] = field(default_factory=dict)
    values: tuple[Values, ...] = ()
    words: ReadOnly[str, ReadOnly[str, str]] = field(default_factory=dict)
    carry: tuple[str, ...] = ()
    empty: tuple[str, ...] = ()
    block: Block | None = None

    def words_of(self, column: str) -> ReadOnly[str, str]:
        """Their words for a column, and ours."""
        return self.words.get(column, NOTHING)
