"""CSV files as text, gone through block by block: whether they are UTF-8, and their records."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator
from typing import IO, Any

from wearcast.queries import Query
from wearcast.records.cells import visible
from wearcast.records.faults import unreadable
from wearcast.records.tables import Table

BLOCK = 1 << 20

START = 200_000
"""Bytes looked at for the layout."""

SAVE_AS_UTF8 = "Save it again as CSV in UTF-8."

_WRONG = (
    ((b"PK\x03\x04", b"\xd0\xcf\x11\xe0"), "this is a workbook under the name of a CSV file",
     "Save the sheet as CSV in UTF-8."),
    ((b"\xff\xfe", b"\xfe\xff"), "the file is in UTF-16; expected UTF-8", SAVE_AS_UTF8),
)  # fmt: skip
"""How files begin that are no CSV in UTF-8."""


def trouble_in_text(opened: IO[bytes], file: str, table: Table | None) -> Query | None:
    """Why an open file is no text in UTF-8, or holds none; nothing where it does."""
    opened.seek(0)
    decoder = codecs.getincrementaldecoder("utf-8")()
    lines, tail, blank, first = 1, b"", True, True
    while block := opened.read(BLOCK):
        if first:
            for starts, found, advice in _WRONG:
                if block.startswith(starts):
                    return unreadable(table, file, "", found, advice)
            first = False
        blank = blank and not block.strip()
        if b"\x00" in block:
            found = "the file holds zero bytes, so it is no text in UTF-8"
            return unreadable(table, file, "", found, SAVE_AS_UTF8)
        held = decoder.getstate()[0]
        try:
            decoder.decode(block)
        except UnicodeDecodeError as error:
            kept = tail[: len(tail) - len(held)]
            before = kept + error.object[: error.start]
            return _no_utf8(lines + _ends(before) - _ends(kept), before, error, file, table)
        lines += _ends(tail[-1:] + block) - _ends(tail[-1:])
        tail = (tail + block)[-START:]
    try:
        decoder.decode(b"", final=True)
    except UnicodeDecodeError as error:
        return _no_utf8(lines, tail[: len(tail) - len(error.object)], error, file, table)
    if blank:
        return unreadable(
            table, file, "", "the file is empty", "Fill it, or put the right file in its place."
        )
    return None


def _ends(data: bytes) -> int:
    """Ends of lines, of any of the three kinds."""
    return data.count(b"\n") + data.count(b"\r") - data.count(b"\r\n")


def _no_utf8(lines: int, before: bytes, error: UnicodeDecodeError, file: str, table: Table | None) -> Query:
    """`before` is what stands before the byte, from some place on."""
    near = visible(before.replace(b"\r", b"\n").rpartition(b"\n")[2].decode("utf-8", "replace")[-30:])
    sign = error.object[error.start]
    found = f'line {lines} holds a byte that is no UTF-8 text (0x{sign:02X} after "{near}")'
    return unreadable(table, file, "", found, SAVE_AS_UTF8)


def start_of(opened: IO[bytes]) -> str:
    """The first lines of an open text."""
    opened.seek(0)
    return opened.read(START).decode("utf-8-sig", "ignore")


def records(opened: IO[bytes], separator: str, skipinitialspace: bool = True) -> Iterator[list[str]]:
    """The records of an open CSV file from its beginning.

    Raises
    ------
    csv.Error
        Where quotes do not pair.
    """
    opened.seek(0)
    # newline="" leaves line ends to the csv module, which knows those inside quotes; CR alone ends a line too
    lent: Any = _Lent(opened)
    text = io.TextIOWrapper(lent, encoding="utf-8-sig", newline="")
    return csv.reader(text, delimiter=separator, strict=True, skipinitialspace=skipinitialspace)


class _Lent(io.BufferedIOBase):
    """An open file that is not closed by who reads from it."""

    def __init__(self, opened: IO[bytes]) -> None:
        self._opened = opened

    def readable(self) -> bool:
        return True

    def read(self, size: int | None = -1) -> bytes:
        return self._opened.read(-1 if size is None else size)

    read1 = read
