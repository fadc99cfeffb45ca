"""A filled form read back: its hidden facts checked, its rows turned into readings and events."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from wearcast.queries import Query
from wearcast.records.cells import Notation, Raw, is_blank, shown, text_of, visible
from wearcast.records.faults import unreadable
from wearcast.records.form_layout import (
    ENGINE_CELL,
    FACTS,
    GAUGE_COLUMN,
    MARK,
    OPENING,
    READING_LABELS,
    READINGS,
    SHELL_LABELS,
    SHELLS,
    VERSION,
    VESSEL_CELL,
    FormGauge,
    FormReading,
    FormRow,
    FormShell,
    digest,
    form_row,
)
from wearcast.records.form_rows import FilledForm, event_rows, no_opening, reading_rows
from wearcast.records.found import Found
from wearcast.records.gathered import gathered
from wearcast.records.grids import letter
from wearcast.records.mapping.sheets import RawFile, RawSheet, raw_file

MAKE_AGAIN = "Make the form again with wearcast form, and write the values on that one."


@dataclass(frozen=True)
class _Facts:
    """What the hidden sheet says: names and values, and the rows of the form."""

    values: dict[str, str]
    rows: tuple[FormRow, ...]


class _Refused(Exception):
    def __init__(self, fault: Query) -> None:
        super().__init__(str(fault))
        self.fault = fault


def is_form(sheets: Sequence[str]) -> bool:
    """Whether a workbook of these sheets is a form for the ship."""
    return FACTS in sheets


def read_form(path: Path) -> Found:
    """The readings and events of a filled form; refused whole where it is not as it was made."""
    found = Found("sheet")
    opened = raw_file(path)
    found.files += [opened.file] if opened.file else []
    found.names += [sheet.name for sheet in opened.sheets]
    found.faults += opened.faults
    if opened.faults:
        return found
    try:
        form = _checked(opened, path.name)
    except _Refused as refused:
        found.faults.append(refused.fault)
        return found
    readings, faults = reading_rows(form)
    events, more = event_rows(form)
    found.faults += faults + more
    found.faults += no_opening(form) if readings or events else []
    notation = Notation(epoch_1904=form.sheets[READINGS].notation.epoch_1904)
    for table, rows in (("readings", readings), ("events", events)):
        if rows and not no_opening(form):
            found.grids[table] = gathered(table, path.name, rows, notation, "the form")
    if not found.grids and not found.faults:
        text, advice = "no value and nothing done or seen on it", "Fill the form in first."
        found.faults.append(unreadable(None, path.name, READINGS, text, advice))
    found.notes.append(f"{path.name}: read as a form of {form.vessel} {form.engine}.")
    return found


def _checked(opened: RawFile, file: str) -> FilledForm:
    """The form, after its facts and labels were found to be those it was made with."""
    sheets = {sheet.name: sheet for sheet in opened.sheets}
    for name in (OPENING, READINGS, SHELLS):
        if name not in sheets:
            raise _changed(file, "", f"there is no sheet {name}")
    facts = _facts(sheets[FACTS], file)
    vessel, engine = facts.values.get("vessel", ""), facts.values.get("engine", "")
    _label(sheets[OPENING], VESSEL_CELL, vessel)
    _label(sheets[OPENING], ENGINE_CELL, engine)
    for row in facts.rows:
        match row:
            case FormReading():
                _labels(sheets[READINGS], READING_LABELS, row.row, row.labels)
            case FormShell():
                _labels(sheets[SHELLS], SHELL_LABELS, row.row, row.labels)
            case FormGauge():
                _labels(sheets[OPENING], ("A",), row.row, row.labels)
    return FilledForm(
        file,
        vessel,
        engine,
        {name: sheets[name] for name in (OPENING, READINGS, SHELLS)},
        tuple(row for row in facts.rows if isinstance(row, FormReading)),
        tuple(row for row in facts.rows if isinstance(row, FormShell)),
        {row.quantity: f"{GAUGE_COLUMN}{row.row}" for row in facts.rows if isinstance(row, FormGauge)},
    )


def _facts(sheet: RawSheet, file: str) -> _Facts:
    lines = _lines(sheet)
    if not lines or lines[0][:1] != [MARK]:
        raise _changed(file, FACTS, "its first cell is not that of a form")
    version = lines[0][1] if len(lines[0]) > 1 else ""
    if version != str(VERSION):
        raise _Refused(
            unreadable(
                None, file, "", f"the form is of version {visible(version) or 'unknown'}; expected {VERSION}",
                f"Read it with the program that made it, or: {MAKE_AGAIN[0].lower()}{MAKE_AGAIN[1:]}",
            )
        )  # fmt: skip
    if lines[-1][:1] != ["digest"] or lines[-1][1:2] != [digest(lines[:-1])]:
        raise _changed(file, FACTS, "the hidden facts are not those the form was made with")
    try:
        rows = [made for line in lines if (made := form_row(line)) is not None]
    except (ValueError, TypeError, IndexError):
        raise _changed(file, FACTS, "the hidden facts make no sense") from None
    return _Facts({line[1]: line[2] for line in lines if line[0] == "fact" and len(line) > 2}, tuple(rows))


def _lines(sheet: RawSheet) -> list[list[str]]:
    """The cells of a sheet as lines of texts, without empty ends."""
    by_row: dict[int, dict[int, str]] = {}
    for (row, column), raw in sheet.cells.items():
        by_row.setdefault(row, {})[column] = text_of(raw)
    return [
        [cells.get(column, "") for column in range(1, max(cells) + 1)]
        for _, cells in sorted(by_row.items())
        if max(cells) <= 20
    ]


def _labels(sheet: RawSheet, columns: Sequence[str], row: int, labels: Sequence[str]) -> None:
    for column, label in zip(columns, labels, strict=True):
        _label(sheet, f"{column}{row}", label)


def _label(sheet: RawSheet, place: str, expected: str) -> None:
    """Refuse a form one of whose printed words has been changed or moved."""
    column, row = ord(place[0]) - ord("A") + 1, int(place[1:])
    raw: Raw = sheet.cells.get((row, column), "")
    if _plain(text_of(raw)) != _plain(expected):
        found = shown(raw) if not is_blank(raw) else "an empty cell"
        there = f"found {found} in cell {letter(column - 1)}{row}"
        words = f'{there}; expected "{visible(expected)}": the form was changed'
        raise _Refused(unreadable(None, sheet.file, sheet.name, words, MAKE_AGAIN, (row,)))


def _plain(words: str) -> str:
    return " ".join(words.split())


def _changed(file: str, sheet: str, words: str) -> _Refused:
    return _Refused(unreadable(None, file, sheet, f"the form was changed: {words}", MAKE_AGAIN))
