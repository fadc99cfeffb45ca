"""The door to every kind of records: a folder of CSV files, a workbook, a record book."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast.clock import day_of
from wearcast.errors import WrongUse

if TYPE_CHECKING:
    from wearcast.queries import Query
    from wearcast.records.records import RecordSet


def read(source: str | Path, run_date: date | str | None = None) -> RecordSet:
    """A record set from a folder of CSV files, an .xlsx workbook, a `.book` file or a `postgresql://` URL.

    Parameters
    ----------
    source : str or Path
        The folder, the workbook, or the record book by its file or URL. A password is best kept out of the URL, in
        the environment or in `.pgpass`.
    run_date : date or str, optional
        Nothing may be dated after it; today (or ``SOURCE_DATE_EPOCH``) if left out.

    Returns
    -------
    RecordSet
        The understood rows of every table, and all faults of all tables together. Rows of a book are numbered by
        their ids.

    Raises
    ------
    WrongUse
        If there is no such source, or it is of no kind that can be read.
    """
    from wearcast.book.address import is_book

    if not isinstance(source, str | Path):
        raise WrongUse(f"{type(source).__name__} is no place to read records from; give a path or a URL.")
    run_date = None if run_date is None else day_of(run_date)
    if is_book(source):
        from wearcast.book.read import read as read_book

        return read_book(source, run_date)
    from wearcast.records.read import read as read_records

    return read_records(source, run_date)


def stops_since(book: str | Path, imports: Sequence[int]) -> list[Query]:
    """What would stop a forecast, of the rows that some imports brought into a book.

    Parameters
    ----------
    book : str or Path
    imports : sequence of int

    Returns
    -------
    list of Query
        The refusals a forecast would meet, those of the rows of these imports alone.
    """
    from dataclasses import replace

    from wearcast.book.read import read as read_book
    from wearcast.errors import InputRefused
    from wearcast.lives.build import build

    records = read_book(book)
    try:
        found: Sequence[Query] = build(replace(records, faults=()), leave_out_faulty=True).left_out
    except InputRefused as refused:
        found = refused.faults
    except WrongUse:
        return []  # nothing to forecast yet
    brought = set(imports)
    return [
        fault
        for fault in found
        if any(number in brought for _, _, number in records.origins[fault.table].of(fault.rows))
    ]


def day_before_last_import(source: str | Path) -> date | None:
    """The last day on which a book stood as it did before what was added last; None of other records, or of one day."""
    from wearcast.book.address import address_of, is_book

    if not is_book(source):
        return None
    from wearcast.book.connect import reading
    from wearcast.book.heads import heads_of

    with reading(address_of(source)) as connection:
        days = sorted({date.fromisoformat(head.at[:10]) for head in heads_of(connection)})
    return days[-2] if len(days) > 1 else None


def records_from(records: RecordSet | str | Path) -> RecordSet:
    """A record set as it is, or read from where it lies.

    Parameters
    ----------
    records : RecordSet, str or Path

    Returns
    -------
    RecordSet

    Raises
    ------
    WrongUse
        If it is neither a record set nor a place to read one from.
    """
    from wearcast.records.records import RecordSet

    return records if isinstance(records, RecordSet) else read(records)


def original_files(source: str | Path) -> dict[str, bytes]:
    """The files of a record set by name, byte for byte; of a book every file ever added, by number of its import."""
    from wearcast.book.address import is_book
    from wearcast.book.originals import of_book, of_folder_or_workbook

    return of_book(source) if is_book(source) else of_folder_or_workbook(Path(source))
