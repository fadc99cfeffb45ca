"""The headings of a table in a sheet, and which of its columns a mapping means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from wearcast.records.cells import did_you_mean, text_of, visible
from wearcast.records.grids import letter
from wearcast.records.mapping.patterns import plain
from wearcast.records.mapping.sheets import RawSheet
from wearcast.records.mapping.toml_keys import column_number

JOINED = " / "
_BY_LETTER = re.compile(r"column ([A-Za-z]{1,3})", re.IGNORECASE | re.ASCII)
_BY_NUMBER = re.compile(r"row ([1-9]\d{0,6})", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True)
class Headings:
    """Column of the sheet (from 1) to its heading; `turned` where the columns are the sheet's rows."""

    texts: dict[int, str]
    turned: bool

    def place(self, column: int) -> str:
        """The column as a person finds it in the sheet."""
        return f"row {column}" if self.turned else f"column {letter(column - 1)}"

    def find(self, heading: str) -> list[int]:
        """The columns of that heading; else the one named by its letter (or, turned, its number)."""
        wanted = plain(heading)
        found = [column for column, text in self.texts.items() if plain(text) == wanted]
        if found:
            return found
        named = (_BY_NUMBER if self.turned else _BY_LETTER).fullmatch(heading.strip())
        if not named:
            return []
        if self.turned:
            return [int(named[1])]
        return [column_number(named[1])]

    def found(self) -> str:
        """The headings in words."""
        names = [f'"{visible(text, 40)}"' for text in self.texts.values() if text]
        return ", ".join(names[:30]) + (f" and {len(names) - 30} more" if len(names) > 30 else "") or "none"

    def hint(self, heading: str) -> str:
        """The nearest heading, as a question."""
        return did_you_mean(heading, [text for text in self.texts.values() if text])


def headings_of(sheet: RawSheet, rows: Sequence[int], turned: bool) -> Headings:
    """Headings out of one or more rows.

    In all rows but the last a heading holds for the columns after it up to the next one, as merged cells
    show it; the parts are joined by `` / ``.
    """
    parts: dict[int, list[str]] = {column: [] for column in sheet.columns()}
    for index, row in enumerate(rows):
        last = index == len(rows) - 1
        carried = ""
        for column, found in parts.items():
            text = " ".join(text_of(sheet.cells.get((row, column), "")).split())
            if last:
                text = text or _merged_into(sheet, row, column)
            else:
                carried = text or carried
                text = carried
            if text and (not found or found[-1] != text):
                found.append(text)
    return Headings({column: JOINED.join(found) for column, found in parts.items()}, turned)


def _merged_into(sheet: RawSheet, row: int, column: int) -> str:
    """The text of the merged cells a heading cell belongs to."""
    for block in sheet.merged:
        if block.first[0] <= row <= block.last[0] and block.first[1] <= column <= block.last[1]:
            return " ".join(text_of(sheet.cells.get(block.first, "")).split())
    return ""
