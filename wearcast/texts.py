"""Tables and other contents as text in one fixed layout."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


MARKER = "leading_apostrophe"
"""Column of an exact CSV file: where it says ``yes``, one apostrophe at the beginning of a cell is to be taken off."""

_FIGURE = re.compile(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", re.ASCII)
_HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)


def seen(text: str) -> str:
    """The text with control signs and signs that turn the direction of writing written out, so that they are seen.

    >>> seen("A\\u202eB\\x1b")
    'A\\\\u202eB\\\\x1b'
    """
    return _HIDDEN.sub(lambda found: found[0].encode("unicode_escape").decode("ascii"), text)


def is_formula(text: str) -> bool:
    """Whether a spreadsheet would run the text."""
    return text.startswith(FORMULA_STARTS) and not _FIGURE.fullmatch(text)


def exact_csv(names: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Texts as CSV that reads back exactly, and in which a spreadsheet runs nothing.

    A cell that would be run gets an apostrophe before it, and so in its row does any that begins with one; the row
    says so in the column `MARKER`, by which the reader of records takes them off again. Without such a cell there is
    no such column.
    """
    table = [list(row) for row in rows]
    marked = [any(map(is_formula, row)) for row in table]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if not any(marked) and not any(map(is_formula, names)):
        writer.writerow(names)
        writer.writerows(table)
        return text.getvalue()
    writer.writerow([*map(_with_apostrophe, names), MARKER])
    for row, mark in zip(table, marked, strict=True):
        writer.writerow([*map(_with_apostrophe, row), "yes"] if mark else [*row, ""])
    return text.getvalue()


def _with_apostrophe(text: str) -> str:
    return "'" + text if text.startswith("'") or is_formula(text) else text


def csv_text(table: pd.DataFrame) -> str:
    """A table as CSV, figures to eight digits; text that a spreadsheet would run as a formula is written as text."""
    safe = table.rename(columns=_as_text)
    for name in safe.columns:
        if safe[name].dtype == object or str(safe[name].dtype) in ("str", "string"):
            safe[name] = safe[name].map(_as_text)
    return safe.to_csv(index=False, lineterminator="\n", float_format="%.8g")


def _as_text(value: object) -> object:
    if not isinstance(value, str):
        return value
    text = value.replace("\r\n", "\n").replace("\r", "\n")  # pandas quotes a line feed alone
    return "'" + text if value.startswith(FORMULA_STARTS) else text


def json_text(content: Any) -> str:
    """JSON in a fixed layout, with null for what cannot be said."""
    return json.dumps(_plain(content), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if value is None or value != value:  # noqa: PLR0124  (NaN and NaT differ from themselves)
        return None
    if isinstance(value, bool | int | float | str):
        return value
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return value.item()


def toml_text(settings_rows: tuple[tuple[str, str, Any], ...]) -> str:
    """Every setting as a settings file holds it; the section ``general`` is the top level."""
    sections: dict[str, list[str]] = {"general": []}
    for section, name, value in settings_rows:
        written = str(value).lower() if isinstance(value, bool) else repr(value)
        sections.setdefault(section, []).append(f"{name} = {written}")
    parts = ["\n".join(sections.pop("general"))]
    parts += [f"[{section}]\n" + "\n".join(lines) for section, lines in sections.items()]
    return "\n\n".join(part for part in parts if part) + "\n"
