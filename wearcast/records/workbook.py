"""Workbooks (.xlsx): values as saved, merged cells and formulas without a result found out, hidden sheets read.

openpyxl reads the cells row by row (a stray cell at the far corner of a sheet must not cost a million rows of
memory); what it does not tell in that way is taken from the sheet's own XML by `sheet_xml`.
"""

from __future__ import annotations

import hashlib
import io
import math
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from wearcast.records.cells import Notation, Raw, SheetCell, visible
from wearcast.records.faults import unreadable
from wearcast.records.found import Found
from wearcast.records.records import InputFile
from wearcast.records.sheet_grid import SheetGrid
from wearcast.records.sheet_xml import SheetPart, sheet_parts, unsaved_and_merged
from wearcast.records.tables import TABLES

MOST_BYTES = 2**31
"""Unpacked size beyond which a workbook is refused (judgement): no spreadsheet program saves such a one."""

_OLE = b"\xd0\xcf\x11\xe0"


def read_workbook(path: Path) -> Found:
    """The tables of a workbook, whose bytes are read once and hashed."""
    found = Found("sheet")
    try:
        data = path.read_bytes()
    except OSError as error:
        return _refused(
            found,
            path.name,
            f"the file cannot be opened ({error.strerror})",
            "Check the file and its rights.",
        )
    found.files.append(InputFile(path.name, hashlib.sha256(data).hexdigest()))
    reason = no_workbook(data)
    if reason:
        return _refused(found, path.name, *reason)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that hold no values
        try:
            _read_sheets(found, data, path.name)
        except Exception:
            # Broken archives and XML raise whatever they happen to hit; to the user it is one thing.
            return _refused(found, path.name, "the workbook is damaged and cannot be read", SAVE_AGAIN)
    return found


SAVE_AGAIN = "Open it in the spreadsheet program and save it again as .xlsx, or take an undamaged copy."


def _refused(found: Found, file: str, text: str, suggestion: str) -> Found:
    for table in TABLES.values():
        if table.required:
            found.refused.add(table.name)
    found.grids.clear()
    found.faults[:] = [unreadable(None, file, "", text, suggestion)]
    return found


def no_workbook(data: bytes) -> tuple[str, str] | None:
    """Why these bytes are no workbook, and what to do."""
    if not data:
        return "the file is empty", "Take the right file."
    if data.startswith(_OLE):
        return (
            "the workbook is locked with a password, or saved in an older format under this name",
            "Save it as .xlsx without a password.",
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            size = sum(part.file_size for part in archive.infolist())
    except Exception:
        return "the file is no whole .xlsx workbook (cut short, or another kind of file)", SAVE_AGAIN
    if size > MOST_BYTES:
        return f"the workbook unpacks to {size / 2**30:.0f} GiB", "Save the tables alone in a new workbook."
    return None


def _read_sheets(found: Found, data: bytes, file: str) -> None:
    import openpyxl

    workbook = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    notation = Notation(epoch_1904=workbook.epoch.year == 1904)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {part.name: part for part in sheet_parts(archive)}
        by_table: dict[str, list[str]] = {}
        for sheet in workbook.worksheets:
            found.names.append(sheet.title)
            name = sheet.title.strip().casefold()
            if name in TABLES:
                by_table.setdefault(name, []).append(sheet.title)
            else:
                found.notes.append(
                    f"{file}, sheet {visible(sheet.title)}: no table of a record set has this name; it was not read."
                )
        for name, titles in by_table.items():
            if len(titles) > 1:
                text = f"{len(titles)} sheets are the table {name}"
                found.refuse(TABLES[name], file, " and ".join(titles), text, "Keep the right one.")
                continue
            part = parts[titles[0]]
            if part.hidden:
                found.notes.append(f"{file}, sheet {visible(titles[0])}: the sheet is hidden; it was read.")
            try:
                _read_sheet(found, workbook[titles[0]], archive, part, file, notation)
            except Exception:
                found.refuse(
                    TABLES[name], file, titles[0], "the sheet is damaged and cannot be read", SAVE_AGAIN
                )
    workbook.close()


def _read_sheet(
    found: Found, sheet: Any, archive: zipfile.ZipFile, part: SheetPart, file: str, notation: Notation
) -> None:
    table = TABLES[part.name.strip().casefold()]
    unsaved, merged = unsaved_and_merged(archive.read(part.path))
    grid = SheetGrid(table, file, part.name, notation, merged)
    sheet.reset_dimensions()  # what a sheet says of its own size is not always true
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        row = {
            cell.column - 1: raw_cell(cell, unsaved.get((number, cell.column)))
            for cell in cells
            if cell.value is not None or (number, getattr(cell, "column", 0)) in unsaved
        }
        if row:
            grid.add(number, row)
    found.grids[table.name] = grid.finish()


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
    return str(value)


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
    shape = _LITERAL.sub("", (number_format or "").split(";")[0])
    if _SCALED.search(shape):
        return SheetCell("scaled", text, value)
    decimals = _DECIMALS.search(shape)
    if decimals and "e" not in text and "n" not in text:
        whole, _, fraction = text.partition(".")
        text = f"{whole}.{fraction.ljust(len(decimals[1]), '0')}"
    return SheetCell("number", text, float(text))
