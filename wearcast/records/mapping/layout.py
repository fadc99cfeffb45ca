"""How a sheet is laid out: its titles, what stands as label and value, and its tables with their heads.

Nothing is taken from a place by its number: rows and columns are known by what their texts mean, so that the next
sheet may have a row more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from wearcast.records.cells import Raw, SheetCell, is_blank, text_of
from wearcast.records.mapping.meaning import PLACE, Meaning
from wearcast.records.mapping.sheets import RawSheet
from wearcast.records.mapping.writing import Kind, kind_of
from wearcast.records.sheet_xml import Cell

PAIRED = ("vessel", "engine", "date", "counter_h", "instrument", "measured_by", "temperature_c", "conditions")
MOST_PLACES = 40
"""Highest number of a bearing (judgement)."""


@dataclass(frozen=True)
class Said:
    """A text of the sheet and what it means."""

    cell: Cell
    text: str
    meaning: Meaning


@dataclass(frozen=True)
class Pair:
    """A label and the value that stands beside or below it, or behind it in the same cell."""

    label: str
    cell: Cell
    raw: Raw
    at: Said


@dataclass
class Table:
    """Rows under one head.

    Attributes
    ----------
    heads : dict of int to list
        By column the texts over it, from the top; a head that reaches over several columns stands in each.
    over : dict of int to dict
        By column what rows such as ``Date | 2015-03-24 | 2017-09-12`` say of it: the cell by its label.
    rows : list of int
        The rows of data.
    titles : list of Said
        The texts above it, since the table before.
    pairs : list of Pair
        The labels with values above it, since the table before.
    sections : dict of int to Said
        By row a text that stands alone in it and holds for the rows after it.
    """

    first: int
    heads: dict[int, list[Said]] = field(default_factory=dict)
    over: dict[int, dict[str, Cell]] = field(default_factory=dict)
    corner: dict[int, list[Said]] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    titles: list[Said] = field(default_factory=list)
    pairs: list[Pair] = field(default_factory=list)
    sections: dict[int, Said] = field(default_factory=dict)
    head_rows: list[int] = field(default_factory=list)


@dataclass
class Layout:
    """The tables of a sheet, the labels and texts below the last one, and numbers that stand in none."""

    tables: list[Table]
    pairs: list[Pair]
    texts: list[Said]


class Sheet:
    """A sheet with merged cells filled for its heads, and what each of its texts means."""

    def __init__(
        self, raw: RawSheet, meaning_of: Callable[[str], Meaning], is_mark: Callable[[str], bool]
    ) -> None:
        self.raw, self.cells, self._is_mark = raw, raw.cells, is_mark
        self.meaning_of = meaning_of
        self.covered = {
            (row, column): block.first
            for block in raw.merged
            for row in range(block.first[0], min(block.last[0], raw.last_row) + 1)
            for column in range(block.first[1], min(block.last[1], block.first[1] + 200) + 1)
        }
        self.by_row: dict[int, list[int]] = {}
        for row, column in sorted(self.cells):
            self.by_row.setdefault(row, []).append(column)

    def kind(self, cell: Cell) -> Kind | str:
        """``number``, ``date``, ``text``, ``mark``, ``other`` or, where nothing stands, an empty text."""
        raw = self.cells.get(cell, "")
        if is_blank(raw):
            return ""
        return "mark" if self._is_mark(text_of(raw)) else kind_of(raw)

    def said(self, cell: Cell) -> Said:
        """The text of a cell (of merged cells their first) and its meaning."""
        at = self.covered.get(cell, cell)
        text = " ".join(text_of(self.cells.get(at, "")).split())
        return Said(at, text, self.meaning_of(text) if self.kind(at) == "text" else Meaning())

    def texts(self, row: int) -> list[Said]:
        """The texts of a row."""
        return [
            self.said((row, column))
            for column in self.by_row.get(row, [])
            if self.kind((row, column)) == "text"
        ]

    def place_number(self, cell: Cell) -> str:
        """The number of a place, such as 3, where the cell is a whole number that can be one."""
        raw = self.cells.get(cell, "")
        text = text_of(raw)
        text = text.removesuffix(".0") if isinstance(raw, SheetCell) else text
        number = text.lstrip("0") or "0" if text.isdecimal() else ""
        return (
            number if number and len(number) <= len(str(MOST_PLACES)) and int(number) <= MOST_PLACES else ""
        )


def layout_of(sheet: Sheet) -> Layout:
    """Find the tables of a sheet from the top down."""
    tables: list[Table] = []
    pairs: list[Pair] = []
    titles: list[Said] = []
    rows = sorted(sheet.by_row)
    heads = _head_rows(sheet, rows)
    table: Table | None = None
    for index, row in enumerate(rows):
        found = [] if row in heads else list(_pairs(sheet, row))
        before = rows[index - 1] if index else row
        if row in heads:
            if table is None or table.rows or not table.head_rows or table.head_rows[-1] != before:
                table = Table(row, titles=titles, pairs=pairs)
                tables.append(table)
                titles, pairs = [], []
            table.head_rows.append(row)
            continue
        if found:
            pairs += found
            continue
        if _has_data(sheet, row):
            broken = (
                table is not None
                and (row != before + 1)
                and bool(table.rows)
                and not _goes_on(sheet, table, row)
            )
            if table is None or broken or titles or pairs:
                table = Table(row, titles=titles, pairs=pairs)
                tables.append(table)
                titles, pairs = [], []
            table.rows.append(row)
            continue
        texts = sheet.texts(row)
        under_head = table is not None and bool(table.rows or table.head_rows) and not titles
        if table is not None and under_head and len(texts) == 1 and _opens_rows(sheet, row + 1, heads):
            table.sections[row] = texts[0]
            continue
        titles += texts
    for one in tables:
        _read_heads(sheet, one)
    return Layout(list(_without_labels_alone(sheet, tables)), pairs, titles)


def _without_labels_alone(sheet: Sheet, tables: Sequence[Table]) -> Iterator[Table]:
    """The tables, but labels over one row of values alone are labels of the table after them."""
    titles: list[Said] = []
    pairs: list[Pair] = []
    for index, table in enumerate(tables):
        heads = [said for found in table.heads.values() for said in found]
        alone = bool(heads) and len(table.rows) == 1 and all(is_label(said) in PAIRED for said in heads)
        if alone and not table.over and index + 1 < len(tables):
            titles += table.titles
            pairs += table.pairs
            pairs += [
                Pair(
                    is_label(found[-1]),
                    (table.rows[0], column),
                    sheet.cells[table.rows[0], column],
                    found[-1],
                )
                for column, found in table.heads.items()
                if (table.rows[0], column) in sheet.cells
            ]
            continue
        table.titles, table.pairs = titles + table.titles, pairs + table.pairs
        titles, pairs = [], []
        yield table


def _opens_rows(sheet: Sheet, row: int, heads: set[int]) -> bool:
    """Whether rows of data begin right here, without a head of their own."""
    return row in sheet.by_row and row not in heads and _has_data(sheet, row) and not any(_pairs(sheet, row))


def _has_data(sheet: Sheet, row: int) -> bool:
    return any(
        sheet.kind((row, column)) in ("number", "mark", "date", "other") for column in sheet.by_row[row]
    )


def _pairs(sheet: Sheet, row: int) -> Iterator[Pair]:
    """The labels of a row whose value stands beside or below, or behind a colon."""
    taken: set[int] = set()
    columns = sheet.by_row[row]
    for index, column in enumerate(columns):
        if column in taken or sheet.kind((row, column)) != "text":
            continue
        at = sheet.said((row, column))
        name, colon, value = at.text.partition(":")
        if colon and value.strip():
            meaning = sheet.meaning_of(name)
            if meaning.label in PAIRED and not meaning.rest:
                yield Pair(meaning.label, (row, column), value.strip(), Said(at.cell, name, meaning))
                continue
        label = at.meaning.label
        if label not in PAIRED or at.meaning.rest or at.meaning.facts:
            continue
        beside = columns[index + 1] if index + 1 < len(columns) else 0
        if beside and _fits(sheet, label, (row, beside)):
            taken.add(beside)
            yield Pair(label, (row, beside), sheet.cells[row, beside], at)
        elif _fits(sheet, label, (row + 1, column)) and not _fits(sheet, label, (row + 2, column)):
            yield Pair(label, (row + 1, column), sheet.cells[row + 1, column], at)


def _fits(sheet: Sheet, label: str, cell: Cell) -> bool:
    """Whether a cell can be the value of a label."""
    kind = sheet.kind(cell)
    if label == "date":
        return kind == "date"
    if label in ("counter_h", "temperature_c"):
        return kind == "number"
    if label == "engine" and kind == "number":
        return True
    meaning = sheet.said(cell).meaning
    named = label == "engine" and meaning.label in ("", "engine") and set(meaning.facts) == {"where"}
    return kind == "text" and (not meaning.known or named)  # "Port main engine" is a name


def _goes_on(sheet: Sheet, table: Table, row: int) -> bool:
    """Whether a row after a gap tells its place as the rows before it do."""

    def told(at: int) -> set[str]:
        facts = {key for one in sheet.texts(at) for key in one.meaning.facts} | {
            "nothing" for one in sheet.texts(at) if one.meaning.nothing
        }
        first = (at, sheet.by_row[at][0])
        return facts | {"position"} if sheet.place_number(first) or sheet.kind(first) == "date" else facts

    return told(row) in (told(table.rows[0]), told(table.rows[-1])) or "nothing" in told(row)


def _head_rows(sheet: Sheet, rows: Sequence[int]) -> set[int]:
    """The rows of heads: texts that mean something over rows of numbers, and rows that label columns."""
    likely = {row for row in rows if _like_a_head(sheet, row)}
    kept: set[int] = set()
    notes = {
        row
        for row in rows
        if _only_units(sheet, row) and len(sheet.by_row[row]) == 1 and sheet.by_row[row][0] == 1
    }
    rows = [row for row in rows if row not in notes]
    for row, following in reversed([*pairwise(rows), (rows[-1], 0)] if rows else []):
        units = _only_units(sheet, row) and row - 1 in likely
        if row not in likely and not units:
            continue
        under = _below_section(sheet, following)
        if (following in kept and following == row + 1) or (
            following and following <= row + 2 and _stands_over(sheet, row, under)
        ):
            kept.add(row)
    return kept


def _below_section(sheet: Sheet, row: int) -> int:
    """The row itself; below a text that stands alone in it, such as ``Upper shells``, the next."""
    alone = row in sheet.by_row and len(sheet.texts(row)) == len(sheet.by_row[row]) == 1
    return row + 1 if alone and row + 1 in sheet.by_row else row


def _stands_over(sheet: Sheet, row: int, following: int) -> bool:
    """Whether numbers, dates or marks stand under texts or numbers of a row."""
    filled = {column for column in range(1, max(sheet.by_row[row]) + 1) if sheet.said((row, column)).text}
    under = {c for c in sheet.by_row[following] if sheet.kind((following, c)) in ("number", "mark", "date")}
    return len(filled & under) > 0


def _only_units(sheet: Sheet, row: int) -> bool:
    texts = sheet.texts(row)
    return len(texts) == len(sheet.by_row[row]) and all(set(one.meaning.facts) == {"unit"} for one in texts)


def _like_a_head(sheet: Sheet, row: int) -> bool:
    columns = sheet.by_row[row]
    texts = sheet.texts(row)
    kinds = [sheet.kind((row, column)) for column in columns]
    if _label_run(sheet, row) or _place_run(sheet, row):
        return True
    if any(kind in ("number", "date", "mark", "other") for kind in kinds):
        return False
    if not _over_a_list(sheet, row) and any(True for _ in _pairs_beside(sheet, row)):
        return False
    spans = {sheet.covered.get((row, column)) for column in columns}
    meant = [one for one in texts if one.meaning.facts or one.meaning.label or one.meaning.nothing]
    return bool(meant) and (len(texts) >= 2 or (spans != {None} and columns[0] > 1))


def _over_a_list(sheet: Sheet, row: int) -> bool:
    """Whether a row of texts heads the two rows after it, cell by cell: then no text is the value of another."""
    columns, names = sheet.by_row[row], sheet.texts(row)
    below = [sheet.by_row.get(row + step, []) for step in (1, 2)]
    if len(columns) < 3 or any(len(set(columns) & set(one)) < 3 for one in below):
        return False
    labels = [one for step in (1, 2) for one in sheet.texts(row + step) if one.meaning.label in PAIRED]
    numbers = any(sheet.kind((row + 1, column)) == "number" for column in columns)
    return numbers and not labels and any(one.meaning.label in PAIRED for one in names)


def _pairs_beside(sheet: Sheet, row: int) -> Iterator[Pair]:
    return (pair for pair in _pairs(sheet, row) if pair.cell[0] == row)


def _place_run(sheet: Sheet, row: int) -> list[int]:
    """The columns of a row that holds the numbers of places: one after the other, with texts beside."""
    numbers = [c for c in sheet.by_row[row] if sheet.kind((row, c)) == "number"]
    places = [sheet.place_number((row, column)) for column in numbers]
    if (
        len(places) < 3
        or not all(places)
        or any(sheet.kind((row, c)) in ("date", "mark", "other") for c in sheet.by_row[row])
    ):
        return []
    steps = {int(b) - int(a) for a, b in pairwise(places)}
    return numbers if steps in ({1}, {-1}) else []


def _label_run(sheet: Sheet, row: int) -> tuple[str, list[int]] | None:
    """A row such as ``Date | 2015-03-24 | 2017-09-12``: its label and the columns it speaks of."""
    columns = sheet.by_row[row]
    at = sheet.said((row, columns[0]))
    label, cells = at.meaning.label, columns[1:]
    if label not in ("date", "counter_h") or at.meaning.rest or len(cells) < 2:
        return None
    fitting = [column for column in cells if _fits(sheet, label, (row, column))]
    return (label, fitting) if len(fitting) == len(cells) and not _place_run(sheet, row) else None


def _read_heads(sheet: Sheet, table: Table) -> None:
    """The texts over each column."""
    width = {column for row in (*table.head_rows, *table.rows) for column in sheet.by_row[row]}
    last = max(width, default=0)
    for row in table.head_rows:
        run, places = _label_run(sheet, row), _place_run(sheet, row)
        if run:
            for column in run[1]:
                table.over.setdefault(column, {})[run[0]] = (row, column)
            continue
        for column in places:
            table.over.setdefault(column, {})["position"] = (row, column)
        carried: Said | None = None
        merged = any(first[0] == row for first in sheet.covered.values())
        lowest = row == table.head_rows[-1] or _only_units(sheet, row)
        for column in range(1, last + 1):
            said = sheet.said((row, column))
            if column in places or sheet.kind(said.cell) != "text":
                said = Said((0, 0), "", Meaning())
            if said.text:
                carried = said
            elif carried is not None and not merged and not lowest and column not in places:
                said = carried
            if said.text and (row == said.cell[0] or said not in table.heads.get(column, [])):
                table.heads.setdefault(column, []).append(said)


def is_label(said: Said) -> str:
    """The column of the table that a head names for the cells below it; nothing for facts of a value."""
    return said.meaning.label if not said.meaning.rest and said.meaning.label not in (*PLACE, "value") else ""
