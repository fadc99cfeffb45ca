"""A mapping from its TOML file, every key of it checked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast, get_args

from wearcast.door.bounds import TurnedAway
from wearcast.door.trees import toml_of
from wearcast.errors import WrongUse
from wearcast.records.cells import did_you_mean
from wearcast.records.mapping.mapping import Block, DateOrder, DecimalSign, Mapping, Values
from wearcast.records.mapping.sense import check_sense
from wearcast.records.mapping.toml_keys import Given, Keys
from wearcast.records.tables import TABLES

VERSION = 1

BY_ROW = ("header_row", "first_row", "last_row", "skip_rows")
BY_COLUMN = ("header_column", "first_column", "last_column", "skip_columns")
KEYS = (
    "mapping", "table", "sheet", *BY_ROW, *BY_COLUMN, "separator", "decimal", "date_order", "empty", "carry",
    "columns", "cells", "constants", "words", "values", "block",
)  # fmt: skip


def read_mapping(path: str | Path) -> Mapping:
    """A mapping from a TOML file.

    Raises
    ------
    WrongUse
        If the file cannot be read, is no TOML, or says something that is no mapping; in words.
    """
    path = Path(path)
    try:
        given = toml_of(path)
    except TurnedAway as away:
        raise WrongUse(f"{path}: cannot be read as a mapping: {away}") from None
    return _mapping(Keys(path.name), given)


def _mapping(keys: Keys, given: Given) -> Mapping:
    for key in given:
        if key not in KEYS:
            hint = f"{did_you_mean(key, KEYS)} Known: {', '.join(KEYS)}.".strip()
            keys.refuse(key, f"no key of a mapping. {hint}")
    if given.get("mapping") != VERSION or isinstance(given["mapping"], bool):
        keys.refuse("mapping", f"expected the line mapping = {VERSION}, the version of this layout.")
    turned = _turned(keys, given)
    words = keys.section(given, "words")
    cells = keys.strings(keys.section(given, "cells"), "cells")
    mappable = tuple(name for name in TABLES if name != "corrections")
    made = Mapping(
        name=keys.name,
        table=keys.choice(given, "table", mappable) or "readings",
        sheet=keys.text(given, "sheet"),
        turned=turned,
        **_lines(keys, given, turned),
        separator=keys.choice(given, "separator", (",", ";", "\t")),
        decimal=cast("DecimalSign", keys.choice(given, "decimal", (".", ","))),
        date_order=cast("DateOrder", keys.choice(given, "date_order", get_args(DateOrder)[1:])),
        empty=keys.texts(given, "empty"),
        carry=keys.texts(given, "carry"),
        columns=keys.strings(keys.section(given, "columns"), "columns"),
        cells={name: keys.cell(f"cells.{name}", text) for name, text in cells.items()},
        constants=keys.strings(keys.section(given, "constants"), "constants", numbers=True),
        words={
            name: keys.strings(keys.section(words, name, f"words.{name}"), f"words.{name}") for name in words
        },
        values=tuple(_values(keys, given)),
        block=_block(keys, given, turned),
    )
    check_sense(keys, made)
    return made


def _turned(keys: Keys, given: Given) -> bool:
    by_row = [key for key in BY_ROW if key in given]
    by_column = [key for key in BY_COLUMN if key in given]
    if by_row and by_column:
        keys.refuse(
            by_column[0],
            f"does not go with {by_row[0]}: headings stand either in rows or, in a sheet with one opening a "
            "column, in columns.",
        )
    return bool(by_column)


def _lines(keys: Keys, given: Given, turned: bool) -> dict[str, Any]:
    """Where headings and data stand: row numbers, or column letters where the sheet is turned."""
    line = "column" if turned else "row"
    number = keys.letters if turned else keys.number
    header = given.get(f"header_{line}", "A" if turned else 1)
    rows = header if isinstance(header, list) else [header]
    if not 1 <= len(rows) <= 5:
        keys.refuse(f"header_{line}", "expected one to five of them.")
    skip = given.get(f"skip_{line}s", [])
    if not isinstance(skip, list):
        keys.refuse(f"skip_{line}s", "expected a list.")
    headings = [number(f"header_{line}", one) for one in rows]
    if headings != sorted(set(headings)):
        keys.refuse(f"header_{line}", "expected them in rising order.")
    first, last = (
        number(key, given[key]) if key in given else 0 for key in (f"first_{line}", f"last_{line}")
    )
    if first and first <= headings[-1]:
        keys.refuse(f"first_{line}", f"expected it beyond header_{line}.")
    return {
        "header": tuple(headings),
        "first": first,
        "last": last,
        "skip": tuple(number(f"skip_{line}s", one) for one in skip),
    }


def _values(keys: Keys, given: Given) -> Iterator[Values]:
    found = given.get("values", [])
    if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
        keys.refuse("values", "expected sections [[values]], one for each kind of column.")
    for number, one in enumerate(found, start=1):
        constants = keys.strings(one, f"values {number}", numbers=True)
        heading = constants.pop("heading", "")
        if not heading:
            keys.refuse(f"values {number}", "heading is missing or empty.")
        yield Values(heading, constants)


def _block(keys: Keys, given: Given, turned: bool) -> Block | None:
    if "block" not in given:
        return None
    found = dict(keys.section(given, "block"))
    title, line = found.pop("title", ""), "row" if turned else "column"
    at = found.pop(line, 1 if turned else "A")
    if found:
        keys.refuse(f"block.{next(iter(found))}", f"no key of a block. Known: title, {line}.")
    if not isinstance(title, str) or not title.strip():
        keys.refuse("block.title", 'expected the text over a block, such as "Main bearing {position}".')
    number = keys.number if turned else keys.letters
    return Block(title.strip(), number(f"block.{line}", at))
