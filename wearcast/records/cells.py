"""One cell: what was found in it, and what it means or why it means nothing.

A cell comes from a file as the text found (CSV, and text cells of a workbook) or as a `SheetCell` (a workbook's
numbers, dates and the rest). Each function here turns one distinct cell into a value or a `Problem`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

from wearcast.texts import seen

CellKind = Literal["text", "number", "scaled", "date", "time", "logical", "error", "formula"]

CLIP = 60
"""Longest text of a cell shown in a message (judgement)."""


@dataclass(frozen=True)
class SheetCell:
    """A cell that is more than the text found in a CSV file.

    Attributes
    ----------
    kind : str
        ``scaled`` is a number shown as another figure than it holds (per cent, thousands); ``formula`` is a
        formula whose result was not saved.
    text : str
        What a person sees in it.
    value : float, datetime or None
        For ``number`` and ``date``.
    origin : str
        For a cell put there by a correction: the place of that correction.
    """

    kind: CellKind
    text: str
    value: float | datetime | None = None
    origin: str = ""


Raw: TypeAlias = str | SheetCell


@dataclass(frozen=True)
class Problem:
    """Why a cell is not understood: what was expected, what to do."""

    expected: str
    suggestion: str = ""


@dataclass(frozen=True)
class Notation:
    """How numbers and dates are written in one table.

    Attributes
    ----------
    decimal_comma : bool
        A comma may be a decimal comma: the file's separator is another one.
    mixed : bool
        The table writes some numbers with a decimal comma and some with a point.
    epoch_1904 : bool
        Serial day numbers count from 1904.
    """

    decimal_comma: bool = False
    mixed: bool = False
    epoch_1904: bool = False


ERROR_TEXTS = frozenset(
    {"#REF!", "#N/A", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!", "#GETTING_DATA"}
)

_MOST_DIGITS = 15
"""Of a number that is a label: far beyond any place or engine, and still one to reckon with."""
_WHOLE = re.compile(r"([+-]?\d+)\.0+", re.ASCII)


def text_of(raw: Raw) -> str:
    """What a person sees in the cell, without blanks around it."""
    return (raw if isinstance(raw, str) else raw.text).strip()


def is_blank(raw: Raw) -> bool:
    """Whether nothing stands in the cell."""
    return not text_of(raw) and (isinstance(raw, str) or raw.kind == "text")


def shown(raw: Raw) -> str:
    """The cell for a message: in quotes, clipped, control characters made visible.

    >>> shown("7,98\\t2")
    '"7,98\\\\t2"'
    """
    if is_blank(raw):
        words = "an empty cell"
    elif isinstance(raw, str):
        words = f'"{visible(raw.strip())}"'
    elif raw.kind == "formula":
        words = f'the formula "{visible(raw.text)}" without a saved result'
    elif raw.kind == "error":
        words = f"the spreadsheet error {visible(raw.text)}"
    else:
        words = f'"{visible(raw.text.strip())}"'
    if isinstance(raw, SheetCell) and raw.origin:
        words += f" (put there by {raw.origin})"
    return words


def visible(text: str, most: int = CLIP) -> str:
    """The text clipped, with control characters written as escapes."""
    clipped = text[:most]
    if not clipped.isprintable():
        clipped = "".join(
            c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in clipped
        )
    return clipped + ("..." if len(text) > most else "")


def trouble_in(raw: Raw) -> Problem | None:
    """What no column of any kind accepts: a spreadsheet error, a formula without result."""
    if isinstance(raw, SheetCell) and raw.kind == "formula":
        return Problem(
            "a value",
            "Open the workbook in the spreadsheet program, let it calculate, and save it; or paste the values.",
        )
    error = raw.text if isinstance(raw, SheetCell) and raw.kind == "error" else text_of(raw)
    if error in ERROR_TEXTS or (isinstance(raw, SheetCell) and raw.kind == "error"):
        return Problem("a value", "Mend the formula behind it, or type the value.")
    return None


def parse_text(raw: Raw) -> str | Problem:
    """A text as it stands, stripped; signs that are not seen are written out."""
    return trouble_in(raw) or seen(text_of(raw))


def parse_place(raw: Raw) -> str | Problem:
    """A label; the number cell 3.0 and the text ``3.0`` are the label ``3``. Numbers in it are reckoned with."""
    if isinstance(raw, SheetCell) and raw.kind == "date":
        return Problem("a number or label", "The cell is a date; format it as text and type the label.")
    trouble = trouble_in(raw)
    if trouble:
        return trouble
    text = seen(text_of(raw))
    if not text.isascii() and any(sign.isdigit() and not sign.isascii() for sign in text):
        return Problem("a number or label with the digits 0 to 9", "Write its digits so.")
    whole = _WHOLE.fullmatch(text)
    text = whole[1] if whole else text
    if text.isdigit() and len(text) > _MOST_DIGITS:
        return Problem(f"a number of at most {_MOST_DIGITS} digits, or a label", "Correct it.")
    return text


def parse_choice(raw: Raw, choices: tuple[str, ...], exact: bool = False) -> str | Problem:
    """One of the choices in its listed spelling; without choices any word in lower case."""
    trouble = trouble_in(raw)
    if trouble:
        return trouble
    text = text_of(raw)
    if not choices:
        return text.lower()
    if text in choices:
        return text
    folded = text.casefold()
    if not exact and folded in choices:
        return folded
    return Problem(one_of(choices), did_you_mean(folded, choices))


def one_of(choices: Iterable[str]) -> str:
    """The choices in words.

    >>> one_of(("mm", "um", "in"))
    'mm, um or in'
    """
    words = list(choices)
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def did_you_mean(found: str, choices: Iterable[str]) -> str:
    """A question naming the closest choice, or nothing."""
    by_key = {_key(choice): choice for choice in choices}
    close = difflib.get_close_matches(_key(found), by_key, n=1, cutoff=0.7)
    return f"Did you mean {by_key[close[0]]}?" if close else ""


def _key(text: str) -> str:
    return re.sub(r"[\s_.-]+", "_", text[:200].casefold().strip())
