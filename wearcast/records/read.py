"""Reading a record set: a folder of CSV files or one workbook, every fault of every table gathered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from wearcast import clock
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import kind_of
from wearcast.errors import WrongUse
from wearcast.queries import Query
from wearcast.records.between import check_between
from wearcast.records.cells import Notation, visible
from wearcast.records.checks import check
from wearcast.records.corrections import correct
from wearcast.records.drafts import PLACE_COLUMNS, Draft
from wearcast.records.faults import cell_fault, missing_table, no_table
from wearcast.records.folder import read_folder
from wearcast.records.found import Found
from wearcast.records.frames import FROM_CELL, frame
from wearcast.records.grids import Grid, GridColumn, letter, no_codes
from wearcast.records.origins import at_origin
from wearcast.records.records import RecordSet
from wearcast.records.tables import TABLES, Table
from wearcast.records.understand import draft

if TYPE_CHECKING:
    from wearcast.records.mapping import Mapping


def read(
    source: str | Path, run_date: date | None = None, part: bool = False, mapping: Mapping | None = None
) -> RecordSet:
    """A record set from a folder of CSV files or an .xlsx workbook; a filled form for the ship is a part of one.

    Parameters
    ----------
    source : str or Path
        The folder or workbook.
    run_date : date, optional
        Nothing may be dated after it; today (or ``SOURCE_DATE_EPOCH``) if left out.
    part : bool
        The source is only a part, to be added to what is known elsewhere: no table must be there, but one.
    mapping : Mapping, optional
        How the tables stand in a file of another's making (`wearcast.records.mapping.read_mapping`).

    Returns
    -------
    RecordSet
        The understood rows of every table, and all faults of all tables together.

    Raises
    ------
    WrongUse
        If there is no such path, or it is neither a folder nor an .xlsx.
    """
    if mapping is None:
        found = open_source(source)
    else:
        from wearcast.records.mapping.apply import apply_mapping

        found = apply_mapping(mapping, Path(source))
    return record_set_of(found, str(source), run_date, part)


def record_set_of(found: Found, source: str, run_date: date | None = None, part: bool = False) -> RecordSet:
    """The record set that tables as found mean; `read` says what the arguments are."""
    day = run_date or clock.run_date()
    faults, notes = list(found.faults), list(found.notes)
    if not part:
        for table in TABLES.values():
            if table.required and table.name not in found.grids and table.name not in found.refused:
                faults.append(missing_table(table, source, found.names, found.kind))
    elif not found.grids and not faults:
        faults.append(no_table(source, found.names, found.kind))
    drafts: dict[str, Draft] = {}
    if "corrections" in found.grids:
        drafts["corrections"] = draft(found.grids["corrections"], day)
    applied = correct(found.grids, drafts.get("corrections"))
    for name in TABLES:
        if name in applied.grids and name != "corrections":
            drafts[name] = draft(applied.grids[name], day)
            check(drafts[name])
    notes += check_between(drafts)
    for name, made in drafts.items():
        for fault in made.faults:
            faults += at_origin(_with_place(made, fault), made.grid)
        faults += _no_rows(made) if name in ("readings", "engines", "limits") and not part else []
        notes += _unknown_columns(made)
    if part and found.grids and not faults and not any(len(made.stands) for made in drafts.values()):
        faults += [fault for made in drafts.values() for fault in _no_rows(made)]
    tables = {
        name: frame(drafts.get(name) or draft(_nothing(table), day), applied.history.get(name))
        for name, table in TABLES.items()
    }
    withdrawn = {}
    for name, grid in applied.withdrawn.items():
        gone = draft(grid, day)
        check(gone)
        withdrawn[name] = frame(gone, applied.history.get(name))
    return RecordSet(
        source,
        tuple(found.files),
        tables,
        tuple(_in_order(faults)),
        tuple(notes + applied.notes),
        day,
        withdrawn=withdrawn,
    )


def open_source(source: str | Path) -> Found:
    """The tables of a folder or workbook as found, before any cell is understood; raises as `read` does."""
    path = Path(source)
    try:
        kind = kind_of(path)
        if kind == "folder":
            return read_folder(path)
    except TurnedAway as away:
        raise WrongUse(f"{visible(str(path), 200)}: {away}") from None
    if not kind:
        raise WrongUse(
            f"{path}: there is no such folder or file. Name a folder of CSV files or an .xlsx workbook."
        )
    if path.suffix.casefold() == ".xlsx":
        from wearcast.records.form_file import is_form, read_form
        from wearcast.records.workbook import read_workbook

        found = read_workbook(path)
        return read_form(path) if is_form(found.names) else found
    raise WrongUse(
        f"{path}: expected a folder of CSV files or an .xlsx workbook. Save another format as .xlsx first."
    )


def _nothing(table: Table) -> Grid:
    """An absent table: every column, no row."""
    columns = [GridColumn(column.name, letter(i), [], no_codes()) for i, column in enumerate(table.columns)]
    return Grid(table.name, "", "", columns, np.empty(0, np.int64), Notation())


def _no_rows(made: Draft) -> list[Query]:
    if len(made.stands) or not made.whole:
        return []
    text = f"{made.table.name} has column names and no rows; expected at least one."
    return [cell_fault(made.grid, (), "", "no rows", "at least one row", "Fill it in.", text=text)]


def _unknown_columns(made: Draft) -> list[str]:
    names = ", ".join(visible(column.name) for column in made.unknown if column.name != FROM_CELL)
    place = made.grid.file + (f", sheet {made.grid.sheet}" if made.grid.sheet else "")
    return [f"{place}: unknown columns kept as they are: {names}."] if names else []


def _with_place(made: Draft, fault: Query, most: int = 1000) -> Query:
    """Add vessel, engine and bearing where all rows of the fault share them, else the engines of its rows."""
    if not fault.rows or len(fault.rows) > most or fault.kind == "missing_column":
        return fault
    at = made.grid.positions(fault.rows)
    if not len(at):
        return fault
    shared: dict[str, Any] = {}
    for name in PLACE_COLUMNS:
        if name in made.values:
            values = set(made.values[name][at].tolist())
            shared[name] = values.pop() if len(values) == 1 else ""
    keys: tuple[tuple[str, str], ...] = ()
    if {"vessel", "engine"} <= made.values.keys() and not (shared["vessel"] and shared["engine"]):
        pairs = zip(made.values["vessel"][at].tolist(), made.values["engine"][at].tolist(), strict=True)
        keys = tuple(dict.fromkeys(pairs))
    return replace(fault, **shared, engines=keys)


def _in_order(faults: list[Query]) -> list[Query]:
    order = {name: index for index, name in enumerate(TABLES)}
    return sorted(faults, key=lambda fault: (order.get(fault.table, -1), fault.rows[:1], fault.file))
