"""ZIP files from outside, and the XML in them: bounded before unpacking, every error of it told as the file's."""

from __future__ import annotations

import lzma
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import IO
from xml.parsers import expat

from wearcast.door import bounds
from wearcast.door.bounds import SMALL_BYTES, TurnedAway
from wearcast.door.files import Stretches

BLOCK = 1 << 20
AGAIN = "Take an undamaged copy."
BROKEN = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, NotImplementedError, RuntimeError, OSError,
    ValueError, KeyError, OverflowError, struct.error,
)  # fmt: skip
"""What unpacking raises where the packed bytes are not what they say."""


@contextmanager
def opened(source: IO[bytes]) -> Iterator[zipfile.ZipFile]:
    """A ZIP file whose list of files is within bounds.

    Raises
    ------
    TurnedAway
        If it is none, or would grow beyond the bounds.
    """
    try:
        archive = zipfile.ZipFile(source)
    except BROKEN as problem:
        raise TurnedAway(f"cannot be opened as a ZIP file ({_words(problem)})", AGAIN) from None
    with archive:
        _refuse_beyond(archive.infolist())
        yield archive


def _refuse_beyond(parts: list[zipfile.ZipInfo]) -> None:
    b = bounds.BOUNDS
    if len(parts) > b.files:
        raise TurnedAway(f"holds {len(parts)} files; at most {b.files:,} are opened", AGAIN)
    for part in parts:
        if part.file_size > SMALL_BYTES and part.file_size > b.shrinking * part.compress_size:
            raise TurnedAway(f"{part.filename[:120]!r} would grow beyond measure", AGAIN)
    if (size := sum(part.file_size for part in parts)) > b.unpacked_bytes:
        raise TurnedAway(f"unpacks to {size:,} bytes; at most {b.unpacked_bytes:,} are", AGAIN)


def blocks(archive: zipfile.ZipFile, part: str | zipfile.ZipInfo) -> Iterator[bytes]:
    """A packed file, block by block; never more than its list says (`zipfile` stops there).

    Raises
    ------
    TurnedAway
        If it is not there or cannot be unpacked.
    """
    name = part if isinstance(part, str) else part.filename
    try:
        with archive.open(part) as file:
            while block := file.read(BLOCK):
                yield block
    except BROKEN as problem:
        raise TurnedAway(f"{name[:120]!r} in it cannot be unpacked ({_words(problem)})", AGAIN) from None


Start = Callable[[str, dict[str, str]], None]
Other = Callable[[str], None]


class Xml:
    """Goes through XML without keeping it; element names come without prefix.

    A document type declaration, by which entities grow, is turned away; no part of a package holds one (ECMA-376
    part 2, from memory).

    Parameters
    ----------
    start, end, text : function, optional
        Told of every element that begins (with its attributes) and ends, and of texts while `listen` is set.
    """

    def __init__(
        self, start: Start | None = None, end: Other | None = None, text: Other | None = None
    ) -> None:
        self._start, self._end, self._depth = start, end, 0
        self._parser = expat.ParserCreate()
        self._parser.buffer_text = True
        self._parser.StartDoctypeDeclHandler = self._refuse
        self._parser.StartElementHandler = self._begin
        self._parser.EndElementHandler = self._close
        self._text = text

    def listen(self, on: bool) -> None:
        """Whether texts are told from here on."""
        self._parser.CharacterDataHandler = self._text if on else None

    def through(self, parts: Iterator[bytes]) -> None:
        """Go through a whole text.

        Raises
        ------
        TurnedAway
            If it is no XML, or goes beyond the bounds.
        """
        look = Stretches(b"<", "a text or tag in it", "Save the tables alone in a new workbook.")
        try:
            for block in parts:
                look(block)
                self._parser.Parse(block, False)
            self._parser.Parse(b"", True)
        except (expat.ExpatError, LookupError, ValueError) as problem:
            raise TurnedAway(f"no sound XML ({problem})", AGAIN) from None

    def _begin(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > bounds.BOUNDS.nesting:
            raise TurnedAway(f"XML nested more than {bounds.BOUNDS.nesting} levels deep", AGAIN)
        if self._start is not None:
            self._start(name.rpartition(":")[2], attributes)
        elif any(len(text) > bounds.BOUNDS.attribute_characters for text in attributes.values()):
            raise TurnedAway(
                f"an attribute in it of over {bounds.BOUNDS.attribute_characters:,} characters", AGAIN
            )

    def _close(self, name: str) -> None:
        self._depth -= 1
        if self._end is not None:
            self._end(name.rpartition(":")[2])

    def _refuse(self, *_: object) -> None:
        raise TurnedAway("XML with a document type declaration, which no workbook holds", AGAIN)


def _words(problem: BaseException) -> str:
    words = str(problem) or type(problem).__name__
    return "".join(c if c.isprintable() else "?" for c in words[:200]).rstrip(".")
