"""Whether a mapping makes sense by itself: every column it names is one, and is given once."""

from __future__ import annotations

from collections.abc import Iterator

from wearcast.records.cells import did_you_mean, visible
from wearcast.records.mapping.mapping import Mapping, Values
from wearcast.records.mapping.patterns import names_in
from wearcast.records.mapping.toml_keys import Keys
from wearcast.records.tables import TABLES


def check_sense(keys: Keys, made: Mapping) -> None:
    """Refuse a mapping that contradicts itself.

    Raises
    ------
    WrongUse
        Naming the key.
    """
    known = tuple(column.name for column in TABLES[made.table].columns)
    for key, name in (*_for_all_rows(made), *_others(made)):
        if name not in known:
            hint = did_you_mean(name, known)
            keys.refuse(key, f"{visible(name)} is no column of {made.table}. {hint}".rstrip())
    taken: dict[str, str] = {}
    for key, name in _for_all_rows(made):
        if name in taken:
            keys.refuse(key, f"{name} is given by {taken[name]} as well; keep one.")
        taken[name] = key
    title = made.block.title if made.block else ""
    for text in (made.sheet, title, *(one.heading for one in made.values)):
        if "}{" in text or len(set(names_in(text))) < len(names_in(text)):
            keys.refuse(text, "expected a text between the braces, and each name once.")
    for name in made.carry:
        if name not in made.columns:
            keys.refuse("carry", f"{name} has no heading in [columns], so nothing can be carried on.")
    if made.values and "value" not in known:
        keys.refuse(
            "values", f"{made.table} has no column value; only readings can stand beside one another."
        )
    for one in made.values:
        _check_values(keys, one, taken)


def _for_all_rows(made: Mapping) -> Iterator[tuple[str, str]]:
    """Key and name of every column that is given for all rows."""
    for section, names in (
        ("columns", made.columns),
        ("cells", made.cells),
        ("constants", made.constants),
    ):
        for name in names:
            yield f"{section}.{name}", name
    for name in names_in(made.sheet):
        yield "sheet", name
    for name in names_in(made.block.title) if made.block else ():
        yield "block.title", name


def _others(made: Mapping) -> Iterator[tuple[str, str]]:
    for name in made.words:
        yield f"words.{name}", name
    for name in made.carry:
        yield "carry", name
    for one in made.values:
        for name in (*one.constants, *names_in(one.heading)):
            yield f'values "{one.heading}"', name


def _check_values(keys: Keys, one: Values, taken: dict[str, str]) -> None:
    where, in_heading = f'values "{one.heading}"', names_in(one.heading)
    if "value" in taken:
        keys.refuse("values", f"value is given by {taken['value']} as well; keep one.")
    for name in (*one.constants, *in_heading):
        if name in taken or name == "value":
            keys.refuse(where, f"{name} is given by {taken.get(name, 'the cells')} as well; keep one.")
        if name in one.constants and name in in_heading:
            keys.refuse(where, f"{name} is given twice; keep one.")
