"""CSV files: UTF-8, the separator recognised from the header, rows numbered as a spreadsheet shows them."""

from __future__ import annotations

import contextlib
import csv
import io
from collections import defaultdict
from collections.abc import Iterator
from itertools import count, islice
from typing import IO

import numpy as np
from numpy.typing import NDArray

from wearcast.door import bounds
from wearcast.door.bounds import TurnedAway
from wearcast.queries import Query
from wearcast.records.cells import Notation, visible
from wearcast.records.csv_text import records, start_of, trouble_in_text
from wearcast.records.faults import unreadable
from wearcast.records.grids import (
    HEADER_FROM,
    HEADER_WITHIN,
    Grid,
    GridColumn,
    RowProblem,
    header_match,
    letter,
    no_codes,
    without_empty_rows,
)
from wearcast.records.number_cells import writes_with
from wearcast.records.plain_csv import Coded, plain_columns
from wearcast.records.tables import Table
from wearcast.texts import MARKER

SEPARATORS = (",", ";", "\t")
CHUNK = 5_000
"""Records taken at a time: a large file is never held as separate cells, and a chunk stays in the cache."""

LARGE = 2_000_000
"""Bytes from which the short way of `plain_csv` is tried."""

HUGE = 150_000_000
"""Bytes from which it is not tried: it holds the whole file, some times over."""


def read_csv(opened: IO[bytes], file: str, table: Table) -> tuple[Grid | None, list[Query]]:
    """One table from an open CSV file; None and the reason where it cannot be read as one.

    A cell may hold the separator or a line break if it is quoted. Rows with fewer cells than the header are
    filled with empty cells; rows with more are refused. A half-read file is refused whole: rows lost behind
    an unclosed quote would be dropped in silence.
    """
    trouble = trouble_in_text(opened, file, table)
    if trouble is not None:
        return None, [trouble]
    separator, header_row = _layout(start_of(opened), table)
    if header_row > 1:
        header = next(records(opened, separator), [])
        names = [GridColumn(name.strip(), letter(i), [], no_codes()) for i, name in enumerate(header)]
        return Grid(table.name, file, "", names, np.empty(0, np.int64), Notation(), [], header_row), []
    try:
        grid = _read(opened, separator, file, table)
    except csv.Error as error:
        return None, [_broken(opened, separator, file, table, error)]
    except TurnedAway as away:
        return None, [unreadable(table, file, "", away.found, away.advice)]
    _take_apostrophes_off(grid)
    grid.notation = _notation(grid, separator, table)
    return without_empty_rows(grid), []


def _layout(text: str, table: Table) -> tuple[str, int]:
    """The separator by which the header shows most of the table's columns (then: most cells), and its row."""
    names = [column.name for column in table.columns]
    best, separator, row = (0, 0, 0), SEPARATORS[0], 1
    for candidate in SEPARATORS:
        for number, record in enumerate(_first_records(text, candidate), start=1):
            score = (header_match(record, names), -number, len(record))
            if score > best and (number == 1 or score[0] >= HEADER_FROM):
                best, separator, row = score, candidate, number
    return separator, row


def _first_records(text: str, separator: str) -> list[list[str]]:
    found: list[list[str]] = []
    with contextlib.suppress(csv.Error):
        found.extend(islice(records(io.BytesIO(text.encode()), separator), HEADER_WITHIN))
    return found


def bounded(records: Iterator[list[str]], most: int) -> Iterator[list[str]]:
    """Records of a file, turned away where one has more cells than a table has columns."""
    for row, record in enumerate(records, start=1):
        if len(record) > most:
            raise TurnedAway(
                f"row {row} has {len(record):,} cells; at most {most:,} are read",
                "Look for a line end that is missing, or leave columns out.",
            )
        yield record


def _read(opened: IO[bytes], separator: str, file: str, table: Table) -> Grid:
    header = next(records(opened, separator)) or [""]
    most = bounds.BOUNDS.columns
    beyond: defaultdict[str, list[int]] = defaultdict(list)
    next(bounded(iter([header]), most))
    size = opened.seek(0, io.SEEK_END)
    coded = plain_columns(_whole(opened), separator, len(header)) if LARGE < size < HUGE else None
    if coded is None:
        coded = _columns(bounded(records(opened, separator), most), len(header), beyond)
    columns = [
        GridColumn(name.strip(), letter(index), list(texts), codes)
        for index, (name, (texts, codes)) in enumerate(zip(header, coded, strict=True))
    ]
    for column in columns:
        _refuse_long(column)
    rows = len(coded[0][1])
    grid = Grid(table.name, file, "", columns, np.arange(2, rows + 2), Notation())
    _refuse_nameless(grid, beyond)
    grid.problems += [
        RowProblem(
            tuple(numbers),
            f"{extra} beyond the last column name",
            f"at most {len(header)} cells",
            "A separator too many: quote a cell that holds one, write decimals with a point, or name the column.",
        )
        for extra, numbers in beyond.items()
    ]
    return grid


def _whole(opened: IO[bytes]) -> bytes:
    opened.seek(0)
    return opened.read()


def _refuse_long(column: GridColumn) -> None:
    most = bounds.BOUNDS.cell_characters
    for code, text in enumerate(column.texts):
        if len(str(text)) > most:
            row = int(np.flatnonzero(column.codes == code)[0]) + 2
            raise TurnedAway(
                f"the cell in column {column.letter}, row {row} has over {most:,} characters",
                "Look for a quote that is not closed, or shorten the text.",
            )


def _columns(records: Iterator[list[str]], width: int, beyond: defaultdict[str, list[int]]) -> list[Coded]:
    """The columns below the header, and in `beyond` the rows with filled cells beyond it."""
    next(records)
    numbering: list[defaultdict[str, int]] = [defaultdict(count().__next__) for _ in range(width)]
    codes: list[list[NDArray[np.int32]]] = [[np.empty(0, dtype=np.int32)] for _ in range(width)]
    read = lacking = 0
    while chunk := list(islice(records, CHUNK)):
        if set(map(len, chunk)) != {width}:
            lacking += _square(chunk, width, read + 2, beyond)
            _refuse_over(lacking, bounds.BOUNDS.lacking, "cells fewer than the first line has, in all")
        for number, parts, cells in zip(numbering, codes, zip(*chunk, strict=True), strict=True):
            parts.append(np.fromiter(map(number.__getitem__, cells), dtype=np.int32, count=len(cells)))
        read += len(chunk)
        _refuse_over(sum(map(len, numbering)), bounds.BOUNDS.different, "different texts in its cells")
    return [(list(number), np.concatenate(parts)) for number, parts in zip(numbering, codes, strict=True)]


def _refuse_over(number: int, most: int, of: str) -> None:
    if number > most:
        raise TurnedAway(f"there are over {most:,} {of}", "Leave what is not needed out, or split the file.")


def _square(chunk: list[list[str]], width: int, first: int, beyond: defaultdict[str, list[int]]) -> int:
    """Give every record the width of the header; note filled cells beyond it; how many cells were lacking."""
    lacking = 0
    for index, record in enumerate(chunk):
        if len(record) < width:
            lacking += width - len(record)
            record.extend([""] * (width - len(record)))
        elif len(record) > width:
            extra = [cell.strip() for cell in record[width:]]
            if any(extra):
                beyond[_quoted(extra)].append(first + index)
            del record[width:]
    return lacking


def _take_apostrophes_off(grid: Grid) -> None:
    """What `texts.exact_csv` put before cells that a spreadsheet would run."""
    marker = next((column for column in grid.columns if column.name == MARKER), None)
    if marker is None:
        return
    grid.columns.remove(marker)
    marked = np.array([text == "yes" for text in marker.texts], dtype=np.bool_)[marker.codes]
    for column in grid.columns:
        column.name = column.name.removeprefix("'")
        for code in [code for code, text in enumerate(column.texts) if str(text).startswith("'")]:
            rows = marked & (column.codes == code)
            if rows.any():
                column.codes[rows] = len(column.texts)
                column.texts.append(str(column.texts[code])[1:])


def _refuse_nameless(grid: Grid, beyond: defaultdict[str, list[int]]) -> None:
    """Take out columns without a name; a filled cell in one has slipped there from its own column."""
    for column in [column for column in grid.columns if not column.name]:
        for row in np.flatnonzero(~column.blank).tolist():
            beyond[_quoted([str(column[row]).strip()])].append(int(grid.numbers[row]))
        grid.columns.remove(column)


def _quoted(cells: list[str]) -> str:
    return '"' + visible(" ".join(cell for cell in cells if cell)) + '"'


def _notation(grid: Grid, separator: str, table: Table) -> Notation:
    if separator == ",":
        return Notation()
    number_names = {column.name for column in table.columns if column.cell == "number"}
    signs = {
        writes_with(text)
        for column in grid.columns
        if column.name.casefold() in number_names
        for text in column.texts
    }
    return Notation(decimal_comma=True, mixed={",", "."} <= signs)


def _broken(opened: IO[bytes], separator: str, file: str, table: Table, error: csv.Error) -> Query:
    """Which row the reading broke at: read again, counting."""
    row = 1
    try:
        for _ in records(opened, separator):
            row += 1
    except csv.Error:
        pass
    if "field larger" in str(error):
        found = f"a cell of row {row} has no end in sight (over {csv.field_size_limit()} characters)"
    elif "unexpected end of data" in str(error):
        found = f"the quoted cell that opens in row {row} is never closed"
    else:
        found = f"the quotes in row {row} do not pair"
    return unreadable(
        table,
        file,
        "",
        found,
        'Put one " before and one " after the cell, and write "" for a quote inside it.',
        (row,),
    )
