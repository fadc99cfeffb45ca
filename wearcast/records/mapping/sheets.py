"""Any sheet as its cells, by row and column, before it is known what they mean."""

from __future__ import annotations

import csv
import warnings
from collections.abc import Iterator, Sized
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from wearcast.door import bounds
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import csv_lines, kind_of, streamed
from wearcast.errors import WrongUse
from wearcast.queries import Query
from wearcast.records.cells import Notation, Raw, is_blank
from wearcast.records.csv_files import SEPARATORS, bounded
from wearcast.records.csv_text import records, start_of, trouble_in_text
from wearcast.records.faults import unreadable
from wearcast.records.records import InputFile
from wearcast.records.sheet_xml import Cell, Merged
from wearcast.records.workbook import cells_of, damaged, opened_workbook


@dataclass
class RawSheet:
    """One sheet; `cells` has the filled ones by row and column, counted from 1."""

    file: str
    name: str
    cells: dict[Cell, Raw] = field(default_factory=dict)
    notation: Notation = field(default_factory=Notation)
    merged: list[Merged] = field(default_factory=list)

    @property
    def last_row(self) -> int:
        """The last row with something in it."""
        return max((row for row, _ in self.cells), default=0)


@dataclass
class RawFile:
    """The sheets of a file; of a CSV file the one it is, without a name."""

    file: InputFile | None
    sheets: list[RawSheet] = field(default_factory=list)
    faults: list[Query] = field(default_factory=list)


def raw_file(path: Path) -> RawFile:
    """The sheets of a workbook, or the one sheet of a CSV file.

    Raises
    ------
    WrongUse
        If there is no such file, or it is neither.
    """
    csv_file = path.suffix.casefold() == ".csv"
    try:
        kind = kind_of(path)
        if kind in ("", "folder") or not (csv_file or path.suffix.casefold() == ".xlsx"):
            is_there = "expected one .xlsx workbook or .csv file" if kind else "there is no such file"
            raise WrongUse(f"{path}: {is_there}. A mapping is for one file of another layout.")
        with streamed(path, csv_lines() if csv_file else None) as (file, digest):
            made = RawFile(InputFile(path.name, digest))
            (_read_csv if csv_file else _read_workbook)(made, file, path.name)
            return made
    except TurnedAway as away:
        return RawFile(None, faults=[unreadable(None, path.name, "", away.found, away.advice)])


def _read_csv(made: RawFile, file: IO[bytes], name: str) -> None:
    trouble = trouble_in_text(file, name, None)
    if trouble is not None:
        made.faults.append(trouble)
        return
    separator = _separator(start_of(file))
    sheet = RawSheet(name, "")
    row = 0
    try:
        read = records(file, separator, skipinitialspace=False)
        for row, record in enumerate(bounded(read, bounds.BOUNDS.columns), start=1):
            for column, cell in enumerate(record, start=1):
                if cell.strip():
                    sheet.cells[row, column] = cell.strip()
            _refuse_many(sheet.cells)
    except TurnedAway as away:
        made.faults.append(unreadable(None, name, "", away.found, away.advice))
        return
    except csv.Error:
        found = f"the quotes in row {row + 1} or below do not pair"
        made.faults.append(
            unreadable(None, name, "", found, 'Put one " before and one " after the cell.', (row + 1,))
        )
        return
    sheet.notation = Notation(decimal_comma=separator != ",")
    made.sheets.append(sheet)


def _separator(text: str, lines: int = 20) -> str:
    """A tab or semicolon in the first lines is one; a comma may stand in words and numbers as well."""
    start = text.splitlines()[:lines]
    for sign in ("\t", ";"):
        if sum(sign in line for line in start) * 2 >= sum(bool(line.strip()) for line in start):
            return sign
    return SEPARATORS[0]


def _refuse_many(cells: Sized) -> None:
    most = bounds.BOUNDS.layout_cells
    if len(cells) > most:
        raise TurnedAway(
            f"over {most:,} cells have something in them, more than any sheet written by hand",
            "Split the file, or write it in the layout of a record set.",
        )


def _read_workbook(made: RawFile, file: IO[bytes], name: str) -> None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that hold no values
            made.sheets += _sheets(file, name)
    except Exception as problem:
        made.sheets.clear()
        found, advice, sheet = damaged(problem)
        made.faults.append(unreadable(None, name, sheet, found, advice))


def _sheets(file: IO[bytes], name: str) -> Iterator[RawSheet]:
    with opened_workbook(file) as (sheets, epoch_1904):
        for sheet, facts in sheets:
            cells: dict[Cell, Raw] = {}
            for row, by_column in cells_of(sheet, facts):
                cells |= {(row, column): raw for column, raw in by_column.items() if not is_blank(raw)}
                _refuse_many(cells)
            yield RawSheet(name, facts.name, cells, Notation(epoch_1904=epoch_1904), facts.merged)
