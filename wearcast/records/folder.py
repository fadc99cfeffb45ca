"""A folder of CSV files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wearcast.door.bounds import TurnedAway
from wearcast.door.files import csv_lines, entries, streamed
from wearcast.records.cells import visible
from wearcast.records.csv_files import read_csv
from wearcast.records.found import Found
from wearcast.records.records import InputFile
from wearcast.records.tables import TABLES, Table

_TABLE_LIKE = frozenset({".xlsx", ".xlsm", ".xls", ".ods", ".tsv", ".tab"})
"""Files that may be taken for tables of the record set; others (a README, a picture) need no word."""


def read_folder(folder: Path) -> Found:
    """The tables of a folder; hidden files and folders in it are passed over."""
    found = Found("file")
    by_table: dict[str, list[Path]] = {}
    for path in entries(folder):
        table = path.stem.strip().casefold()
        if path.suffix.casefold() != ".csv":
            if path.suffix.casefold() in _TABLE_LIKE or table in TABLES:
                advice = "To read a workbook, name it instead of its folder."
                found.notes.append(f"{visible(path.name)}: not a CSV file; it was not read. {advice}")
            continue
        found.names.append(path.name)
        if table in TABLES:
            by_table.setdefault(table, []).append(path)
        else:
            found.notes.append(
                f"{visible(path.name)}: no table of a record set has this name; it was not read."
            )
    for name, same in by_table.items():
        _read_file(found, TABLES[name], same)
    return found


def _read_file(found: Found, table: Table, paths: Sequence[Path]) -> None:
    if len(paths) > 1:
        names = " and ".join(path.name for path in paths)
        found.refuse(
            table, names, "", f"{len(paths)} files are the table {table.name}", "Keep the right one."
        )
        return
    path = paths[0]
    try:
        with streamed(path, csv_lines()) as (file, digest):
            found.files.append(InputFile(path.name, digest))
            grid, faults = read_csv(file, path.name, table)
    except TurnedAway as away:
        found.refuse(table, path.name, "", away.found, away.advice)
        return
    found.faults += faults
    if grid is None:
        found.refused.add(table.name)
    else:
        found.grids[table.name] = grid
