"""Correcting a book: new rows that name old ones by their ids; what was there stays and is shown struck through."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from wearcast.book.add import after, refuse_what_misfits, signature
from wearcast.book.address import address_of
from wearcast.book.connect import writing
from wearcast.book.corrected import by_ids, without_known
from wearcast.book.heads import heads_of, last_digest, last_ids
from wearcast.book.originals import as_read, bytes_of
from wearcast.book.schema import FIRST_ID
from wearcast.book.stored import stored_table
from wearcast.book.write import NewImport, OriginalFile, write_import
from wearcast.errors import InputRefused, WrongUse
from wearcast.records.csv_files import read_csv
from wearcast.records.found import Found
from wearcast.records.grids import Grid
from wearcast.records.read import open_source, record_set_of
from wearcast.records.records import InputFile
from wearcast.records.tables import TABLES


@dataclass(frozen=True)
class Corrected:
    """What a corrections file did: corrections taken down, those the book held already, and the last digest."""

    import_id: int | None
    digest: str
    corrections: int
    already: int
    said: tuple[str, ...] = ()


def correct(book: str | Path, corrections: str | Path, by: str, run_date: date | None = None) -> Corrected:
    """Take corrections down in a book, in one transaction.

    Parameters
    ----------
    corrections : path
        A CSV file of the corrections table, a workbook or a folder with one; ``row`` (or ``id``) is the id in the book.
    by : str
        Who enters them; who made each stands in its row.

    Raises
    ------
    InputRefused
        If one does not fit what stands in the book, or leaves something that cannot be used.
    """
    address, signed, path = address_of(book), signature(by), Path(corrections)
    grid, files = _open(path, run_date)
    with writing(address) as connection:
        heads = heads_of(connection)
        held = None
        if last_ids(heads)["corrections"] >= FIRST_ID:
            held = stored_table(connection, "corrections", address.name).grid
        mine = by_ids(grid)
        fresh = without_known(mine, held)
        already = len(mine.numbers) - len(fresh.numbers)
        if not len(fresh.numbers):
            return Corrected(None, last_digest(heads), 0, already)
        at, said = after(heads)
        new = NewImport("corrections", signed, at, path.name, files, [fresh], {"corrections": already})
        head = write_import(connection, heads, new)
        refuse_what_misfits(connection, address, heads, [*heads, head], run_date)
    return Corrected(head.id, head.digest, len(fresh.numbers), already, tuple(said))


def _open(path: Path, run_date: date | None) -> tuple[Grid, list[OriginalFile]]:
    """The corrections as found, and their file."""
    if path.is_file() and path.suffix.casefold() == ".csv":
        data = bytes_of(path)
        found = Found("file", [InputFile(path.name, hashlib.sha256(data).hexdigest())], names=[path.name])
        grid, faults = read_csv(io.BytesIO(data), path.name, TABLES["corrections"])
        if grid is None:
            raise InputRefused(faults)
    else:
        found = open_source(path)
        if found.faults and "corrections" not in found.grids:
            raise InputRefused(found.faults)
        if "corrections" not in found.grids:
            raise WrongUse(
                f"{path}: there is no table corrections in it; found: {', '.join(found.names) or 'none'}."
            )
        grid = found.grids["corrections"]
    grid = _by_id(grid)
    files = tuple(one for one in found.files if path.suffix.casefold() == ".xlsx" or one.name == grid.file)
    alone = Found(found.kind, [], {"corrections": grid}, [], [], found.names)
    faults = [
        one for one in record_set_of(alone, str(path), run_date, part=True).faults if not _of_rows(one.column)
    ]
    if faults:
        raise InputRefused(faults)
    return grid, [OriginalFile(one.name, "corrections", one.data) for one in as_read(path, files)]


def _by_id(grid: Grid) -> Grid:
    """A column headed ``id`` stands for ``row``: in a book they are the same."""
    names = {column.name.casefold() for column in grid.columns}
    if "row" in names or "id" not in names:
        return grid
    columns = [
        replace(column, name="row") if column.name.casefold() == "id" else column for column in grid.columns
    ]
    return replace(grid, columns=columns)


def _of_rows(column: str) -> bool:
    """Whether a fault of a correction is about the row it speaks of, which is not in this file."""
    return column == "table"
