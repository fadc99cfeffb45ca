"""Rows of a table out of the rows of a sheet: one each, or one for every value that stands beside others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wearcast.queries import Query
from wearcast.records.cells import Raw, is_blank, text_of, visible
from wearcast.records.gathered import Given, Row
from wearcast.records.grids import letter
from wearcast.records.mapping.blocks import Part
from wearcast.records.mapping.headings import Headings, headings_of
from wearcast.records.mapping.mapping import Mapping, Values
from wearcast.records.mapping.patterns import matched, plain
from wearcast.records.mapping.sheets import RawSheet


@dataclass(frozen=True)
class Made:
    """The rows of one part of a sheet, what in it was not found, and the headings nothing was taken from."""

    rows: list[Row]
    faults: list[Query]
    unused: list[str]


@dataclass(frozen=True)
class Melted:
    """One column of values: where it stands and what its heading and the mapping say of it."""

    column: int
    said: dict[str, Given]


def rows_of(mapping: Mapping, sheet: RawSheet, part: Part) -> Made:
    """The rows of one part of a (turned) sheet, or what in it the mapping does not find."""
    headings = headings_of(sheet, part.header, mapping.turned)
    by_column, faults = _columns(mapping, headings, part)
    melted, more = _melted(mapping, headings, part, by_column)
    faults += more
    if faults:
        return Made([], faults, [])
    used = {*by_column.values(), *(one.column for one in melted)}
    unused = [text or headings.place(column) for column, text in headings.texts.items() if column not in used]
    return Made(list(_made(mapping, sheet, part, (by_column, melted, headings))), [], unused)


def _columns(mapping: Mapping, headings: Headings, part: Part) -> tuple[dict[str, int], list[Query]]:
    found: dict[str, int] = {}
    faults = []
    for name, heading in mapping.columns.items():
        at = headings.find(heading)
        if len(at) == 1:
            found[name] = at[0]
            continue
        places = " and ".join(headings.place(column) for column in at)
        words = f"in {places}" if at else "nowhere"
        faults.append(_no_heading(mapping, headings, part, name, heading, words, bool(at)))
    return found, faults


def _melted(
    mapping: Mapping, headings: Headings, part: Part, taken: dict[str, int]
) -> tuple[list[Melted], list[Query]]:
    """The columns of values of a wide sheet, each found by one heading."""
    found: dict[int, Melted] = {}
    faults = []
    for one in mapping.values:
        at = [
            (column, said)
            for column, text in headings.texts.items()
            if text and (said := matched(one.heading, text)) is not None
        ]
        at = at or [(column, {}) for column in headings.find(one.heading)]
        if not at:
            faults.append(
                _no_heading(mapping, headings, part, "value", one.heading, "nowhere", several=False)
            )
        for column, said in at:
            if column in found or column in taken.values():
                words = f"in {headings.place(column)}, which another line of the mapping takes as well"
                faults.append(_no_heading(mapping, headings, part, "value", one.heading, words, several=True))
            found[column] = Melted(column, _said(mapping, one, dict(said), headings.place(column)))
    return [found[column] for column in sorted(found)], faults


def _said(mapping: Mapping, one: Values, said: dict[str, str], place: str) -> dict[str, Given]:
    from_heading = {
        name: Given(_ours(mapping, name, text), f"heading of {place}") for name, text in said.items()
    }
    return from_heading | {name: Given(text, mapping.name) for name, text in one.constants.items()}


def _no_heading(
    mapping: Mapping, headings: Headings, part: Part, name: str, heading: str, words: str, several: bool
) -> Query:
    by_place = "row 7" if headings.turned else "column D"
    hint = f'Say which by "{by_place}".' if several else headings.hint(heading)
    return Query(
        kind="missing_column",
        text=f'by the mapping {mapping.name}: the heading "{visible(heading)}" for {name} stands {words}; '
        f"found: {headings.found()}.",
        suggestion=f"{hint} Correct it in {mapping.name}.".strip(),
        rows=() if headings.turned else part.header,
        column=name,
        found=words,
        expected=heading,
    )


def _fixed(mapping: Mapping, sheet: RawSheet, part: Part) -> dict[str, Given]:
    """What holds for all rows of a part: constants, single cells, titles."""
    fixed = {name: Given(text, mapping.name) for name, text in mapping.constants.items()}
    for name, (row, column) in mapping.cells.items():
        at = (column, row) if mapping.turned else (row, column)
        raw = sheet.cells.get(at, "")
        fixed[name] = Given(_translated(mapping, name, raw), f"cell {letter(column - 1)}{row}")
    for name, text in part.said.items():
        fixed[name] = Given(_ours(mapping, name, text), "title")
    return fixed


def _made(
    mapping: Mapping,
    sheet: RawSheet,
    part: Part,
    found: tuple[dict[str, int], list[Melted], Headings],
) -> Iterator[Row]:
    by_column, melted, headings = found
    fixed = _fixed(mapping, sheet, part)
    one_of_row = by_column.get("value", min(by_column.values(), default=1))
    carried: dict[str, Raw] = {}
    skip = set(mapping.skip)
    for row in range(part.first, part.last + 1):
        if row in skip:
            continue
        own = {name: sheet.cells.get((row, column), "") for name, column in by_column.items()}
        own = {name: "" if _is_empty(mapping, raw) else raw for name, raw in own.items()}
        values = [(one, sheet.cells.get((row, one.column), "")) for one in melted]
        values = [(one, raw) for one, raw in values if not _is_empty(mapping, raw)]
        for name in mapping.carry:
            if name in own:
                carried[name] = own[name] = own[name] if not is_blank(own[name]) else carried.get(name, "")
        counted = [raw for name, raw in own.items() if name not in mapping.carry]
        if not values and (melted or all(is_blank(raw) for raw in counted)):
            continue
        given = fixed | {
            name: Given(_translated(mapping, name, raw), _place(headings, row, by_column[name]))
            for name, raw in own.items()
        }
        if not melted:
            yield Row(sheet.name, one_of_row if headings.turned else row, "", given)
        for one, raw in values:
            cell = Given(_translated(mapping, "value", raw), _place(headings, row, one.column))
            number = one.column if headings.turned else row
            name = f"{letter((row if headings.turned else one.column) - 1)}{number}"
            yield Row(sheet.name, number, name, given | one.said | {"value": cell})


def _place(headings: Headings, row: int, column: int) -> str:
    """Where a cell stands: its column; in a turned sheet the whole cell."""
    return f"cell {letter(row - 1)}{column}" if headings.turned else headings.place(column)


def _is_empty(mapping: Mapping, raw: Raw) -> bool:
    return is_blank(raw) or (bool(mapping.empty) and plain(text_of(raw)) in map(plain, mapping.empty))


def _ours(mapping: Mapping, name: str, text: str) -> str:
    """Their word as ours, where the mapping has it; else as it stands, for the reader to judge."""
    words = mapping.words_of(name)
    if text in words:
        return words[text]
    return next((ours for theirs, ours in words.items() if plain(theirs) == plain(text)), text)


def _translated(mapping: Mapping, name: str, raw: Raw) -> Raw:
    if mapping.words_of(name):
        text = text_of(raw)
        ours = _ours(mapping, name, text)
        if ours != text:
            return ours
    return raw
