"""A book as a record set again: its tables as they came, and its corrections beside them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from wearcast.book.address import address_of
from wearcast.book.canonical import texts_of
from wearcast.book.connect import reading
from wearcast.book.heads import heads_of, known_on, last_digest
from wearcast.book.read import held_after
from wearcast.errors import WrongUse
from wearcast.records.grids import Grid
from wearcast.texts import MARKER, exact_csv


def export(book: str | Path, as_known_on: date | None = None) -> dict[str, str]:
    """The CSV files of the record set a book holds.

    Readings and events are written as they came, whole: the row of each is its id in the book, which is what the
    corrections name. Of engines, limits, windows and spares the rows in force are written.

    Parameters
    ----------
    as_known_on : date, optional
        Only what had been added by the end of that day (UTC).

    Raises
    ------
    WrongUse
        If the book is empty, or was then.
    """
    address = address_of(book)
    with reading(address) as connection:
        heads = heads_of(connection)
        if as_known_on is not None:
            heads = known_on(heads, as_known_on)
        if not heads:
            raise WrongUse(f"{address}: the book is empty; there is nothing to export.")
        held = held_after(connection, address, heads)
    files = {f"{name}.csv": csv_of(stored.grid) for name, stored in held.tables.items()}
    said = f"{address.name}, as known on {as_known_on.isoformat()}" if as_known_on else address.name
    files["about.txt"] = (
        f"Exported from the record book {said}.\n"
        f"Imports: {len(heads)}, the last of {heads[-1].at} by {heads[-1].by_name}.\n"
        f"Digest: {last_digest(heads)}\n"
        f"Where a column {MARKER} says yes, an apostrophe stands before cells that a spreadsheet would run; wearcast "
        "takes it off when it reads them.\n"
    )
    return files


def csv_of(grid: Grid) -> str:
    """A canonical grid as CSV; it reads back to cells exactly as they came."""
    columns = (texts_of(column).tolist() for column in grid.columns)
    return exact_csv([column.name for column in grid.columns], zip(*columns, strict=True))
