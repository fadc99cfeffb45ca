"""The form as a workbook: its sheets, the lists to pick from, the facts it is read back by."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from openpyxl import Workbook
from openpyxl.workbook.protection import WorkbookProtection
from openpyxl.worksheet.worksheet import Worksheet

from wearcast.companions.findings import DAMAGE_TERMS
from wearcast.forms.asked import FormContent
from wearcast.forms.cells import printable, text
from wearcast.forms.front import write_front
from wearcast.forms.readings_sheet import write_readings
from wearcast.forms.same_bytes import same_bytes
from wearcast.forms.shells_sheet import write_shells
from wearcast.records.form_layout import (
    DONE,
    FACTS,
    LISTS,
    MARK,
    OPENING,
    READINGS,
    SHELLS,
    VERSION,
    FormRow,
    digest,
    fact_rows,
)
from wearcast.records.grids import letter


def form_workbook(content: FormContent, run_date: date) -> bytes:
    """The form as the bytes of an .xlsx file; the same content and date give the same bytes.

    Parameters
    ----------
    run_date : date
        When it was made.
    """
    book = Workbook()
    front = book.active
    assert isinstance(front, Worksheet)
    front.title = OPENING
    lists = _lists(book.create_sheet(LISTS), content)
    rows: list[FormRow] = [*write_front(front, content, lists)]
    rows += write_readings(book.create_sheet(READINGS), content, lists)
    rows += write_shells(book.create_sheet(SHELLS), content, lists)
    book.move_sheet(LISTS, 2)
    _facts(book.create_sheet(FACTS), content, rows, run_date)
    book.security = WorkbookProtection(lockStructure=True)
    book.properties.title = "Bearing opening"
    book.properties.creator = "wearcast"
    return same_bytes(book, run_date)


def _lists(sheet: Worksheet, content: FormContent) -> dict[str, str]:
    """Write the lists to pick from; the reference to each."""
    named: dict[str, Sequence[str]] = {
        "findings": [one.term for one in DAMAGE_TERMS],
        "shell done": [word for word, event in DONE.items() if event != "regrind"],
        "journal done": [word for word, event in DONE.items() if event == "regrind"],
        "sizes": content.sizes,
        **content.gauges,
    }
    found = {}
    for index, (name, words) in enumerate(named.items()):
        column = letter(index)
        for row, word in enumerate(words, start=1):
            text(sheet, f"{column}{row}", word)
        if words:
            found[name] = f"{LISTS}!${column}$1:${column}${len(words)}"
    sheet.sheet_state = "hidden"
    return found


def _facts(sheet: Worksheet, content: FormContent, rows: Sequence[FormRow], run_date: date) -> None:
    """What the form is read back by, in a hidden sheet."""
    engine = content.engine
    facts = {
        "vessel": engine.vessel,
        "engine": engine.engine,
        "engine_type": engine.engine_type,
        "opening": content.opening.isoformat(),
        "made_on": run_date.isoformat(),
    }
    lines = [
        [MARK, str(VERSION)],
        *(["fact", name, value] for name, value in facts.items()),
        *fact_rows(rows),
    ]
    lines = [[printable(word) for word in line] for line in lines]
    lines.append(["digest", digest(lines)])
    for number, line in enumerate(lines, start=1):
        for index, word in enumerate(line):
            text(sheet, f"{letter(index)}{number}", word)
    sheet.sheet_state = "hidden"
    sheet.protection.sheet = True
