"""The first sheet: which engine, when, who and with what; how to fill in the form; cautions in short."""

from __future__ import annotations

from collections.abc import Mapping

from openpyxl.worksheet.worksheet import Worksheet

from wearcast.forms.asked import FormContent
from wearcast.forms.cells import (
    UNDER,
    choices,
    numbers,
    page,
    paragraph,
    protect,
    text,
    to_fill,
    widths,
)
from wearcast.forms.expected import WITHIN_U
from wearcast.quantities import QUANTITIES
from wearcast.records.form_layout import (
    ENGINE_CELL,
    GAUGE_COLUMN,
    GAUGE_FIRST_ROW,
    HEAD_CELLS,
    VERSION,
    VESSEL_CELL,
    FormGauge,
)

_FIRST_DAY, _LAST_DAY = 18264, 73415
"""1950-01-01 and 2100-12-31 as a spreadsheet counts days."""

HOW_TO = (
    "Write only in the framed cells. Leave a cell empty where nothing was measured; never write 0, OK or a "
    "remembered value.",
    "Write each value as the gauge shows it, in the unit printed beside it, with all its digits and a point or "
    "comma as your spreadsheet wants it.",
    "No. 1 is at the end named above. Say so under remark if the engine was counted from the other end.",
    "As found: before anything is cleaned up or changed. As left: as the bearing was closed up. Whatever was "
    "renewed, refitted or reground, and whatever was seen, goes on the sheet Shells.",
)

CAUTIONS = (
    "The maker's instructions, the ship's permit system, class and licensed engineers decide; nothing on this form "
    "extends a limit or an interval. Limits shown are copied from the records: the maker's book on board governs.",
    "Before a crankcase is opened: starting air shut, drained and locked; remote and automatic starting blocked and "
    "tagged; turning gear engaged and in the hands of the person in the crankcase; lubricating-oil pumps agreed; air "
    "tested, attendant posted. After overheating or an oil-mist alarm keep the doors shut for the maker's time.",
    "Support caps before the last nut; keep hands clear of hydraulic tools and of a shell being rolled out; count "
    "tools and rags. Fit no shell whose size does not match the journal. Damage outranks any reading: report it.",
)


def write_front(sheet: Worksheet, content: FormContent, gauge_lists: Mapping[str, str]) -> list[FormGauge]:
    """Write the sheet; where the gauges stand on it."""
    widths(sheet, (("A", 18), ("B", 4), ("C", 34), ("D", 44)))
    text(sheet, "A1", "Bearing opening", bold=True, size=16)
    sheet.row_dimensions[1].height = 26
    _identity(sheet, content)
    _head(sheet, content)
    gauges = _gauges(sheet, content, gauge_lists)
    row = _paragraphs(sheet, gauges[-1].row + 2, "How to fill it in", HOW_TO)
    if content.ranges:
        row = _paragraphs(sheet, row + 1, "The expected range", (_about_ranges(content),))
    row = _paragraphs(sheet, row + 1, "Cautions (common practice, never complete)", CAUTIONS)
    text(sheet, f"A{row + 1}", "Signed, measured by")
    text(sheet, f"D{row + 1}", "Signed, chief engineer")
    for column in "ABCD":
        sheet[f"{column}{row + 3}"].border = UNDER
    page(sheet, False, "", f"D{row + 3}", f"form version {VERSION}")
    protect(sheet)
    return gauges


def _identity(sheet: Worksheet, content: FormContent) -> None:
    end = str(content.engine.facts.get("numbered_from") or "").replace("_", " ")
    for row, name, words in (
        (3, "Vessel", content.engine.vessel),
        (4, "Engine", content.engine.engine),
        (5, "Engine type", content.engine.engine_type),
        (6, "Opening planned", content.opening.isoformat()),
        (7, "No. 1 is at the", end or "end not recorded"),
    ):
        text(sheet, f"A{row}", name)
        text(sheet, f"C{row}", words, bold=True, size=12)
        sheet.row_dimensions[row].height = 18
    assert (VESSEL_CELL, ENGINE_CELL) == ("C3", "C4")


def _head(sheet: Worksheet, content: FormContent) -> None:
    engine = content.engine
    hints = {
        "date": ("Opened on", "year-month-day, such as 2027-01-15"),
        "counter_h": (
            "Counter, hours",
            f"as the dial shows it; {engine.last_counter_h:.0f} on {engine.last_counter_on}",
        ),
        "measured_by": ("Measured by", "name and rank"),
        "conditions": ("Conditions", "cold or hot, draught, coupled or not"),
    }
    for name, place in HEAD_CELLS.items():
        title, hint = hints[name]
        row = place[1:]
        text(sheet, f"A{row}", title)
        to_fill(sheet, place, "yyyy-mm-dd" if name == "date" else "General")
        text(sheet, f"D{row}", hint, italic=True, indent=1)
        sheet.row_dimensions[int(row)].height = 24
    day = numbers("date", _FIRST_DAY, _LAST_DAY, "Date", "Write the date of the opening, such as 2027-01-15.")
    dial = numbers(
        "decimal", 0, 9_999_999, "Counter", "Write the hours the dial shows, as a number from 0 up."
    )
    day.add(HEAD_CELLS["date"])
    dial.add(HEAD_CELLS["counter_h"])
    sheet.add_data_validation(day)
    sheet.add_data_validation(dial)


def _gauges(sheet: Worksheet, content: FormContent, lists: Mapping[str, str]) -> list[FormGauge]:
    text(sheet, f"A{GAUGE_FIRST_ROW - 2}", "Gauges", bold=True, size=11)
    text(sheet, f"A{GAUGE_FIRST_ROW - 1}", "used unless another is named beside the value", italic=True)
    found = []
    for index, (quantity, used) in enumerate(content.gauges.items()):
        row = GAUGE_FIRST_ROW + index
        text(sheet, f"A{row}", QUANTITIES[quantity].title)
        to_fill(sheet, f"{GAUGE_COLUMN}{row}")
        text(sheet, f"D{row}", f"last used: {used[0]}" if used else "none on record", italic=True, indent=1)
        sheet.row_dimensions[row].height = 24
        if used:
            rule = choices(lists[quantity], "Gauge", "", only=False)
            rule.add(f"{GAUGE_COLUMN}{row}")
            sheet.add_data_validation(rule)
        found.append(FormGauge(row, quantity))
    return found


def _about_ranges(content: FormContent) -> str:
    last = content.engine.as_of
    return (
        f"From readings up to {last}, carried {content.far.said}: the reading expected, {WITHIN_U:.0f} standard "
        "uncertainties to each side; for web deflections the last reading, as far to each side as two readings may "
        "differ (draught, load and temperature move them further). It is no limit and no verdict. A value outside "
        "it may be right: clean the gauge and the place, measure again, and write what you measure."
    )


def _paragraphs(sheet: Worksheet, row: int, title: str, words: tuple[str, ...]) -> int:
    text(sheet, f"A{row}", title, bold=True, size=11)
    for index, one in enumerate(words, start=1):
        paragraph(sheet, row + index, ("A", "D"), one, per_line=106)
    return row + len(words) + 1
