"""Any sheet as its cells, by row and column, before it is known what they mean."""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from wearcast.errors import WrongUse
from wearcast.queries import Query
from wearcast.records.cells import Notation, Raw, is_blank
from wearcast.records.csv_files import SEPARATORS, decoded
from wearcast.records.faults import unreadable
from wearcast.records.records import InputFile
from wearcast.records.sheet_xml import Cell, Merged, sheet_parts, unsaved_and_merged
from wearcast.records.workbook import SAVE_AGAIN, no_workbook, raw_cell

MOST_CELLS = 20_000_000
"""Filled cells of a sheet beyond which it is refused (judgement): no sheet of readings has as many."""


@dataclass
class RawSheet:
    """One sheet; `cells` has the filled ones by row and column, counted from 1."""

    file: str
    name: str
    cells: dict[Cell, Raw] = field(default_factory=dict)
    notation: Notation = field(default_factory=Notation)
    merged: list[Merged] = field(default_factory=list)

    def turned(self) -> RawSheet:
        """The sheet with rows and columns changed over."""
        cells = {(column, row): raw for (row, column), raw in self.cells.items()}
        merged = [Merged(block.text, block.first[::-1], block.last[::-1]) for block in self.merged]
        return RawSheet(self.file, self.name, cells, self.notation, merged)

    @property
    def last_row(self) -> int:
        """The last row with something in it."""
        return max((row for row, _ in self.cells), default=0)

    def columns(self) -> list[int]:
        """The columns with something in them."""
        return sorted({column for _, column in self.cells})


@dataclass
class RawFile:
    """The sheets of a file; of a CSV file the one it is, without a name."""

    file: InputFile | None
    sheets: list[RawSheet] = field(default_factory=list)
    faults: list[Query] = field(default_factory=list)


def raw_file(path: Path, separator: str = "") -> RawFile:
    """The sheets of a workbook, or the one sheet of a CSV file.

    Raises
    ------
    WrongUse
        If there is no such file, or it is neither.
    """
    if not path.is_file() or path.suffix.casefold() not in (".xlsx", ".csv"):
        is_there = "expected one .xlsx workbook or .csv file" if path.exists() else "there is no such file"
        raise WrongUse(f"{path}: {is_there}. A mapping is for one file of another layout.")
    try:
        data = path.read_bytes()
    except OSError as problem:
        found = f"the file cannot be opened ({problem.strerror})"
        return RawFile(
            None, faults=[unreadable(None, path.name, "", found, "Check the file and its rights.")]
        )
    made = RawFile(InputFile(path.name, hashlib.sha256(data).hexdigest()))
    if path.suffix.casefold() == ".csv":
        _read_csv(made, data, path.name, separator)
    else:
        _read_workbook(made, data, path.name)
    return made


def _read_csv(made: RawFile, data: bytes, name: str, separator: str) -> None:
    text = decoded(data, name, None)
    if isinstance(text, Query):
        made.faults.append(text)
        return
    separator = separator or _separator(text)
    sheet = RawSheet(name, "")
    row = 0
    try:
        for row, record in enumerate(
            csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True), start=1
        ):
            for column, cell in enumerate(record, start=1):
                if cell.strip():
                    sheet.cells[row, column] = cell.strip()
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


def _read_workbook(made: RawFile, data: bytes, name: str) -> None:
    reason = no_workbook(data)
    if reason:
        made.faults.append(unreadable(None, name, "", *reason))
        return
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that hold no values
            made.sheets += _sheets(data, name)
    except Exception:
        # Broken archives and XML raise whatever they happen to hit; to the user it is one thing.
        made.sheets.clear()
        made.faults.append(
            unreadable(None, name, "", "the workbook is damaged and cannot be read", SAVE_AGAIN)
        )


def _sheets(data: bytes, name: str) -> Iterator[RawSheet]:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    with contextlib.closing(book), zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {part.name: part for part in sheet_parts(archive)}
        for worksheet in book.worksheets:
            unsaved, merged = unsaved_and_merged(archive.read(parts[worksheet.title].path))
            sheet = RawSheet(
                name, worksheet.title, notation=Notation(epoch_1904=book.epoch.year == 1904), merged=merged
            )
            worksheet.reset_dimensions()  # what a sheet says of its own size is not always true
            for number, row in enumerate(worksheet.iter_rows(), start=1):
                for cell in row:
                    place = (number, getattr(cell, "column", 0))
                    if cell.value is None and place not in unsaved:
                        continue
                    raw = raw_cell(cell, unsaved.get(place))
                    if not is_blank(raw):
                        sheet.cells[place] = raw
                if len(sheet.cells) > MOST_CELLS:
                    raise ValueError("too many cells")
            yield sheet
