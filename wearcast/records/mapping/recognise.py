"""What can be recognised in another's sheet: where headings stand, what they call, what varies in them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping as ReadOnly
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from wearcast.quantities import HALVES
from wearcast.records.cells import Raw, SheetCell, is_blank, text_of
from wearcast.records.grids import letter
from wearcast.records.mapping.headings import Headings, headings_of
from wearcast.records.mapping.patterns import plain
from wearcast.records.mapping.sheets import RawSheet

LOOKED_AT = 40
"""Rows (or columns) at the start of a sheet in which headings are looked for (judgement)."""

WORDS: ReadOnly[str, tuple[str, ...]] = MappingProxyType(
    {
        "date": ("date", "day", "opened", "opened on", "opening date", "date of opening", "datum"),
        "counter_h": (
            "counter", "counter h", "hours", "running hours", "run hours", "rh", "r h", "hrs", "engine hours",
            "hour meter", "total hours",
        ),
        "vessel": ("vessel", "ship", "name of ship", "vessel name"),
        "engine": ("engine", "engine no", "eng", "engine number"),
        "bearing": ("bearing", "kind of bearing", "bearing kind", "type of bearing"),
        "position": ("position", "pos", "no", "nr", "number", "bearing no", "cyl", "cylinder", "throw"),
        "half": ("half", "shell", "half shell", "upper lower", "upper/lower"),
        "point": ("point", "measuring point", "reading point"),
        "quantity": ("quantity", "measure", "what"),
        "value": ("value", "reading", "wall", "thickness", "wall thickness", "measured"),
        "unit": ("unit", "units"),
        "state": ("state", "as found as left", "when"),
        "instrument": ("instrument", "gauge", "micrometer", "tool"),
        "temperature_c": ("temperature", "temp", "deg c"),
        "conditions": ("conditions", "condition of ship", "hot cold"),
        "measured_by": ("measured by", "by", "name", "taken by", "engineer"),
        "remark": ("remark", "remarks", "note", "notes", "comment", "comments"),
    }
)  # fmt: skip
"""Headings and what they usually stand for (judgement); every match is told in a comment, to be checked."""

_UNIT = re.compile(r"[\[(]\s*([^\])\s]{1,8})\s*[\])]\s*$|,\s*(mm|um|µm|in|inch)\s*$", re.IGNORECASE)
_NUMBER = re.compile(r"\d+")
_NUMERIC = re.compile(r"[+-]?\d*[.,]?\d+")
_DATE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")


@dataclass(frozen=True)
class Layout:
    """Where things seem to stand in a (turned) sheet.

    Attributes
    ----------
    header : tuple of int
        Rows of headings; within blocks counted from the title.
    headings : Headings
        Of the sheet or, in blocks, of the first one.
    first, last : int
        Rows of data looked at.
    block_title : str
        What opens a block, with braces; empty where there is one table.
    """

    turned: bool
    header: tuple[int, ...]
    headings: Headings
    first: int
    last: int
    block_title: str = ""


def layout_of(sheet: RawSheet) -> tuple[RawSheet, Layout]:
    """The sheet, turned if its headings stand in a column, and its layout."""
    across, down = _best_header(sheet), _best_header(sheet.turned())
    turned = down[1] > across[1] and _has_dates(sheet.turned(), down[0])
    laid = sheet.turned() if turned else sheet
    row = (down if turned else across)[0]
    block = "" if turned else _block_title(laid, row - 1)
    rows = [row]
    if not turned and _is_heading(laid, row + 1):
        rows.append(row + 1)
    last = _end_of_block(laid, row, block) if block else laid.last_row
    header = tuple(one - row + 1 for one in rows) if block else tuple(rows)
    headings = headings_of(laid, rows, turned)
    return laid, Layout(turned, header, headings, rows[-1] + 1, last, block)


def facts_above(sheet: RawSheet, layout: Layout) -> dict[str, str]:
    """Cells beside words such as Ship or Date above the headings, by column of the table."""
    if layout.turned or layout.block_title:
        return {}
    found: dict[str, str] = {}
    for (row, column), raw in sorted(sheet.cells.items()):
        name = called(text_of(raw)) if row < min(layout.header) else ""
        beside = sheet.cells.get((row, column + 1), "")
        if name not in ("", "value", *found) and not is_blank(beside) and not called(text_of(beside)):
            found[name] = f"{letter(column)}{row}"
    return found


def said_by(heading: str) -> dict[str, str]:
    """The half and quantity a heading names.

    >>> said_by("Lower main 3"), said_by("Axial"), said_by("Wear")
    ({'half': 'lower'}, {'quantity': 'axial_clearance'}, {})
    """
    words = plain(re.sub(r"[^\w]+", " ", heading)).split()
    found = next(({"half": half} for half in HALVES if half in words), {})
    found |= next(({"quantity": name} for word, name in _QUANTITY_WORDS if word in words), {})
    return found


_QUANTITY_WORDS = (
    ("axial", "axial_clearance"),
    ("clearance", "clearance"),
    ("deflection", "web_deflection"),
    ("journal", "journal_diameter"),
)


def called(heading: str) -> str:
    """The column a heading usually stands for, or nothing.

    >>> called("Running hours"), called("Thickness [mm]"), called("Colour")
    ('counter_h', 'value', '')
    """
    words = plain(re.sub(r"[^\w]+", " ", _UNIT.sub("", heading)))
    return next((column for column, known in WORDS.items() if words in known), "")


def unit_said(heading: str) -> str:
    """What a heading says of a unit, as it stands there.

    >>> unit_said("Wall [mm]"), unit_said("Wall")
    ('mm', '')
    """
    found = _UNIT.search(heading)
    return (found[1] or found[2]) if found else ""


def cells_below(sheet: RawSheet, layout: Layout, column: int) -> list[Raw]:
    """The filled cells of a column."""
    rows = range(layout.first, min(layout.last, layout.first + 500) + 1)
    return [raw for row in rows if not is_blank(raw := sheet.cells.get((row, column), ""))]


def mostly_numbers(raws: Sequence[Raw]) -> bool:
    """Whether most of the cells are numbers."""
    return bool(raws) and sum(map(_is_number, raws)) * 2 > len(raws)


def mostly_dates(raws: Sequence[Raw]) -> bool:
    """Whether most of the cells are dates."""
    return bool(raws) and sum(map(_is_date, raws)) * 2 > len(raws)


def families(headings: Sequence[str]) -> dict[str, list[str]]:
    """Headings that differ in one number alone, by their pattern.

    >>> families(["MB 1", "MB 2", "Hours"])
    {'MB {position}': ['MB 1', 'MB 2']}
    """
    found: dict[str, list[str]] = {}
    for heading in headings:
        if len(_NUMBER.findall(heading)) == 1 and "{" not in heading and "}" not in heading:
            found.setdefault(_NUMBER.sub("{position}", heading), []).append(heading)
    return {pattern: members for pattern, members in found.items() if len(members) > 1}


def _best_header(sheet: RawSheet) -> tuple[int, float]:
    """The row most like headings, and how much."""
    by_column: dict[int, list[tuple[int, Raw]]] = {}
    for (row, column), raw in sorted(sheet.cells.items()):
        by_column.setdefault(column, []).append((row, raw))
    scores: dict[int, float] = {}
    texts: dict[int, list[str]] = {}
    for cells in by_column.values():
        below = [raw for _, raw in cells]
        for index, (row, raw) in enumerate(cells):
            if row > LOOKED_AT:
                break
            if isinstance(raw, str) and not _is_number(raw) and not _is_date(raw):
                texts.setdefault(row, []).append(raw)
                scores[row] = scores.get(row, 0.0) + _like_a_heading(raw, below[index + 1 : index + 51])
    for row, words in texts.items():
        scores[row] += min(sum(len(members) for members in families(words).values()), 6)
    best = max(scores, key=lambda row: (scores[row], -row), default=1)
    return best, scores.get(best, 0.0)


def _like_a_heading(text: str, below: Sequence[Raw]) -> float:
    """How much a cell is like a heading of what stands below it (judgement)."""
    name = called(text)
    if name == "date":
        return 3.0 if mostly_dates(below) else 0.1
    if name in ("counter_h", "value"):
        return 3.0 if mostly_numbers(below) else 0.1
    if name:
        return 3.0 if below else 0.1
    return 1.0 if said_by(text) and mostly_numbers(below) else 0.1


def _has_dates(sheet: RawSheet, row: int) -> bool:
    """Whether a heading of this row stands over dates: without them a sheet is not turned."""
    for (at, column), raw in sheet.cells.items():
        if at == row and called(text_of(raw)) == "date":
            below = [cell for (line, other), cell in sheet.cells.items() if other == column and line > row]
            if mostly_dates(below):
                return True
    return False


def _is_heading(sheet: RawSheet, row: int) -> bool:
    """Whether a second row of headings follows: words, and no number or date."""
    raws = [raw for (at, _), raw in sheet.cells.items() if at == row]
    return len(raws) > 1 and not any(_is_number(raw) or _is_date(raw) for raw in raws)


def _block_title(sheet: RawSheet, row: int) -> str:
    """The pattern of titles like the one above the headings, if there are several."""
    title = text_of(sheet.cells.get((row, 1), ""))
    if len(_NUMBER.findall(title)) != 1:
        return ""
    texts = [text_of(raw) for (_, column), raw in sheet.cells.items() if column == 1]
    pattern = _NUMBER.sub("{position}", title)
    same = Counter(_NUMBER.sub("{position}", text) for text in texts)
    return pattern if same[pattern] > 1 and "{position}" in pattern else ""


def _end_of_block(sheet: RawSheet, row: int, title: str) -> int:
    later = [
        at for (at, column), raw in sheet.cells.items()
        if column == 1 and at > row and _NUMBER.sub("{position}", text_of(raw)) == title
    ]  # fmt: skip
    return min(later, default=sheet.last_row + 1) - 1


def _is_number(raw: Raw) -> bool:
    if isinstance(raw, SheetCell):
        return raw.kind in ("number", "scaled")
    return bool(_NUMERIC.fullmatch(raw.strip()))


def _is_date(raw: Raw) -> bool:
    if isinstance(raw, SheetCell):
        return raw.kind == "date"
    return bool(_DATE.fullmatch(raw.strip()))
