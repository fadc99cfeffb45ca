"""The rows a ship filled in on a form, as readings and events; half-filled rows are refused in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wearcast.queries import Query
from wearcast.records.cells import Raw, did_you_mean, is_blank, one_of, shown, text_of
from wearcast.records.faults import sentence
from wearcast.records.form_layout import (
    DONE,
    HEAD_CELLS,
    JOURNAL,
    NEEDS_SIZE,
    OPENING,
    READING_GAUGE,
    READING_REMARK,
    READING_TEMPERATURE,
    READING_VALUE,
    READINGS,
    SHELL_DONE,
    SHELL_FOUND,
    SHELL_REMARK,
    SHELL_SIZE,
    SHELLS,
    FormReading,
    FormShell,
)
from wearcast.records.gathered import Given, Row
from wearcast.records.mapping.sheets import RawSheet


@dataclass(frozen=True)
class FilledForm:
    """A form as it came back; `gauges` has the cell of each quantity's gauge."""

    file: str
    vessel: str
    engine: str
    sheets: Mapping[str, RawSheet]
    readings: tuple[FormReading, ...]
    shells: tuple[FormShell, ...]
    gauges: Mapping[str, str]

    def raw(self, sheet: str, column: str, row: int) -> Raw:
        """What stands in a cell."""
        return self.sheets[sheet].cells.get((row, ord(column) - ord("A") + 1), "")

    def head(self, place: str) -> Given:
        """A cell of the opening sheet."""
        return Given(self.raw(OPENING, place[0], int(place[1:])), f"cell {place} of {OPENING}")

    def fault(self, sheet: str, row: int, column: str, found: str, expected: str, suggestion: str) -> Query:
        """A refusal of one cell or row."""
        return Query(
            "not_understood",
            sentence(found, expected),
            suggestion,
            table="readings" if sheet == READINGS else "events" if sheet == SHELLS else "",
            rows=(row,),
            file=self.file,
            sheet=sheet,
            column=column,
            found=found,
            expected=expected,
            vessel=self.vessel,
            engine=self.engine,
        )


def reading_rows(form: FilledForm) -> tuple[list[Row], list[Query]]:
    """The values written, each with its place, gauge and opening."""
    rows: list[Row] = []
    faults: list[Query] = []
    head = {name: form.head(place) for name, place in HEAD_CELLS.items()}
    gauges = {quantity: form.head(place) for quantity, place in form.gauges.items()}
    for one in form.readings:
        cells = {
            name: Given(form.raw(READINGS, column, one.row), f"column {column}")
            for name, column in (
                ("value", READING_VALUE),
                ("instrument", READING_GAUGE),
                ("temperature_c", READING_TEMPERATURE),
                ("remark", READING_REMARK),
            )
        }
        if is_blank(cells["value"].raw):
            faults += _without_value(form, one, cells)
            continue
        if is_blank(cells["instrument"].raw) and one.quantity in gauges:
            cells["instrument"] = gauges[one.quantity]
        printed = {
            name: Given(getattr(one, name), "the form")
            for name in ("bearing", "position", "half", "point", "quantity", "unit", "state")
        }
        rows.append(
            Row(READINGS, one.row, f"{READING_VALUE}{one.row}", _engine(form) | head | printed | cells)
        )
    return rows, faults


def _engine(form: FilledForm) -> dict[str, Given]:
    return {"vessel": Given(form.vessel, "the form"), "engine": Given(form.engine, "the form")}


def _without_value(form: FilledForm, one: FormReading, cells: Mapping[str, Given]) -> list[Query]:
    beside = [(name, given) for name, given in cells.items() if not is_blank(given.raw)]
    if not beside:
        return []
    written = " and ".join(f"{name} {shown(given.raw)}" for name, given in beside)
    return [
        form.fault(
            READINGS, one.row, f"value (column {READING_VALUE})", f"{written} without a value", "a value beside it",
            "Write the value; if nothing was measured, take the rest of the row out, or write it on the sheet "
            f"{SHELLS}.",
        )
    ]  # fmt: skip


def no_opening(form: FilledForm) -> list[Query]:
    """Date and counter of the opening, without which no value can be placed."""
    faults = []
    for name, words in (("date", "the date of the opening"), ("counter_h", "the hours the counter showed")):
        place = HEAD_CELLS[name]
        if is_blank(form.head(place).raw):
            faults.append(
                form.fault(
                    OPENING, int(place[1:]), f"{name} (cell {place})", "an empty cell", words, "Fill it in."
                )
            )
    return faults


def event_rows(form: FilledForm) -> tuple[list[Row], list[Query]]:
    """What was done and seen, each as an event of the opening."""
    rows: list[Row] = []
    faults: list[Query] = []
    when = {name: form.head(HEAD_CELLS[name]) for name in ("date", "counter_h")}
    for one in form.shells:
        done, size, seen, remark = (
            Given(form.raw(SHELLS, column, one.row), f"column {column}")
            for column in (SHELL_DONE, SHELL_SIZE, SHELL_FOUND, SHELL_REMARK)
        )
        refused = _half_filled(form, one, done.raw, size.raw, (seen.raw, remark.raw))
        faults += refused
        if refused:
            continue
        half = "" if one.half == JOURNAL else one.half
        common = (
            _engine(form)
            | when
            | {
                name: Given(words, "the form")
                for name, words in (("bearing", one.bearing), ("position", one.position), ("half", half))
            }
        )
        event = DONE.get(text_of(done.raw).casefold(), "")
        if event:
            cells = {"event": Given(event, done.place), "remark": remark, "shell_size": size}
            rows.append(Row(SHELLS, one.row, f"{SHELL_DONE}{one.row}", common | cells))
        if not is_blank(seen.raw):
            cells = {"event": Given("finding", seen.place), "finding": seen, "remark": remark}
            rows.append(Row(SHELLS, one.row, f"{SHELL_FOUND}{one.row}", common | cells))
    return rows, faults


def _half_filled(
    form: FilledForm, one: FormShell, done: Raw, size: Raw, others: tuple[Raw, Raw]
) -> list[Query]:
    """What is wrong with a row of the shells sheet by itself."""
    words = [word for word, event in DONE.items() if (event == "regrind") == (one.half == JOURNAL)]
    event = DONE.get(text_of(done).casefold(), "")
    at = {"done": f"event (column {SHELL_DONE})", "size": f"shell_size (column {SHELL_SIZE})"}
    if not is_blank(done) and text_of(done).casefold() not in words:
        hint = did_you_mean(text_of(done), words) or "Pick one of the words, or empty the cell."
        return [form.fault(SHELLS, one.row, at["done"], shown(done), one_of(words), hint)]
    if event in NEEDS_SIZE and is_blank(size):
        expected, advice = (
            "the size put in, such as standard or U25",
            "Look it up on the shell; it is never assumed.",
        )
        return [form.fault(SHELLS, one.row, at["size"], "an empty cell", expected, advice)]
    if is_blank(done) and not is_blank(size):
        expected = f"{one_of(words)} beside the size"
        return [
            form.fault(
                SHELLS,
                one.row,
                at["done"],
                "an empty cell",
                expected,
                "Say what was done, or empty the size.",
            )
        ]
    if is_blank(done) and is_blank(others[0]) and not is_blank(others[1]):
        expected = "what was done or seen, beside the remark"
        return [form.fault(SHELLS, one.row, f"finding (column {SHELL_FOUND})", "an empty cell", expected,
                           "Write what was seen, or take the remark out.")]  # fmt: skip
    return []
