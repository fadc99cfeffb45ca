"""Adding a record set to a book: all of it or nothing, and of what the book holds already nothing again."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast import clock
from wearcast.book.address import Address, address_of, is_book
from wearcast.book.canonical import canonical
from wearcast.book.connect import writing
from wearcast.book.heads import Head, heads_of, last_digest
from wearcast.book.news import News, what_is_new
from wearcast.book.originals import as_read, bytes_of
from wearcast.book.read import held_after, in_their_files, understood
from wearcast.book.write import NewImport, OriginalFile, write_import
from wearcast.door.files import entries
from wearcast.errors import InputRefused, WrongUse
from wearcast.queries import Query
from wearcast.records.cells import visible
from wearcast.records.found import Found
from wearcast.records.grids import Grid
from wearcast.records.read import open_source, record_set_of
from wearcast.records.tables import TABLES

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class Added:
    """What an import added.

    Attributes
    ----------
    import_id : int or None
        None where the book held everything already and nothing was written.
    digest : str
        The book's last digest.
    rows, already, differing : dict of str to int
        For each table how many rows were added, how many the book held, and how many of those added say another
        value of a reading it holds.
    said : tuple of str
        What else happened, in sentences.
    """

    import_id: int | None
    digest: str
    rows: dict[str, int]
    already: dict[str, int]
    differing: dict[str, int]
    said: tuple[str, ...]


def add(
    book: str | Path,
    records: str | Path,
    by: str,
    mapping: str | Path | None = None,
    run_date: date | None = None,
) -> Added:
    """Add a folder of CSV files or a workbook to a book, in one transaction.

    Parameters
    ----------
    by : str
        Who adds it.
    mapping : path, optional
        A file that says how the tables stand in a sheet of another layout.

    Raises
    ------
    InputRefused
        If a row cannot be used, alone or beside what the book holds; nothing is added then.
    WrongUse, OutputFailed
        If there is no such book or it cannot be written; nothing is added then.
    """
    (added,) = add_all(book, [records], by, mapping, run_date)
    return added


def add_all(
    book: str | Path,
    sources: Sequence[str | Path],
    by: str,
    mapping: str | Path | None = None,
    run_date: date | None = None,
    dry_run: bool = False,
) -> list[Added]:
    """Add several folders or files to a book, each as an import, in one transaction: all of them or none.

    Parameters
    ----------
    dry_run : bool
        Do everything but keep nothing.

    Raises
    ------
    InputRefused, WrongUse, OutputFailed
        As `add` does, with the faults of all sources together; nothing is added then.
    """
    address, signed = address_of(book), signature(by)
    ready = _ready(sources, mapping, run_date)
    added: list[Added] = []
    try:
        with writing(address) as connection:
            before = heads = heads_of(connection)
            for source, grids, corrections, originals in ready:
                news = what_is_new(connection, address, heads, grids, corrections, originals)
                if not news.grids:
                    added.append(_added(None, last_digest(heads), news))
                    continue
                at, said = after(heads)
                news.said += said
                new = NewImport("records", signed, at, source.name, originals, news.grids, news.already)
                head = write_import(connection, heads, new)
                heads = [*heads, head]
                added.append(_added(head, head.digest, news))
            if len(heads) > len(before):
                refuse_what_misfits(connection, address, before, heads, run_date)
            if dry_run:
                raise _NothingKept
    except _NothingKept:
        pass
    return added


class _NothingKept(Exception):
    """Undoes what a dry run wrote."""


def sources_in(paths: Sequence[str | Path], mapped: bool) -> list[str | Path]:
    """What is to be added: of a folder that is no record set, or that is read by a mapping, each sheet in it."""
    found: list[str | Path] = []
    for given in paths:
        path = Path(given)
        inside = entries(path) if path.is_dir() else []
        tables = [
            one for one in inside if one.stem.strip().casefold() in TABLES and one.suffix.casefold() == ".csv"
        ]
        endings = (".xlsx", ".csv") if mapped else (".xlsx",)
        sheets = [
            one for one in inside if one.suffix.casefold() in endings and not one.name.startswith(("~", "."))
        ]
        found += sheets if sheets and (mapped or not tables) else [given]
    return found


def _ready(
    sources: Sequence[str | Path], mapping: str | Path | None, run_date: date | None
) -> list[tuple[Path, dict[str, Grid], Grid | None, list[OriginalFile]]]:
    """Every source as written, and found sound by itself; the faults of all come together."""
    ready, faults = [], list[Query]()
    for source in sources:
        found, originals = _open(source, mapping)
        grids = {
            name: canonical(grid) for name, grid in found.grids.items()
        }  # before corrections change them
        try:
            _refuse(found, source, run_date)
        except InputRefused as refused:
            faults += refused.faults
        ready.append((Path(source), grids, found.grids.get("corrections"), originals))
    if faults:
        raise InputRefused(faults)
    return ready


def signature(by: str) -> str:
    """A name that says who; never empty, and nothing but letters, digits and signs that are seen."""
    name = " ".join(by.split())
    if not name:
        raise WrongUse("--by is empty; say who adds this, as it shall stand in the book.")
    if not name.isprintable():
        raise WrongUse(f"--by holds a sign that cannot be seen ({visible(name)}); write the name alone.")
    return name


def now() -> str:
    """This moment in UTC, or that of ``SOURCE_DATE_EPOCH``."""
    stamp = os.environ.get("SOURCE_DATE_EPOCH", "")
    if stamp:
        clock.run_date()  # refuses a stamp that is no date
    moment = datetime.fromtimestamp(int(stamp), tz=UTC) if stamp else datetime.now(tz=UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def after(heads: Sequence[Head]) -> tuple[str, list[str]]:
    """When the next import is: now, but never before the one it follows; and what is to be said of the clock."""
    at = now()
    if not heads or at >= heads[-1].at:
        return at, []
    return heads[-1].at, [
        f"The clock of this machine says {at}, before the last import ({heads[-1].at}): taken down under that time. "
        "Set the clock; or that of whoever made the last import was ahead."
    ]


def refuse_what_misfits(
    connection: Connection,
    address: Address,
    heads: Sequence[Head],
    with_new: Sequence[Head],
    run_date: date | None,
) -> None:
    """Read the book as it would be, and refuse what cannot be used beside what it held.

    A table that no book needs to begin with, such as limits still to come, is no fault here.
    """
    held = held_after(connection, address, with_new)
    faults = [one for one in understood(held, address, run_date).faults if one.kind != "missing_table"]
    if not faults:
        return
    before = {(one.kind, one.table, one.rows, one.column)
              for one in understood(held_after(connection, address, heads), address, run_date).faults}  # fmt: skip
    new = [one for one in faults if (one.kind, one.table, one.rows, one.column) not in before]
    if new:
        raise InputRefused(in_their_files(new, held))


def _open(records: str | Path, mapping: str | Path | None) -> tuple[Found, list[OriginalFile]]:
    if is_book(records):
        raise WrongUse("A book cannot be added to a book. Export it to a folder first, and add that.")
    path = Path(records)
    try:
        path.name.encode()
    except UnicodeEncodeError:
        raise WrongUse(f"{visible(path.name, 200)}: the name is no text in UTF-8; rename it.") from None
    if mapping is None:
        found = open_source(path)
        return found, as_read(path, tuple(found.files))
    from wearcast.records.mapping import apply_mapping, read_mapping

    found = apply_mapping(read_mapping(Path(mapping)), path)
    how = OriginalFile(Path(mapping).name, "mapping", bytes_of(Path(mapping)))
    return found, [*as_read(path, tuple(found.files)), how]


def _refuse(found: Found, records: str | Path, run_date: date | None) -> None:
    """Refuse what cannot be used by itself. Engines apart: the book may hold those this source does not name."""
    engines = {name: grid for name, grid in found.grids.items() if name == "engines"}
    rest = {name: grid for name, grid in found.grids.items() if name != "engines"}
    faults: list[Query] = []
    for grids, said in ((rest, found.faults), (engines, [])):
        part = Found(found.kind, found.files, grids, list(said), [], found.names, found.refused)
        if grids or said:
            faults += record_set_of(part, str(records), run_date, part=True).faults
    if not faults and not found.grids:
        faults += record_set_of(found, str(records), run_date, part=True).faults
    if faults:
        raise InputRefused(faults)


def _added(head: Head | None, digest: str, news: News) -> Added:
    rows = {grid.table: len(grid.numbers) for grid in news.grids} if head else {}
    return Added(head.id if head else None, digest, rows, news.already, news.differing, tuple(news.said))
