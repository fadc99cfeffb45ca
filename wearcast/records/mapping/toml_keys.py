"""Values of a TOML file by kind; every refusal names the file and the key."""

from __future__ import annotations

import re
from typing import Any, NoReturn

from wearcast.errors import WrongUse
from wearcast.records.cells import one_of, visible

_LETTERS = re.compile(r"[A-Za-z]{1,3}", re.ASCII)
_CELL = re.compile(r"([A-Za-z]{1,3})([1-9]\d{0,6})", re.ASCII)
MOST_ROWS = 1_048_576
"""Rows of a sheet."""

Given = dict[str, Any]


class Keys:
    """Takes keys of one file."""

    def __init__(self, name: str) -> None:
        self.name = name

    def refuse(self, key: str, text: str) -> NoReturn:
        """Refuse a key.

        Raises
        ------
        WrongUse
            Always.
        """
        raise WrongUse(f"{self.name}: {visible(key)}: {text}")

    def number(self, key: str, value: Any) -> int:
        """A row number."""
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_ROWS:
            self.refuse(key, f"found {visible(repr(value))}; expected a row number, the first being 1.")
        return value

    def letters(self, key: str, value: Any) -> int:
        """A column by its letters, counted from 1."""
        if not isinstance(value, str) or not _LETTERS.fullmatch(value):
            self.refuse(key, f'found {visible(repr(value))}; expected the letter of a column, such as "B".')
        return column_number(value)

    def cell(self, key: str, text: str) -> tuple[int, int]:
        """Row and column of a cell."""
        found = _CELL.fullmatch(text.strip())
        if not found:
            self.refuse(key, f'found "{visible(text)}"; expected a cell such as "C2".')
        return int(found[2]), column_number(found[1])

    def text(self, given: Given, key: str) -> str:
        """A text, empty where the key is not there."""
        value = given.get(key, "")
        if not isinstance(value, str):
            self.refuse(key, f"found {visible(repr(value))}; expected a text in quotes.")
        return value.strip()

    def choice(self, given: Given, key: str, choices: tuple[str, ...]) -> str:
        """One of the choices, empty where the key is not there."""
        value = given.get(key, "")
        if not isinstance(value, str) or value not in ("", *choices):
            named = one_of([repr(choice) for choice in choices])
            self.refuse(key, f"found {visible(repr(value))}; expected {named}.")
        return value

    def texts(self, given: Given, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = given.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            self.refuse(key, 'expected a list of texts, such as ["-", "n/a"].')
        return tuple(value)

    def section(self, given: Given, key: str, name: str = "") -> Given:
        """A section, empty where it is not there."""
        value = given.get(key, {})
        if not isinstance(value, dict):
            self.refuse(name or key, f"expected a section, [{name or key}].")
        return value

    def strings(self, given: Given, name: str, numbers: bool = False) -> dict[str, str]:
        """Names and texts; with `numbers`, numbers and dates as well, as texts."""
        return {key: self._string(f"{name}.{key}", value, numbers) for key, value in given.items()}

    def _string(self, key: str, value: Any, numbers: bool) -> str:
        if numbers and isinstance(value, int | float) and not isinstance(value, bool):
            return f"{value:.12g}"
        if numbers and hasattr(value, "isoformat"):
            return str(value.isoformat())
        if not isinstance(value, str):
            expected = "a text in quotes" + (", a number or a date" if numbers else "")
            self.refuse(key, f"found {visible(repr(value))}; expected {expected}.")
        return value.strip()


def column_number(letters: str) -> int:
    """The place of a column, counted from 1.

    >>> column_number("A"), column_number("ab")
    (1, 28)
    """
    number = 0
    for sign in letters.upper():
        number = 26 * number + ord(sign) - ord("A") + 1
    return number
