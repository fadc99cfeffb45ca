"""From another's sheet, by its mapping, to a table of the record set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from wearcast.queries import Query
from wearcast.records.cells import Notation, Raw, text_of, visible
from wearcast.records.found import Found
from wearcast.records.gathered import Given, Row, gathered
from wearcast.records.grids import letter
from wearcast.records.mapping.draft import ASKED, cells_in_words
from wearcast.records.mapping.layout import Sheet
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.meaning import COLUMNS, HUNDREDTHS, NOTHING, OPEN
from wearcast.records.mapping.patterns import plain
from wearcast.records.mapping.sheets import RawSheet, raw_file
from wearcast.records.mapping.understand import GIVEN, SheetRead, Value, read_sheet
from wearcast.records.mapping.vocabulary import understood
from wearcast.records.mapping.writing import date_text, hours_text, number_text
from wearcast.records.sheet_xml import Cell

_KEY = (
    "vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state", "instrument",
)  # fmt: skip
_TELLING = ("bearing", "half", "quantity", "unit", "state", "position")


def apply_mapping(mapping: Mapping, path: Path) -> Found:
    """The table a mapping finds in a file, with every fault met.

    Raises
    ------
    WrongUse
        If there is no such file, or it is neither a workbook nor CSV.
    """
    found = Found("sheet")
    opened = raw_file(path)
    found.files += [opened.file] if opened.file else []
    found.names += [sheet.name for sheet in opened.sheets]
    found.faults += opened.faults
    if not found.faults and mapping.unanswered:
        waiting = ", ".join(visible(key.lstrip('"')) for key in mapping.unanswered)
        found.faults.append(
            _fault(
                mapping,
                path.name,
                "",
                (),
                f"questions not answered yet: {waiting}",
                f"Answer them in {mapping.name}: write over each ?.",
            )
        )
    rows: list[Row] = []
    notation = Notation()
    for sheet in opened.sheets if not found.faults else []:
        if mapping.sheets and sheet.name and plain(sheet.name) not in map(plain, mapping.sheets):
            continue
        notation = Notation(epoch_1904=sheet.notation.epoch_1904)
        read = read_by(mapping, sheet)
        made = list(rows_of(mapping, read))
        faults = list(_misfits(mapping, read))
        found.faults += faults or list(_rivals(mapping, read, made))
        rows += made
        if not made and not faults:
            place = f"{path.name}, sheet {visible(sheet.name)}" if sheet.name else path.name
            found.notes.append(
                f"{place}: nothing in it that the mapping {mapping.name} knows; it was passed over."
            )
    if not rows and not found.faults:
        found.faults.append(
            _fault(
                mapping,
                path.name,
                "",
                (),
                "no reading in this file",
                f"Is it of another shape? wearcast mapping draft {path.name}",
            )
        )
    if found.faults:
        found.refused.add(mapping.table)
    else:
        found.grids[mapping.table] = gathered(
            mapping.table, path.name, rows, notation, f"nowhere in {mapping.name}"
        )
    return found


def read_by(mapping: Mapping, sheet: RawSheet) -> SheetRead:
    """What each number of a sheet is by a mapping."""
    given = {**mapping.given, **mapping.files.get(sheet.file, {})}
    known = {key: text for key, text in given.items() if text != OPEN}
    return read_sheet(Sheet(sheet, mapping.meaning_of, mapping.is_mark), known)


def rows_of(mapping: Mapping, read: SheetRead) -> Iterator[Row]:
    """The rows of the table, each cell with the place it came from."""
    name = read.sheet.raw.name
    if mapping.table == "events":
        for dial in read.dials:
            cells = {key: _given(mapping, key, raw, at) for key, (raw, at) in dial.items()}
            cells["event"] = Given("counter", mapping.name)
            row, column = dial["counter_h"][1]
            yield Row(name, row, f"{letter(column - 1)}{row}", cells)
        return
    for value in read.readings:
        facts = {key: told for key, told in value.facts.items() if key in COLUMNS}
        cells = {key: _given(mapping, key, raw, at) for key, (raw, at) in facts.items()}
        unit = value.text("unit")
        cells["value"] = Given(number_text(value.raw, mapping.decimal, unit), f"cell {address(value.cell)}")
        if unit == HUNDREDTHS:
            cells["unit"] = Given("um", cells["unit"].place)
        yield Row(name, value.cell[0], address(value.cell), cells)


def _given(mapping: Mapping, key: str, raw: Raw, at: Cell) -> Given:
    if key == "date":
        raw = date_text(raw, mapping.date_order)
    elif key == "counter_h":
        raw = hours_text(raw, mapping.decimal)
    elif key == "temperature_c":
        raw = number_text(raw, mapping.decimal)
    return Given(raw, mapping.name if at == GIVEN else f"cell {address(at)}")


def _misfits(mapping: Mapping, read: SheetRead) -> Iterator[Query]:
    """Where a sheet is not of the shape the mapping was made for."""
    doubts: dict[tuple[str, str], list[Value]] = {}
    for value in read.values:
        for key, text in value.unsure.items():
            doubts.setdefault((key, text), []).append(value)
    for (key, text), values in doubts.items():
        cells = [value.cell for value in values]
        if key.startswith("text "):
            found, advice = (
                f'"{visible(text)}", which the mapping does not have, by {cells_in_words(cells)}',
                _learn(mapping, read),
            )
        elif key.startswith("value "):
            found, advice = (
                f'"{visible(text)}" where a number stands in {cells_in_words(cells)}',
                f'Add it to marks or to [texts] (= "{NOTHING}") in {mapping.name} if nothing was measured.',
            )
        elif text:
            found, advice = (
                f"{visible(text)} in {cells_in_words(cells)}",
                "The texts there contradict each other; correct the sheet or the mapping.",
            )
        else:
            found, advice = (
                f"{ASKED[key]} of {cells_in_words(cells)}",
                f"Give {key} in {mapping.name}, or correct the sheet.",
            )
        yield _fault(
            mapping,
            read.sheet.raw.file,
            read.sheet.raw.name,
            sorted({row for row, _ in cells}),
            found,
            advice,
        )
    if read.stray and mapping.loose != NOTHING:
        cells = sorted(read.stray)
        yield _fault(
            mapping,
            read.sheet.raw.file,
            read.sheet.raw.name,
            sorted({row for row, _ in cells}),
            f"numbers that no text explains in {cells_in_words(cells)}",
            _learn(mapping, read),
        )
    for said in (
        *read.layout.texts,
        *(one for table in read.layout.tables for one in (*table.titles, *table.sections.values())),
    ):
        usual = understood(said.text)[1]
        if not said.meaning.known and usual.known and any(key in usual.facts for key in _TELLING):
            yield _fault(
                mapping,
                read.sheet.raw.file,
                read.sheet.raw.name,
                (said.cell[0],),
                f'"{visible(said.text)}" in {address(said.cell)}, which the mapping does not have',
                _learn(mapping, read),
            )


def _rivals(mapping: Mapping, read: SheetRead, rows: Sequence[Row]) -> Iterator[Query]:
    """Two values of one place: one of them is not what it seems, or a text that parts them is missing."""
    by_place: dict[tuple[str, ...], list[Row]] = {}
    for row in rows if mapping.table == "readings" else ():
        by_place.setdefault(
            tuple(text_of(row.cells[k].raw).casefold() if k in row.cells else "" for k in _KEY), []
        ).append(row)
    for found in by_place.values():
        if len({text_of(row.cells["value"].raw) for row in found}) > 1:
            cells = " and ".join(row.value_cell for row in found[:6])
            advice = "Pass one of them over, or say what parts them."
            yield _fault(
                mapping,
                read.sheet.raw.file,
                read.sheet.raw.name,
                [row.number for row in found],
                f"several values of one place in {cells}",
                advice,
            )


def _learn(mapping: Mapping, read: SheetRead) -> str:
    return f"Is {read.sheet.raw.file} of another shape? If not, add the text to [texts] in {mapping.name}."


def _fault(mapping: Mapping, file: str, sheet: str, rows: Sequence[int], found: str, advice: str) -> Query:
    return Query(
        "not_understood", f"the sheet does not fit the mapping {mapping.name}: {found}.", advice,
        table=mapping.table, rows=tuple(rows), file=file, sheet=sheet, found=found, expected="what the mapping says",
    )  # fmt: skip


def address(cell: Cell) -> str:
    """A cell as a spreadsheet names it.

    >>> address((7, 2))
    'B7'
    """
    return f"{letter(cell[1] - 1)}{cell[0]}"


def value_words(value: Value) -> str:
    """A reading in few words, for a page."""
    words = [
        value.text(key).replace("_", " ")
        for key in ("bearing", "position", "half", "point", "quantity", "state")
    ]
    return " ".join(word for word in words if word)


def shown_number(mapping: Mapping, value: Value) -> str:
    """The value and unit as they would stand."""
    unit = value.text("unit")
    text = text_of(number_text(value.raw, mapping.decimal, unit))
    return f"{text} {'um' if unit == HUNDREDTHS else unit}"
