"""Numbers from cells: a point (or, where it cannot mislead, a comma) for decimals, and nothing else."""

from __future__ import annotations

import math
import re

from wearcast.door import bounds
from wearcast.records.cells import Notation, Problem, Raw, SheetCell, text_of, trouble_in

_POINT = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d{1,4})?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+,\d+|,\d+)(?:[eE][+-]?\d{1,4})?", re.ASCII)
_TWO_WAYS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[.,' \u2019\u00a0\u2009\u202f]\d{3})+(?:[.,]\d+)?", re.ASCII)
_EXPONENT = re.compile(r"\d[eE]-(\d{1,4})$", re.ASCII)
_THEN_UNIT = re.compile(r"([+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+))\s*([^\W\d_][\w/.]*|[°%\"″'′]\w*)")
_NOT_FINITE = frozenset({"inf", "+inf", "-inf", "infinity", "+infinity", "-infinity", "nan", "+nan", "-nan"})

NUMBER = "a number with a decimal point"

DIALS = ("counter_h", "new_counter_h")
_PARTED = re.compile(r"\d{1,3}(?:[ \u00a0\u2009\u202f]\d{3})+(?:[.,]\d+)?")


def as_dial(raw: Raw) -> Raw:
    """A dial as people write it, its thousands no longer parted by spaces.

    >>> as_dial("25 100"), as_dial("25 10")
    ('25100', '25 10')
    """
    return re.sub(r"\s", "", raw) if isinstance(raw, str) and _PARTED.fullmatch(raw.strip()) else raw


def parse_number(raw: Raw, notation: Notation) -> float | Problem:
    """A finite number; never a guess at what a comma, a blank or a word was meant to be.

    >>> parse_number("7.982", Notation())
    7.982
    >>> parse_number("7,982", Notation()).suggestion
    'The comma may mean 7.982 or 7982: write the one that was meant.'
    """
    if isinstance(raw, SheetCell) and raw.kind == "number" and isinstance(raw.value, float):
        return _finite(raw.value)
    problem = trouble_in(raw) or (_not_a_number_cell(raw) if isinstance(raw, SheetCell) else None)
    text = text_of(raw).replace("\u2212", "-")  # the minus sign of typeset text
    return problem or _digits(text) or _from_text(text, notation)


def _digits(text: str) -> Problem | None:
    """More digits than any gauge has, also behind the point by an exponent."""
    most = bounds.BOUNDS.digits
    exponent = _EXPONENT.search(text)
    if sum(map(str.isdigit, text)) > most or (exponent and int(exponent[1]) > most):
        return Problem(f"a number of at most {most} digits", "Correct it.")
    return None


def _from_text(text: str, notation: Notation) -> float | Problem:
    if _POINT.fullmatch(text):
        return _mixed(text) if notation.mixed and _TWO_WAYS.fullmatch(text) else _finite(float(text))
    return _with_comma(text, notation) if _COMMA.fullmatch(text) else _no_number(text)


def _finite(number: float) -> float | Problem:
    return number if math.isfinite(number) else Problem("a finite number", "Correct it.")


def writes_with(raw: Raw) -> str:
    """The decimal sign of a text that is a number: ``","``, ``"."`` or ``""``."""
    if not isinstance(raw, str):
        return ""
    text = raw.strip()
    if "," in text and _COMMA.fullmatch(text):
        return ","
    return "." if "." in text and _POINT.fullmatch(text) else ""


def _with_comma(text: str, notation: Notation) -> float | Problem:
    two_ways = _TWO_WAYS.fullmatch(text)
    if notation.decimal_comma:
        return _mixed(text) if notation.mixed and two_ways else _finite(float(text.replace(",", ".")))
    if two_ways:
        return Problem(
            NUMBER,
            f"The comma may mean {text.replace(',', '.')} or {text.replace(',', '')}: write the one that was meant.",
        )
    return Problem(NUMBER, f"Write {text.replace(',', '.')} if the comma is a decimal comma.")


def _mixed(text: str) -> Problem:
    point, whole = text.replace(",", "."), re.sub("[.,]", "", text)
    return Problem(
        "decimals written one way throughout the file",
        f"The file uses both decimal commas and decimal points, so this may mean {point} or {whole}: "
        "write all numbers one way.",
    )


def _no_number(text: str) -> Problem:
    if text.casefold() in _NOT_FINITE:
        return Problem("a finite number", "Type the number, or take the row out if there is none.")
    if _GROUPED.fullmatch(text):
        return Problem(
            "a number without thousands separators",
            "Write the digits without blanks, commas or points between thousands.",
        )
    unit = _THEN_UNIT.fullmatch(text)
    if unit:
        return Problem("a number alone", f"Write {unit[1]} here; a unit belongs in its own column.")
    return Problem(NUMBER, "Type the number; a cell of words or signs is never read as zero.")


def _not_a_number_cell(cell: SheetCell) -> Problem | None:
    if cell.kind == "date":
        return Problem(
            NUMBER,
            "The spreadsheet turned it into a date: format the cell as a number and type the number again.",
        )
    if cell.kind == "time":
        return Problem(
            NUMBER, "The cell is formatted as a time: format it as a number and type the number again."
        )
    if cell.kind == "logical":
        return Problem(NUMBER, "TRUE and FALSE are no measurements: type the number.")
    if cell.kind == "scaled":
        return Problem(
            NUMBER,
            "The cell's format shows another figure than it holds: format it as a plain number and check it.",
        )
    return None
