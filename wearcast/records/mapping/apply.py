"""From another's sheet, by its mapping, to a table of the record set."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from wearcast.queries import Query
from wearcast.records.cells import did_you_mean, visible
from wearcast.records.found import Found
from wearcast.records.gathered import Row
from wearcast.records.mapping.blocks import parts_of
from wearcast.records.mapping.given import grid_of
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.patterns import matched, names_in
from wearcast.records.mapping.rows import Made, rows_of
from wearcast.records.mapping.sheets import RawFile, RawSheet, raw_file
from wearcast.records.tables import TABLES


def apply_mapping(mapping: Mapping, path: Path) -> Found:
    """The table a mapping finds in a file, with every fault met.

    Raises
    ------
    WrongUse
        If there is no such file, or it is neither a workbook nor CSV.
    """
    found = Found("sheet")
    opened = raw_file(path, mapping.separator)
    found.files += [opened.file] if opened.file else []
    found.names += [sheet.name for sheet in opened.sheets]
    found.faults += opened.faults
    sheets = [] if opened.faults else _sheets(mapping, opened, path.name, found)
    rows: list[Row] = []
    for sheet, said in sheets:
        made = _rows(mapping, sheet, said)
        rows += made.rows
        found.faults += made.faults
        if made.unused:
            place = f"{path.name}, sheet {visible(sheet.name)}" if sheet.name else path.name
            unused = ", ".join(visible(text) for text in made.unused)
            found.notes.append(f"{place}: not used by the mapping {mapping.name}: {unused}.")
    if found.faults:
        found.refused.add(mapping.table)
    elif rows:
        found.grids[mapping.table] = grid_of(mapping, rows, sheets[0][0])
    else:
        found.faults.append(
            fault(
                mapping,
                sheets[0][0],
                "no row with anything in it below the headings",
                "Look at header_row, first_row and last_row of the mapping.",
            )
        )
    return found


def _sheets(
    mapping: Mapping, opened: RawFile, file: str, found: Found
) -> list[tuple[RawSheet, dict[str, str]]]:
    """The sheets a mapping is for, each with what its name says."""
    if not mapping.sheet or not opened.sheets[0].name:
        if len(opened.sheets) > 1:
            names = ", ".join(visible(sheet.name) for sheet in opened.sheets[:12])
            found.faults.append(
                fault(
                    mapping,
                    RawSheet(file, ""),
                    f"{len(opened.sheets)} sheets ({names})",
                    f'Name the one that is meant in {mapping.name}: sheet = "...".',
                )
            )
            return []
        return [(opened.sheets[0], {})]
    chosen = [
        (sheet, dict(said))
        for sheet in opened.sheets
        if (said := matched(mapping.sheet, sheet.name)) is not None
    ]
    if not chosen:
        there = [sheet.name for sheet in opened.sheets]
        listed = ", ".join(visible(name) for name in there[:12])
        hint = did_you_mean(mapping.sheet, there)
        found.faults.append(
            fault(
                mapping,
                RawSheet(file, ""),
                f"no sheet {visible(mapping.sheet)}; the sheets are {listed}",
                f"{hint} Correct sheet in {mapping.name}.".strip(),
            )
        )
    for sheet, _ in chosen:
        if len(chosen) > 1 and mapping.sheet.count("{") == 0:
            found.faults.append(fault(mapping, sheet, "two sheets of that name", "Rename one."))
    return chosen


def _rows(mapping: Mapping, sheet: RawSheet, said: dict[str, str]) -> Made:
    laid = sheet.turned() if mapping.turned else sheet
    parts, faults = parts_of(mapping, laid)
    faults += _not_given(mapping)
    rows: list[Row] = []
    unused: dict[str, None] = {}
    for part in parts:
        made = rows_of(mapping, laid, replace(part, said=said | part.said))
        rows += made.rows
        faults += made.faults
        unused |= dict.fromkeys(made.unused)
    in_sheet = [replace(one, table=mapping.table, file=sheet.file, sheet=sheet.name) for one in _once(faults)]
    return Made(rows, in_sheet, list(unused))


def _not_given(mapping: Mapping) -> list[Query]:
    """Columns that must be filled and that the mapping takes from nowhere."""
    given = {*mapping.columns, *mapping.cells, *(name for name, text in mapping.constants.items() if text)}
    given |= {*names_in(mapping.sheet), *(names_in(mapping.block.title) if mapping.block else ())}
    of_values = [
        {"value", *names_in(one.heading), *(name for name, text in one.constants.items() if text)}
        for one in mapping.values
    ]
    given |= set.intersection(*of_values) if of_values else set()
    return [
        Query(
            "missing_column",
            f"the mapping {mapping.name} does not say where {column.name} comes from.",
            f"Fill in {column.name} under [columns], [cells] or [constants] in {mapping.name}.",
            column=column.name,
        )
        for column in TABLES[mapping.table].columns
        if column.filled and column.name not in given
    ]


def _once(faults: list[Query]) -> list[Query]:
    """Each fault once, though many blocks may have it."""
    return list({(one.text, one.rows): one for one in faults}.values())


def fault(
    mapping: Mapping, sheet: RawSheet, found: str, suggestion: str, row: int = 0, kind: str = "missing_table"
) -> Query:
    """A refusal of what a mapping does not find in a sheet."""
    return Query(
        kind=kind,
        text=f"by the mapping {mapping.name}: found {found}.",
        suggestion=suggestion,
        table=TABLES[mapping.table].name,
        rows=(row,) if row else (),
        file=sheet.file,
        sheet=sheet.name,
        found=found,
        expected="what the mapping says",
    )
