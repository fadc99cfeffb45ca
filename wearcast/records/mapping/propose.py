"""A mapping proposed for another's sheet: what was recognised, to be checked, and what must be filled in."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from wearcast.errors import InputRefused, WrongUse
from wearcast.records.cells import did_you_mean, one_of, text_of, visible
from wearcast.records.grids import letter
from wearcast.records.mapping.recognise import (
    Layout,
    called,
    cells_below,
    facts_above,
    families,
    layout_of,
    mostly_dates,
    mostly_numbers,
    said_by,
    unit_said,
)
from wearcast.records.mapping.sheets import RawSheet, raw_file
from wearcast.records.mapping.toml_file import VERSION
from wearcast.records.tables import TABLES

FILL_IN = "fill in"
_ORDINARY = re.compile(r"[\x20-\x7e\u00a0-\ud7ff\ue000-\uffff]*")
_DAY_LAST = re.compile(r"\d{1,2}[-/. ]\d{1,2}[-/. ]\d{4}\.?")


@dataclass
class _Found:
    """What was recognised: headings and single cells by column of the table, headings of values, and the rest."""

    columns: dict[str, int] = field(default_factory=dict)
    cells: dict[str, str] = field(default_factory=dict)
    families: dict[str, list[int]] = field(default_factory=dict)
    values: list[int] = field(default_factory=list)
    others: list[int] = field(default_factory=list)


def propose(path: str | Path, sheet: str = "") -> str:
    """A mapping of a sheet, as TOML to edit; units are never guessed.

    Raises
    ------
    WrongUse
        If there is no such file or sheet, or nothing stands in it.
    InputRefused
        If the file cannot be read.
    """
    path = Path(path)
    opened = raw_file(path)
    if opened.faults:
        raise InputRefused(opened.faults)
    chosen = _chosen(opened.sheets, sheet, path)
    laid, layout = layout_of(chosen)
    found = _sorted_columns(laid, layout)
    return "\n".join(_lines(path, chosen, laid, layout, found)) + "\n"


def _chosen(sheets: list[RawSheet], name: str, path: Path) -> RawSheet:
    """The sheet named, else the fullest."""
    if name:
        for sheet in sheets:
            if sheet.name.casefold() == name.strip().casefold():
                return sheet
        names = [sheet.name for sheet in sheets if sheet.name]
        there = f"the sheets are {', '.join(map(visible, names))}" if names else "a CSV file has none"
        raise WrongUse(f"{path}: no sheet {visible(name)}; {there}. {did_you_mean(name, names)}".rstrip())
    filled = [sheet for sheet in sheets if sheet.cells]
    if not filled:
        raise WrongUse(f"{path}: nothing stands in it; there is nothing to map.")
    return max(filled, key=lambda sheet: len(sheet.cells))


def _sorted_columns(laid: RawSheet, layout: Layout) -> _Found:
    found = _Found()
    numeric = []
    for column, heading in layout.headings.texts.items():
        name, raws = called(heading), cells_below(laid, layout, column)
        if not name and mostly_dates(raws):
            name = "date"
        if name and name not in found.columns:
            found.columns[name] = column
        elif mostly_numbers(raws):
            numeric.append(column)
        elif heading or raws:
            found.others.append(column)
    of_family = families([layout.headings.texts[column] for column in numeric])
    for pattern, members in of_family.items():
        found.families[pattern] = [c for c in numeric if layout.headings.texts[c] in members]
    taken = {column for columns in found.families.values() for column in columns}
    found.values = [column for column in numeric if column not in taken]
    if found.families or (found.values and "value" not in found.columns):
        if "value" in found.columns:
            found.values.append(found.columns.pop("value"))
    else:
        found.others += found.values
        found.values = []
    found.cells = {
        name: cell for name, cell in facts_above(laid, layout).items() if name not in found.columns
    }
    return found


def _lines(path: Path, chosen: RawSheet, laid: RawSheet, layout: Layout, found: _Found) -> Iterator[str]:
    yield f"# Mapping of {_comment(path.name)}, proposed from what stands in it. Check every line."
    yield f'# Where it says "{FILL_IN}", only you can know. Nothing is taken from a line that is empty.'
    yield f"mapping = {VERSION}"
    if chosen.name:
        yield f"sheet = {quoted(chosen.name)}"
    yield from _where(layout)
    yield from _notation(laid, layout, found)
    if layout.block_title:
        yield ""
        yield "[block]  # one table below another, each under a title like this; braces take a column out of it"
        yield f"title = {quoted(layout.block_title)}"
    yield ""
    yield "[columns]  # column of readings = heading in the sheet"
    for name, column in found.columns.items():
        yield f"{name} = {quoted(_reference(layout, column))}"
    for column in found.others:
        yield f"# not used: {_comment(_reference(layout, column))}"
    if found.cells:
        yield ""
        yield "[cells]  # facts that stand once in the sheet"
        for name, cell in found.cells.items():
            yield f"{name} = {quoted(cell)}"
    yield from _constants(layout, found)
    yield from _values(layout, found)
    yield from _words(laid, layout, found)


def _where(layout: Layout) -> Iterator[str]:
    if layout.turned:
        names = [letter(row - 1) for row in layout.header]
        yield f"header_column = {_one_or_list([quoted(name) for name in names])}  # headings stand in a column"
    else:
        told = "  # counted from the title of a block" if layout.block_title else ""
        yield f"header_row = {_one_or_list([str(row) for row in layout.header])}{told}"


def _one_or_list(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"[{', '.join(items)}]"


def _notation(laid: RawSheet, layout: Layout, found: _Found) -> Iterator[str]:
    dates = cells_below(laid, layout, found.columns["date"]) if "date" in found.columns else []
    if any(isinstance(raw, str) and _DAY_LAST.fullmatch(raw.strip()) for raw in dates):
        yield 'date_order = ""  # fill in: "day month year" or "month day year"'
    numeric = [*found.values, *(column for columns in found.families.values() for column in columns)]
    numeric += [found.columns[name] for name in ("value", "counter_h") if name in found.columns]
    texts = [
        text_of(raw)
        for column in numeric
        for raw in cells_below(laid, layout, column)
        if isinstance(raw, str)
    ]
    if any("," in text for text in texts):
        yield 'decimal = ""  # fill in: "," if a comma is the decimal sign here'


def _constants(layout: Layout, found: _Found) -> Iterator[str]:
    """What no heading gives and every row needs."""
    given = {*found.columns, *found.cells}
    if found.families or layout.block_title:
        given.add("position")
    of_values = {"value", "quantity", "half", "position"} if found.families or found.values else set()
    wanted = [
        column for column in TABLES["readings"].columns
        if (column.filled or column.name in ("half", "engine")) and column.name not in given | of_values
    ]  # fmt: skip
    yield ""
    yield '[constants]  # what holds for every row; for a fact in one cell write instead [cells] date = "C2"'
    for column in wanted:
        allowed = f": {one_of(column.choices)}" if column.choices else ""
        said = _units_said(layout, found) if column.name == "unit" else ""
        optional = ", or take the line out where nothing has halves" if column.name == "half" else ""
        yield f'{column.name} = ""  # {FILL_IN}{allowed}{optional}{said}'


def _units_said(layout: Layout, found: _Found) -> str:
    columns = [*found.values, *(c for members in found.families.values() for c in members)]
    columns += [found.columns["value"]] if "value" in found.columns else []
    said = dict.fromkeys(unit_said(layout.headings.texts.get(column, "")) for column in columns)
    words = [_comment(text) for text in said if text]
    return f"; a heading says {' and '.join(words)}" if words else "; no heading says it"


def _values(layout: Layout, found: _Found) -> Iterator[str]:
    quantities = one_of(next(c for c in TABLES["readings"].columns if c.name == "quantity").choices)
    shared = {*found.columns, *found.cells, *(("position",) if layout.block_title else ())}
    entries = [(pattern, True) for pattern in found.families]
    entries += [(_reference(layout, column), False) for column in found.values]
    for heading, has_position in entries:
        yield ""
        yield "[[values]]  # holds a value in every row; take it out if it is no measurement"
        yield f"heading = {quoted(heading)}"
        said = said_by(heading)
        for name, hint in (
            ("quantity", quantities),
            ("half", "upper or lower; take the line out where the quantity has none"),
            ("position", "its number"),
        ):
            if name in shared or (name == "position" and has_position):
                continue
            if name in said:
                yield f'{name} = "{said[name]}"  # as the heading says'
            elif name != "half" or said.get("quantity", "wall") == "wall":
                yield f'{name} = ""  # {FILL_IN}: {hint}'


def _words(laid: RawSheet, layout: Layout, found: _Found) -> Iterator[str]:
    """Their words for what must be one of ours."""
    for column in TABLES["readings"].columns:
        if not column.choices or column.name not in found.columns or column.name == "unit":
            continue
        raws = cells_below(laid, layout, found.columns[column.name])
        strange = [
            text for text in dict.fromkeys(map(text_of, raws)) if text.casefold() not in column.choices
        ]
        if strange:
            yield ""
            yield f"[words.{column.name}]  # their word = ours: {one_of(column.choices)}"
            for text in strange[:50]:
                yield f'{quoted(text)} = ""  # {FILL_IN}'


def _reference(layout: Layout, column: int) -> str:
    """The heading of a column, or its place where it has none of its own."""
    heading = layout.headings.texts.get(column, "")
    alone = heading and len(layout.headings.find(heading)) == 1 and "{" not in heading
    return heading if alone else layout.headings.place(column)


def quoted(text: str) -> str:
    """A text as TOML writes it.

    >>> quoted('a "b"')
    '"a \\\\"b\\\\""'
    """
    if _ORDINARY.fullmatch(text):
        return json.dumps(text, ensure_ascii=False)
    signs = (
        sign if _ORDINARY.fullmatch(sign) and sign not in '"\\' else f"\\U{ord(sign):08x}" for sign in text
    )
    return f'"{"".join(signs)}"'


def _comment(text: str) -> str:
    """A text for a comment, on one line."""
    return visible(" ".join(text.split()))
