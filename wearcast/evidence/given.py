"""What a pack is made from: the input files of a folder or workbook, or a copy of a record book."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from wearcast.book.address import is_book
from wearcast.errors import InputRefused
from wearcast.evidence.leaves import Leaf
from wearcast.sources import original_files, read
from wearcast.texts import csv_text

COPY = "records.book"
"""Name of the copy of a book that is no file."""


@dataclass(frozen=True)
class Given:
    """Records as they were given.

    Attributes
    ----------
    source : str
        As the user named them, for messages.
    entry : str
        Name of the one input file; empty where the input is a folder of them.
    inputs : mapping of str to bytes
        What the records are read from, by name.
    originals : mapping of str to bytes
        Of a book, the files its rows came in, by name and number of the import.
    """

    source: str
    entry: str
    inputs: Mapping[str, bytes]
    originals: Mapping[str, bytes] = field(default_factory=dict)


def given_by(source: str | Path) -> Given:
    """The input of a pack, byte for byte; a book is copied, with its whole chain, while others may write to it.

    Raises
    ------
    InputRefused
        If a table or column is missing, told by the place the user named.
    WrongUse
        If there is no such source.
    OutputFailed
        If the copy of a book does not verify.
    """
    if is_book(source):
        return _book(source)
    beyond_help = [fault for fault in read(source).faults if not fault.can_be_left_out]
    if beyond_help:
        raise InputRefused(beyond_help)
    path = Path(source)
    return Given(str(source), "" if path.is_dir() else path.name, original_files(source))


def _book(source: str | Path) -> Given:
    from wearcast.book.address import address_of
    from wearcast.book.backup import backup

    address = address_of(source)
    name = address.path.name if address.path else COPY
    with tempfile.TemporaryDirectory(prefix="wearcast-") as scratch:
        copy = Path(scratch) / name
        backup(source, copy)
        return Given(address.label, name, {name: copy.read_bytes()}, original_files(copy))


def book_leaves(source: Path) -> tuple[Leaf, ...]:
    """The chain of a record book: every import and correction with the digest after it; nothing for other records."""
    if not is_book(source):
        return ()
    from wearcast.book.address import address_of
    from wearcast.book.connect import reading
    from wearcast.book.heads import heads_of

    with reading(address_of(source)) as connection:
        heads = heads_of(connection)
    rows = [(one.id, one.kind, one.by_name, one.at, one.source, one.previous, one.digest) for one in heads]
    columns = ["import", "kind", "by", "at", "source", "previous_digest", "digest"]
    return (Leaf("data/book-chain.csv", csv_text(pd.DataFrame(rows, columns=columns)), "csv", ("import",)),)


def book_trouble(source: Path) -> str:
    """What is wrong with the chain of a book; empty where all holds, or where the records are no book."""
    if not is_book(source):
        return ""
    from wearcast.book.strange import refuse_strange
    from wearcast.book.verify import verify

    refuse_strange(source)
    return verify(source).trouble
