"""Building a grid from the rows of a sheet."""

from __future__ import annotations

from collections import defaultdict
from itertools import count

import numpy as np

from wearcast.records.cells import Notation, Raw, is_blank, text_of
from wearcast.records.grids import (
    HEADER_FROM,
    HEADER_WITHIN,
    Grid,
    GridColumn,
    RowProblem,
    header_match,
    letter,
    without_empty_rows,
)
from wearcast.records.sheet_xml import Merged
from wearcast.records.tables import Table


class SheetGrid:
    """Takes the filled cells of a sheet row by row; `finish` gives the grid.

    A column without a name is kept under its letter: in a sheet a cell cannot have slipped there from another
    column, as it can in a CSV file.
    """

    def __init__(self, table: Table, file: str, sheet: str, notation: Notation, merged: list[Merged]) -> None:
        self._grid = Grid(table.name, file, sheet, [], np.empty(0, np.int64), notation)
        self._names = [column.name for column in table.columns]
        self._merged = merged
        self._header: dict[int, str] = {}
        self._numbers: list[int] = []
        self._codes: dict[int, dict[int, int]] = {}
        self._texts: dict[int, defaultdict[Raw, int]] = {}
        self._header_row: int | None = None

    def add(self, number: int, cells: dict[int, Raw]) -> None:
        """Take one row: its number in the sheet, its filled cells by column counted from 0."""
        if number == 1:
            self._header = {index: text_of(raw) for index, raw in cells.items()}
            return
        if number <= HEADER_WITHIN and self._header_row is None:
            found = header_match([text_of(raw) for raw in cells.values()], self._names)
            if found >= HEADER_FROM and found > header_match(list(self._header.values()), self._names):
                self._header_row = number
        at = len(self._numbers)
        filled = False
        for index, raw in cells.items():
            if is_blank(raw):
                continue
            filled = True
            texts = self._texts.setdefault(index, defaultdict(count(1).__next__))
            self._codes.setdefault(index, {})[at] = texts[raw]
        if filled:
            self._numbers.append(number)

    def finish(self) -> Grid:
        """The grid of all rows taken."""
        grid = self._grid
        if self._header_row is not None:
            self._numbers, self._codes, self._texts = [], {}, {}
            grid.header_row = self._header_row
        grid.numbers = np.array(self._numbers, dtype=np.int64)
        for index in sorted({*self._codes, *(i for i, name in self._header.items() if name)}):
            codes = np.zeros(len(self._numbers), dtype=np.int32)
            mine = self._codes.get(index, {})
            codes[list(mine)] = list(mine.values())
            texts: list[Raw] = ["", *self._texts.get(index, ())]
            grid.columns.append(GridColumn(self._header.get(index, ""), letter(index), texts, codes))
        grid.problems = [self._problem(block) for block in self._merged if self._touches(block)]
        return without_empty_rows(grid)

    def _touches(self, block: Merged) -> bool:
        """Whether merged cells reach into the table: a column of it, in its header or in a filled row."""
        names = {self._header.get(index, "").casefold() for index in range(block.first[1] - 1, block.last[1])}
        if self._header_row is not None or not names & set(self._names):
            return False
        return block.first[0] == 1 or len(self._inside(block)) > 0

    def _inside(self, block: Merged) -> list[int]:
        rows = self._grid.numbers
        inside: list[int] = rows[(rows >= block.first[0]) & (rows <= block.last[0])].tolist()
        return inside

    def _problem(self, block: Merged) -> RowProblem:
        header = (1,) if block.first[0] == 1 else ()
        return RowProblem(
            (*header, *self._inside(block)),
            f"merged cells {block.text}",
            "every cell by itself",
            "Only the first of them holds a value: unmerge them and fill each cell.",
        )
