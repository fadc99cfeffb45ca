"""The columns of a table: which tell the place, which hold a column of the record set, which hold values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from wearcast.records.mapping.layout import Said, Sheet, Table, is_label
from wearcast.records.mapping.meaning import PLACE


@dataclass
class Part:
    """Tables may stand side by side: one of them.

    Attributes
    ----------
    places : list of int
        The columns whose texts and numbers tell the place.
    labels : dict of int to str
        The columns that hold a column of the record set.
    values : list of int
        The columns of numbers.
    corner : list of Said
        The heads over the places: they hold for the whole part.
    """

    places: list[int] = field(default_factory=list)
    labels: dict[int, str] = field(default_factory=dict)
    values: list[int] = field(default_factory=list)
    corner: list[Said] = field(default_factory=list)


def parts_of(sheet: Sheet, table: Table) -> list[Part]:
    """The parts of a table from left to right; a gap parts them where places begin anew after it."""
    own = {column for row in (*table.head_rows, *table.rows) for column in sheet.by_row[row]}
    columns = sorted(own)
    parts: list[Part] = []
    for before, column in pairwise([0, *columns]):
        is_place = _tells_the_place(sheet, table, column)
        if not parts or (is_place and column > before + 1 and parts[-1].values):
            parts.append(Part())
        part = parts[-1]
        heads = table.heads.get(column, [])
        label = next((is_label(said) for said in reversed(heads) if is_label(said)), "")
        if column in table.over:
            part.values.append(column)
        elif label:
            part.labels[column] = label
        elif is_place:
            part.places.append(column)
            part.corner += heads
        elif any(sheet.kind((row, column)) in ("number", "mark", "other", "date") for row in table.rows) or (
            _of_values(heads) and any(sheet.kind((row, column)) for row in table.rows)
        ):
            part.values.append(column)
        elif heads and not any(sheet.kind((row, column)) for row in table.rows):
            part.corner += heads if not part.values else []
        elif not part.values:
            part.places.append(column)
    for part in parts:
        part.corner += [
            sheet.said((row, column))
            for row in table.head_rows
            for column in sheet.by_row[row][:1]
            if column in part.places and sheet.said((row, column)) not in part.corner
        ]
    return parts


def _of_values(heads: Sequence[Said]) -> bool:
    return bool({"quantity", "unit", "half", "where"} & {key for said in heads for key in said.meaning.facts})


def _tells_the_place(sheet: Sheet, table: Table, column: int) -> bool:
    """Whether a column tells places: texts that do, or whole numbers under a head that names them."""
    if column in table.over:
        return False
    cells = [(row, column) for row in table.rows if sheet.kind((row, column))]
    if not cells:
        return False
    heads = table.heads.get(column, [])
    facts = set(heads[-1].meaning.facts) if heads else set()  # one above may reach over all columns
    numbers = [sheet.place_number(cell) for cell in cells if sheet.kind(cell) == "number"]
    texts = [sheet.said(cell) for cell in cells if sheet.kind(cell) == "text"]
    if numbers and len(numbers) + len(texts) == len(cells) and all(numbers):
        named = bool(heads) and (heads[-1].meaning.label in PLACE or facts == {"bearing"})
        in_turn = not heads and {int(b) - int(a) for a, b in pairwise(numbers)} in ({1}, {-1}, {0, 1})
        return (named or in_turn) and not facts & {"quantity", "half", "where"}
    return len(texts) == len(cells) and any(
        said.meaning.facts or said.meaning.nothing or said.meaning.label for said in texts
    )


def told_by_row(sheet: Sheet, table: Table, part: Part, row: int) -> Iterator[tuple[int, Said | str]]:
    """Column by column what a row says of its place: a text, or the number of a place.

    A place that is left empty is the one above where another cell of the row tells the places apart.
    """
    filled = [column for column in part.places if sheet.kind((row, column)) or (row, column) in sheet.covered]
    for column in part.places:
        at = (row, column)
        if column not in filled and filled and row - 1 in table.rows:
            above = row
            while above - 1 in table.rows and not sheet.kind((above, column)):
                above -= 1
            at = (above, column)
        at = sheet.covered.get(at, at)
        number = sheet.place_number(at) if sheet.kind(at) == "number" else ""
        if number:
            yield column, number
        elif sheet.said(at).text:
            yield column, sheet.said(at)
