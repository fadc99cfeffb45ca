"""Workbooks (.xlsx): values as saved, merged cells and formulas without a result found out, hidden sheets read.

openpyxl reads the cells row by row (a stray cell at the far corner of a sheet must not cost a million rows of
memory); what it does not tell in that way is taken from the sheet's own XML by `sheet_xml`.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import IO, Any

from wearcast.door import bounds
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import streamed
from wearcast.records.cells import Notation, Raw, SheetCell, visible
from wearcast.records.faults import unreadable
from wearcast.records.found import Found
from wearcast.records.records import InputFile
from wearcast.records.sheet_grid import SheetGrid
from wearcast.records.sheet_xml import SAVE_AGAIN, SheetFacts, facts_of
from wearcast.records.tables import TABLES


def read_workbook(path: Path) -> Found:
    """The tables of a workbook, and its digest."""
    found = Found("sheet")
    try:
        with streamed(path) as (file, digest), warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that hold no values
            found.files.append(InputFile(path.name, digest))
            _read_sheets(found, file, path.name)
    except Exception as problem:
        return _refused(found, path.name, *damaged(problem))
    return found


def _refused(found: Found, file: str, text: str, suggestion: str, sheet: str = "") -> Found:
    found.refused |= {table.name for table in TABLES.values() if table.required}
    found.grids.clear()
    found.faults[:] = [unreadable(TABLES.get(sheet.strip().casefold()), file, sheet, text, suggestion)]
    return found


def damaged(problem: Exception) -> tuple[str, str, str]:
    """What hindered the reading, what to do, and in which sheet.

    Damage that the door does not know raises whatever it happens to hit; to the user it is one thing.
    """
    if isinstance(problem, TurnedAway):
        return problem.found, problem.advice, problem.where
    reason = visible(f"{type(problem).__name__}: {problem}", 200).rstrip(".")
    return f"the workbook is damaged and cannot be read ({reason})", SAVE_AGAIN, ""


@contextmanager
def opened_workbook(file: IO[bytes]) -> Iterator[tuple[list[tuple[Any, SheetFacts]], bool]]:
    """The sheets of a workbook that passed the door, and whether its days count from 1904."""
    import openpyxl

    facts = facts_of(file)
    file.seek(0)
    book = openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
    with closing(book):
        sheets = [(sheet, facts[sheet._worksheet_path.lstrip("/")]) for sheet in book.worksheets]
        yield sheets, book.epoch.year == 1904


def cells_of(sheet: Any, facts: SheetFacts) -> Iterator[tuple[int, dict[int, Raw]]]:
    """The rows of a sheet in which something stands: number, and cells by column counted from 1."""
    sheet.reset_dimensions()  # what a sheet says of its own size is not always true
    for number, row in enumerate(sheet.iter_rows(), start=1):
        cells = {
            cell.column: raw_cell(cell, facts.unsaved.get((number, cell.column)))
            for cell in row
            if cell.value is not None or (number, getattr(cell, "column", 0)) in facts.unsaved
        }
        if cells:
            yield number, cells


def _read_sheets(found: Found, opened: IO[bytes], file: str) -> None:
    with opened_workbook(opened) as (sheets, epoch_1904):
        by_table: dict[str, list[tuple[Any, SheetFacts]]] = {}
        for sheet, facts in sheets:
            found.names.append(facts.name)
            name = facts.name.strip().casefold()
            if name in TABLES:
                by_table.setdefault(name, []).append((sheet, facts))
            else:
                found.notes.append(
                    f"{file}, sheet {visible(facts.name)}: no table of a record set has this name; it was not read."
                )
        for name, same in by_table.items():
            sheet, facts = same[0]
            if len(same) > 1:
                text, titles = f"{len(same)} sheets are the table {name}", (one.name for _, one in same)
                found.refuse(TABLES[name], file, " and ".join(titles), text, "Keep the right one.")
                continue
            if facts.hidden:
                found.notes.append(f"{file}, sheet {visible(facts.name)}: the sheet is hidden; it was read.")
            grid = SheetGrid(TABLES[name], file, facts.name, Notation(epoch_1904=epoch_1904), facts.merged)
            for number, cells in cells_of(sheet, facts):
                grid.add(number, {column - 1: raw for column, raw in cells.items()})
            found.grids[name] = grid.finish()


def raw_cell(cell: Any, formula: str | None) -> Raw:
    """What stands in a cell; `formula` is one that was saved without a result."""
    value = cell.value
    if formula is not None:
        return SheetCell("formula", formula)
    if cell.data_type == "e":
        return SheetCell("error", str(value))
    if isinstance(value, bool):
        return SheetCell("logical", str(value).upper())
    if isinstance(value, int | float):
        return _number(value, cell.number_format)
    return _day_or_text(value)


def _day_or_text(value: Any) -> Raw:
    match value:
        case datetime():
            return SheetCell("date", _date_text(value), value)
        case date():
            return SheetCell("date", value.isoformat(), datetime.combine(value, time()))
        case time() | timedelta():
            return SheetCell("time", str(value))
    text, most = str(value), bounds.BOUNDS.cell_characters
    if len(text) > most:
        raise TurnedAway(f"a cell has {len(text):,} characters; at most {most:,} are read", "Shorten it.")
    return text


def _date_text(value: datetime) -> str:
    return value.date().isoformat() if value.time() == time() else value.isoformat(" ", "minutes")


_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.|\[[^\]]*\]')
_SCALED = re.compile(r"%|[0#?],+(?![0#?,])")
_DECIMALS = re.compile(r"[0#?]\.(0+)(?![0#?]*[eE])")


def _number(found: float, number_format: str) -> SheetCell:
    """A number with the digits a person is shown, never fewer than it holds.

    Ten significant digits: 7.982000000000001 is arithmetic, not measurement. A format of fixed decimals adds
    the zeros it shows; one with fewer decimals than the number takes none away, so that a rounded display
    does not pass for a rounded reading.
    """
    try:
        value = float(found)
    except OverflowError:
        value = math.inf
    text = f"{value:.10g}"
    shape = _LITERAL.sub(
        "", (number_format or "")[:255].split(";")[0]
    )  # as long as a spreadsheet program lets it be
    if _SCALED.search(shape):
        return SheetCell("scaled", text, value)
    decimals = _DECIMALS.search(shape)
    if decimals and "e" not in text and "n" not in text:
        whole, _, fraction = text.partition(".")
        text = f"{whole}.{fraction.ljust(len(decimals[1]), '0')}"
    return SheetCell("number", text, float(text))
