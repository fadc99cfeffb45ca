"""Where the data of a sheet begin and end: one table, or one below another."""

from __future__ import annotations

from dataclasses import dataclass, field

from wearcast.queries import Query
from wearcast.records.cells import text_of, visible
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.patterns import matched
from wearcast.records.mapping.sheets import RawSheet


@dataclass(frozen=True)
class Part:
    """Rows of headings, first and last row of data, and what the place itself says (`said`)."""

    header: tuple[int, ...]
    first: int
    last: int
    said: dict[str, str] = field(default_factory=dict)


def parts_of(mapping: Mapping, sheet: RawSheet) -> tuple[list[Part], list[Query]]:
    """The one part of a sheet, or its blocks from title to title."""
    end = min(mapping.last or sheet.last_row, sheet.last_row)
    if mapping.block is None:
        return [Part(mapping.header, mapping.first or max(mapping.header) + 1, end)], []
    titles = []
    for row in sorted({row for row, column in sheet.cells if column == mapping.block.column}):
        said = matched(mapping.block.title, text_of(sheet.cells[row, mapping.block.column]))
        if said is not None and row <= end:
            titles.append((row, dict(said)))
    if not titles:
        found = f'no cell "{visible(mapping.block.title)}" where titles of blocks stand'
        text = f"by the mapping {mapping.name}: found {found}."
        return [], [Query("missing_table", text, f"Correct [block] in {mapping.name}.", found=found)]
    ends = [row - 1 for row, _ in titles[1:]] + [end]
    parts = []
    for (row, said), last in zip(titles, ends, strict=True):
        header = tuple(row + number for number in mapping.header)
        first = row + mapping.first if mapping.first else max(header) + 1
        parts.append(Part(header, first, last, said))
    return parts, []
