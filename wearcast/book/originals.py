"""The files that records came in, byte for byte."""

from __future__ import annotations

import hashlib
from pathlib import Path

from wearcast.book import schema
from wearcast.book.address import address_of
from wearcast.book.connect import reading
from wearcast.book.write import OriginalFile
from wearcast.door import files as door
from wearcast.door.bounds import TurnedAway
from wearcast.errors import OutputFailed, WrongUse
from wearcast.records.records import InputFile
from wearcast.records.tables import TABLES


def as_read(source: Path, files: tuple[InputFile, ...]) -> list[OriginalFile]:
    """The bytes of the files that were read.

    Raises
    ------
    OutputFailed
        If one has changed since it was read.
    """
    found = []
    for one in files:
        path = source / one.name if source.is_dir() else source
        data = bytes_of(path)
        if hashlib.sha256(data).hexdigest() != one.sha256:
            raise OutputFailed(f"{path}: the file changed while it was read. Nothing was added; try again.")
        found.append(OriginalFile(one.name, "records", data))
    return found


def bytes_of(path: Path) -> bytes:
    """A file byte for byte.

    Raises
    ------
    WrongUse
        If it cannot be read.
    """
    try:
        return door.bytes_of(path)
    except TurnedAway as away:
        raise WrongUse(f"{path}: {away}") from None


def of_folder_or_workbook(source: Path) -> dict[str, bytes]:
    """The files of a record set by name: the tables of a folder, or the workbook."""
    if not source.is_dir():
        return {source.name: bytes_of(source)}
    return {
        path.name: bytes_of(path)
        for path in door.entries(source)
        if path.suffix.casefold() == ".csv" and path.stem.strip().casefold() in TABLES
    }


def of_book(book: str | Path) -> dict[str, bytes]:
    """Every file ever added, as ``0001/readings.csv`` by the number of its import."""
    from sqlalchemy import select

    with reading(address_of(book)) as connection:
        f, c = schema.files.c, schema.contents.c
        query = select(f.import_id, f.role, f.name, c.data).join_from(
            schema.files, schema.contents, f.sha256 == c.sha256
        )
        return {
            f"{row.import_id:04d}/{'mapping/' if row.role == 'mapping' else ''}{row.name}": bytes(row.data)
            for row in connection.execute(query.order_by(f.id))
        }
