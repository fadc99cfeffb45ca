"""Another's sheet as a mapping reads it: each cell with what it became, and the rows as they would stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from wearcast.records.cells import text_of
from wearcast.records.grids import letter
from wearcast.records.mapping.apply import apply_mapping, read_by, rows_of, shown_number, value_words
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.sheets import raw_file
from wearcast.records.mapping.understand import SheetRead
from wearcast.records.sheet_xml import Cell
from wearcast.records.tables import TABLES

MOST_ROWS, MOST_COLUMNS = 400, 60
"""Of a sheet that many rows and columns are drawn; the table of rows below has all."""

COLUMNS = (*(column.name for column in TABLES["readings"].columns), "event")


@dataclass(frozen=True)
class Drawn:
    """A cell: what stands in it, what became of it (``read``, ``told``, ``passed``, ``asked``), and a note."""

    text: str
    mark: str
    note: str
    across: int = 1
    down: int = 1


@dataclass(frozen=True)
class DrawnSheet:
    """A sheet as it looks: its rows with their numbers."""

    name: str
    letters: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Drawn, ...]], ...]
    left_out: str
    columns: tuple[str, ...]
    stands: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class MappedSheet:
    """What the page shows."""

    title: str
    mapping: str
    faults: tuple[str, ...]
    notes: tuple[str, ...]
    sheets: tuple[DrawnSheet, ...]


def mapped_sheet(mapping: Mapping, path: Path) -> MappedSheet:
    """A file as a mapping reads it.

    Raises
    ------
    WrongUse
        If there is no such file, or it is neither a workbook nor CSV.
    """
    found = apply_mapping(mapping, path)
    reads = [read_by(mapping, sheet) for sheet in raw_file(path).sheets if sheet.cells]
    return MappedSheet(
        path.name,
        mapping.name,
        tuple(f"{fault.text} {fault.suggestion}" for fault in found.faults),
        tuple(found.notes),
        tuple(_drawn(mapping, read) for read in reads),
    )


def _drawn(mapping: Mapping, read: SheetRead) -> DrawnSheet:
    marks = _marks(mapping, read)
    raw = read.sheet.raw
    last_row, last_column = raw.last_row, max((column for _, column in raw.cells), default=0)
    letters = tuple(letter(index) for index in range(min(last_column, MOST_COLUMNS)))
    spans = {block.first: block for block in raw.merged}
    rows = []
    for row in range(1, min(last_row, MOST_ROWS) + 1):
        cells = []
        for column in range(1, len(letters) + 1):
            cell = (row, column)
            if read.sheet.covered.get(cell, cell) != cell:
                continue
            mark, note = marks.get(cell, ("", ""))
            block = spans.get(cell)
            across = min(block.last[1], len(letters)) - column + 1 if block else 1
            down = min(block.last[0], MOST_ROWS) - row + 1 if block else 1
            cells.append(Drawn(text_of(raw.cells.get(cell, "")), mark, note, across, down))
        rows.append((row, tuple(cells)))
    cut = last_row > MOST_ROWS or last_column > MOST_COLUMNS
    left_out = (
        f"Drawn are {len(rows)} of {last_row} rows and {len(letters)} of {last_column} columns."
        if cut
        else ""
    )
    columns, stands = _stands(mapping, read)
    return DrawnSheet(raw.name, letters, tuple(rows), left_out, columns, stands)


def _marks(mapping: Mapping, read: SheetRead) -> dict[Cell, tuple[str, str]]:
    marks: dict[Cell, tuple[str, str]] = {}
    for said in read.texts.values():
        if said.text:
            words = said.meaning.words if said.meaning.known else ""
            place = said.meaning.facts.get("position", "")
            marks[said.cell] = ("told", f"{words} {place}".strip()) if words else ("", "")
    for value in read.values:
        for key in (
            "vessel",
            "engine",
            "date",
            "counter_h",
            "instrument",
            "measured_by",
            "remark",
            "temperature_c",
        ):
            if key in value.facts:
                marks.setdefault(value.facts[key][1], ("told", key))
        if value.unsure:
            doubts = sorted(
                {key.partition(" ")[0] if key.startswith(("text", "value")) else key for key in value.unsure}
            )
            marks[value.cell] = ("asked", f"? {', '.join(doubts)}")
        else:
            marks[value.cell] = ("read", f"{value_words(value)}: {shown_number(mapping, value)}")
    marks |= {cell: ("passed", f"passed over: {why}") for cell, why in read.passed.items()}
    marks |= dict.fromkeys(read.stray, ("asked", "? no text explains it"))
    for dial in read.dials:
        marks |= {at: ("read", key) for key, (_, at) in dial.items() if at != (0, 0)}
    return marks


def _stands(mapping: Mapping, read: SheetRead) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    rows = list(rows_of(mapping, read))
    used: Sequence[str] = [
        name for name in COLUMNS if any(name in row.cells and text_of(row.cells[name].raw) for row in rows)
    ]
    stands = tuple(
        (
            row.value_cell or str(row.number),
            *(text_of(row.cells[name].raw) if name in row.cells else "" for name in used),
        )
        for row in rows
    )
    return ("cell", *used), stands
