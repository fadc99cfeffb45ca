"""A mapping proposed for sheets: what is sure is filled in, what is not is asked, each with the cells it concerns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from wearcast.errors import InputRefused, WrongUse
from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.records.cells import Raw, did_you_mean, one_of, text_of, visible
from wearcast.records.grids import letter
from wearcast.records.mapping import mapping as data
from wearcast.records.mapping.layout import Sheet
from wearcast.records.mapping.meaning import HUNDREDTHS, NOTHING, OPEN, Meaning, meaning_of_words
from wearcast.records.mapping.patterns import plain
from wearcast.records.mapping.sheets import raw_file
from wearcast.records.mapping.toml_file import CHOICES, GIVEN, OF_ONE_FILE
from wearcast.records.mapping.understand import FROM_LABELS, SheetRead, Value, read_sheet
from wearcast.records.mapping.vocabulary import MARKS, understood
from wearcast.records.mapping.writing import date_text, day_order, decimal_signs, kind_of, two_ways
from wearcast.records.sheet_xml import Cell
from wearcast.records.tables import UNITS

ASKED = {
    "vessel": "no cell says the ship",
    "engine": "no cell says the engine",
    "date": "no cell says when it was opened",
    "counter_h": "no cell says the dial",
    "unit": "no text says the unit",
    "bearing": "no text says the bearing",
    "position": "no text says the number of the bearing",
    "half": "no text says the half",
    "quantity": "no text says what was measured",
    "point": "no text says the point",
}
_CHOICES = {"unit": (*UNITS, HUNDREDTHS), "bearing": BEARINGS, "half": HALVES, "quantity": tuple(QUANTITIES)}
_MEASURED = ("bearing", "position", "half", "quantity", "point")


@dataclass(frozen=True)
class Question:
    """Something only the owner of the sheets knows: the lines of the mapping that wait, and what each is about."""

    about: str
    lines: Mapping[str, str]


@dataclass
class Drafted:
    """The mapping as far as it is sure, what is asked, and what was found in each sheet."""

    mapping: data.Mapping
    questions: list[Question]
    reads: list[SheetRead] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def draft(
    paths: Sequence[Path], answers: Mapping[str, str], sheets: Sequence[str] = (), name: str = "mapping.toml"
) -> Drafted:
    """A mapping of sheets of one shape.

    Parameters
    ----------
    answers : mapping
        What is known already: by a column that can be given, ``decimal``, ``date_order``, ``loose`` or a text of
        the sheets.
    sheets : sequence of str
        The sheets of the workbooks that count; all if left out.

    Raises
    ------
    WrongUse
        If there is no such file or sheet, or nothing stands in it.
    InputRefused
        If a file cannot be read.
    """
    files = [raw_file(path) for path in paths]
    faults = [fault for file in files for fault in file.faults]
    if faults:
        raise InputRefused(faults)
    raws = [sheet for file in files for sheet in file.sheets if sheet.cells]
    wanted = {plain(one) for one in sheets}
    if wanted and not wanted <= {plain(sheet.name) for sheet in raws}:
        there = [sheet.name for sheet in raws]
        missing = next(one for one in sheets if plain(one) not in {plain(name) for name in there})
        listed = ", ".join(map(visible, dict.fromkeys(there)))
        raise WrongUse(
            f"no sheet {visible(missing)}; the sheets are {listed}. {did_you_mean(missing, there)}".rstrip()
        )
    raws = [sheet for sheet in raws if not wanted or plain(sheet.name) in wanted]
    if not raws:
        raise WrongUse(f"{paths[0]}: nothing stands in it; there is nothing to map.")
    known = _Words(answers)
    given = {key: text for key, text in answers.items() if key in GIVEN}
    reads = [read_sheet(Sheet(raw, known.meaning_of, known.is_mark), given) for raw in raws]
    return _drafted(reads, known, given, answers, tuple(sheets), name)


class _Words:
    """The vocabulary, and what the owner says of his own words; it keeps the marks met."""

    def __init__(self, answers: Mapping[str, str]) -> None:
        others = {key: ours for key, ours in answers.items() if key not in (*GIVEN, *CHOICES)}
        self._answers = {plain(key): ours for key, ours in others.items()}
        self.marks: dict[str, None] = {}

    def meaning_of(self, text: str) -> Meaning:
        pattern, meaning = understood(text)
        ours = self._answers.get(plain(text), self._answers.get(plain(pattern)))
        if ours is None:
            return meaning
        said = meaning_of_words(ours.split())
        braces = {
            key: meaning.facts[key] for key in ("position", "date", "counter_h") if f"{{{key}}}" in pattern
        }
        return replace(said, facts={**said.facts, **braces})

    def is_mark(self, text: str) -> bool:
        if plain(text) not in MARKS:
            return False
        self.marks[text.strip()] = None
        return True


def _drafted(
    reads: Sequence[SheetRead], known: _Words, given: Mapping[str, str], answers: Mapping[str, str],
    sheets: tuple[str, ...], name: str,
) -> Drafted:  # fmt: skip
    texts = {
        understood(said.text)[0]: said.meaning.words
        for read in reads
        for said in read.texts.values()
        if said.text and said.meaning.known
    }
    asked = [
        _about_openings(reads),
        _about(reads, "what was measured", _MEASURED),
        _about(reads, "the unit", ("unit",)),
        *_about_writing(reads, answers),
        _about_texts(reads, answers),
    ]
    questions = [one for one in asked if one and one.lines]
    lines = {key for one in questions for key in one.lines}
    files: dict[str, dict[str, str]] = {}
    for read in reads:
        for key in OF_ONE_FILE:
            if f"{key} of {read.sheet.raw.file}" in lines:
                files.setdefault(read.sheet.raw.file, {})[key] = OPEN
            elif key in given:
                files.setdefault(read.sheet.raw.file, {})[key] = given[key]
    decimal, order = _decimal(reads) or "", _order(reads) or ""
    made = data.Mapping(
        name=name,
        table="events"
        if not any(read.values for read in reads) and any(read.dials for read in reads)
        else "readings",
        sheets=sheets,
        decimal=answers.get("decimal", OPEN if "decimal" in lines else decimal),  # type: ignore[arg-type]
        date_order=answers.get("date_order", OPEN if "date_order" in lines else order),  # type: ignore[arg-type]
        loose=answers.get("loose", OPEN if "loose" in lines else ""),
        given={k: v for k, v in given.items() if k not in OF_ONE_FILE}
        | {k: OPEN for k in lines if k in GIVEN},
        files=files,
        texts=texts | {key[1:]: OPEN for key in lines if key.startswith('"')},
        marks=tuple(known.marks),
        unanswered=tuple(lines),
    )
    return Drafted(made, questions, list(reads), _said(reads))


def _about_openings(reads: Sequence[SheetRead]) -> Question:
    lines: dict[str, str] = {}
    for read in reads:
        for key in FROM_LABELS:
            cells = [
                value.cell
                for value in read.values
                if key in value.unsure and not (_unclear_text(value) and _like_hours(read, [value.cell]))
            ]
            cells += [cell for dial in read.dials if key not in dial for _, cell in dial.values()]
            if cells:
                line = f"{key} of {read.sheet.raw.file}" if key in OF_ONE_FILE else key
                lines[line] = f"{ASKED[key]} of {_place(read, cells)}"
    return Question("which ship, engine and opening", lines)


def _about(reads: Sequence[SheetRead], about: str, keys: Sequence[str]) -> Question:
    """What no text tells; where a text beside is not understood, that is asked first, for it may tell."""
    lines: dict[str, str] = {}
    for read in reads:
        unclear = {value.cell[0] for value in read.values if _unclear_text(value)}
        for key in keys:
            cells = [
                value.cell
                for value in read.values
                if value.unsure.get(key) == ""
                and not _unclear_text(value)
                and (key == "unit" or value.cell[0] not in unclear)
            ]
            if cells:
                choices = f": {one_of(_CHOICES[key])}" if key in _CHOICES else ""
                lines[key] = f"{ASKED[key]} of {_place(read, cells)}{choices}"
    return Question(about, lines)


def _unclear_text(value: Value) -> bool:
    return any(key.startswith("text ") for key in value.unsure)


def _about_texts(reads: Sequence[SheetRead], answers: Mapping[str, str]) -> Question:
    lines: dict[str, str] = {}
    for read in reads:
        by_text: dict[str, list[Cell]] = {}
        for value in read.values:
            for key, text in value.unsure.items():
                if key.startswith(("text ", "value ")):
                    by_text.setdefault(understood(text)[0], []).append(value.cell)
            if value.unsure.get("where"):
                said = [one for one in read.texts.values() if "where" in one.meaning.facts]
                for one in said:
                    by_text.setdefault(understood(one.text)[0], []).append(value.cell)
        for cell, texts in read.stray.items():
            unknown = [one.text for one in texts if not one.meaning.known]
            for text in unknown:
                by_text.setdefault(understood(text)[0], []).append(cell)
            if not unknown and answers.get("loose") != NOTHING:
                by_text.setdefault("", []).append(cell)
        for text, cells in by_text.items():
            quantity = next((v.text("quantity") for v in read.values if v.cell in cells), "")
            points = (
                f", one of {one_of(QUANTITIES[quantity].points)}"
                if quantity in QUANTITIES and QUANTITIES[quantity].points
                else ""
            )
            hours = (
                ", counter_h if it is an engine and these are its hours" if _like_hours(read, cells) else ""
            )
            if text:
                lines[f'"{text}'] = (
                    f"what it means{points}{hours}, or nothing: it stands by {_place(read, cells)}"
                )
            else:
                lines["loose"] = f"nothing, if {_place(read, cells)}, which no text explains, are no readings"
    return Question("what their words mean", lines)


def _like_hours(read: SheetRead, cells: Sequence[Cell]) -> bool:
    """Whether these can be running hours: whole numbers too large for a bearing's in mm, by a date."""
    found = [value for value in read.values if value.cell in cells]
    return bool(found) and all(
        "date" in value.facts
        and not value.facts.keys() & {"unit", "quantity", "counter_h"}
        and (plain_text := re.sub(r"[\s.,]", "", text_of(value.raw))).isdecimal()
        and int(plain_text) >= LEAST_HOURS
        for value in found
    )


LEAST_HOURS = 100
"""Numbers under this are not asked about as hours (judgement)."""


def _about_writing(reads: Sequence[SheetRead], answers: Mapping[str, str]) -> list[Question]:
    lines: dict[str, str] = {}
    if _decimal(reads) is None and "decimal" not in answers:
        cells = [
            (read, v.cell)
            for read in reads
            for v in read.values
            if isinstance(v.raw, str) and two_ways(v.raw)
        ]
        example = text_of(
            next(
                (v.raw for read in reads for v in read.values if isinstance(v.raw, str) and two_ways(v.raw)),
                "7,982",
            )
        )
        lines["decimal"] = f'the decimal sign, "," or ".": nothing tells what {example} is'
        if cells:
            lines["decimal"] += (
                f" ({_place(cells[0][0], [cell for read, cell in cells if read is cells[0][0]])})"
            )
    if _order(reads) is None and "date_order" not in answers:
        example, read, cell = next(
            (text_of(raw), read, cell) for read in reads for raw, cell in _dates(read) if _unclear(raw)
        )
        lines["date_order"] = f'"day month year" or "month day year" in {example} ({_place(read, [cell])})'
    return [Question("how numbers and dates are written", lines)]


def _decimal(reads: Sequence[SheetRead]) -> str | None:
    """The decimal sign of texts that are numbers: told by one of them, else none, else (None) to be asked."""
    values = [
        v for read in reads for v in read.values if isinstance(v.raw, str) and kind_of(v.raw) == "number"
    ]
    texts = [text_of(v.raw) for v in values]
    signs = decimal_signs(texts)
    if len(signs) == 1:
        return signs.pop()
    doubtful = [v for v in values if two_ways(text_of(v.raw))]
    if not doubtful and not signs:
        return ""
    used = {sign for v in doubtful for sign in text_of(v.raw) if sign in ".,"}
    # 7,982 under "mm" is no bearing of eight metres; 7,982 under "um" may be either
    in_mm = not any(v.text("unit") in ("", "um", HUNDREDTHS) for v in doubtful)
    return used.pop() if len(used) == 1 and not signs and in_mm else None


def _dates(read: SheetRead) -> Iterable[tuple[Raw, Cell]]:
    for value in read.values:
        if "date" in value.facts:
            yield value.facts["date"]
    yield from (dial["date"] for dial in read.dials if "date" in dial)


def _unclear(raw: Raw) -> bool:
    """Whether a date may be read in two ways."""
    text = date_text(raw, "")
    return isinstance(text, str) and kind_of(text) == "date" and text[4:5] != "-"


def _order(reads: Sequence[SheetRead]) -> str | None:
    dates = [raw for read in reads for raw, _ in _dates(read)]
    told = day_order(raw for raw in dates if isinstance(raw, str))
    if len(told) == 1:
        return told.pop()
    return None if told or any(map(_unclear, dates)) else ""


def _said(reads: Sequence[SheetRead]) -> list[str]:
    """What was found, sheet by sheet, and what contradicts itself."""
    lines = []
    for read in reads:
        place = read.sheet.raw.file + (
            f", sheet {visible(read.sheet.raw.name)}" if read.sheet.raw.name else ""
        )
        what: dict[str, list[Value]] = {}
        for value in read.values:
            what.setdefault(
                f"{value.text('bearing')} {value.text('quantity')}".strip().replace("_", " ") or "numbers", []
            ).append(value)
        found = ", ".join(f"{len(values)} {key}" for key, values in what.items())
        found = found or (f"{len(read.dials)} dials" if read.dials else "no reading")
        lines.append(
            f"{place}: {found}" + (f"; {len(read.passed)} cells passed over" if read.passed else "") + "."
        )
        rivals: dict[str, list[Cell]] = {}
        for value in read.values:
            for key, text in value.unsure.items():
                if text and not key.startswith(("text ", "value ")) and key != "where":
                    rivals.setdefault(text, []).append(value.cell)
        lines += [
            f"{_place(read, cells)}: {text}? The texts contradict each other; nothing is taken there."
            for text, cells in rivals.items()
        ]
    return lines


def _place(read: SheetRead, cells: Sequence[Cell]) -> str:
    """Cells in words, with their sheet where there are several."""
    name = read.sheet.raw.name
    return cells_in_words(cells) + (f" of {visible(name)}" if name else "")


def cells_in_words(cells: Iterable[Cell]) -> str:
    """Cells as blocks where they are some.

    >>> cells_in_words([(2, 2), (3, 2), (2, 3), (3, 3), (7, 1)])
    'B2:C3 and A7'
    """
    runs: dict[tuple[int, int], list[int]] = {}
    for row in sorted({row for row, _ in set(cells)}):
        columns = sorted(column for at, column in set(cells) if at == row)
        start = columns[0]
        for before, column in zip(columns, [*columns[1:], 0], strict=True):
            if column != before + 1:
                runs.setdefault((start, before), []).append(row)
                start = column
    blocks = []
    for (first, last), rows in runs.items():
        start = rows[0]
        for before, row in zip(rows, [*rows[1:], 0], strict=True):
            if row != before + 1:
                a, b = f"{letter(first - 1)}{start}", f"{letter(last - 1)}{before}"
                blocks.append(a if a == b else f"{a}:{b}")
                start = row
    shown = blocks[:4] + ([f"{len(blocks) - 4} more"] if len(blocks) > 4 else [])
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"
