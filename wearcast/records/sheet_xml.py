"""What a sheet's XML tells beside its values: its state, merged cells, formulas saved without a result.

Every part of a workbook passes here before openpyxl reads it, so that what would hang or fill the memory is told.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO

from wearcast.door import bounds
from wearcast.door.archives import Xml, blocks, opened
from wearcast.door.bounds import TurnedAway

SAVE_AGAIN = "Open it in the spreadsheet program and save it again as .xlsx, or take an undamaged copy."
_XML = (".xml", ".rels")
_LAST_COLUMN = 16_384
"""Of a sheet (ECMA-376 part 1, 18.3.1.73 and 18.18.7 as spreadsheet programs hold it)."""


Cell = tuple[int, int]
"""Row and column, counted from 1."""


@dataclass(frozen=True)
class Merged:
    """A block of merged cells; only the first holds a value."""

    text: str
    first: Cell
    last: Cell


@dataclass(frozen=True)
class SheetFacts:
    """A sheet: whether it is hidden, its formulas saved without a result, its merged cells."""

    name: str
    hidden: bool
    unsaved: dict[Cell, str]
    merged: list[Merged]


def facts_of(file: IO[bytes]) -> dict[str, SheetFacts]:
    """What the XML of a workbook tells beside its values, by the path of each sheet; every part was gone through.

    Raises
    ------
    TurnedAway
        If the workbook, or a sheet of it (then its name is in `where`), is not to be taken in.
    """
    start = file.read(4)
    if not start:
        raise TurnedAway("the file is empty", "Take the right file.")
    if start == b"\xd0\xcf\x11\xe0":
        found = "the workbook is locked with a password, or saved in an older format under this name"
        raise TurnedAway(found, "Save it as .xlsx without a password.")
    try:
        with opened(file) as archive:
            _refuse_long_texts(archive)
            sheets = list(_sheet_parts(archive))
            paths = {path for _, path, _ in sheets}
            for part in archive.namelist():
                if part.endswith(_XML) and part not in paths:
                    Xml().through(blocks(archive, part))
            return {path: _facts(archive, path, name, hidden) for name, path, hidden in sheets}
    except TurnedAway as away:
        if away.where:
            raise
        raise TurnedAway(f"the file is no whole .xlsx workbook: {away.found}", SAVE_AGAIN) from None


def _refuse_long_texts(archive: zipfile.ZipFile) -> None:
    """The texts that sheets share are held all at once."""
    most = bounds.BOUNDS.shared_bytes
    for part in archive.infolist():
        if part.filename.casefold().endswith("sharedstrings.xml") and part.file_size > most:
            raise TurnedAway(
                f"its sheets share texts of over {most:,} bytes", "Save the tables alone as CSV."
            )


def _facts(archive: zipfile.ZipFile, path: str, name: str, hidden: bool) -> SheetFacts:
    sheet = _Sheet()
    try:
        sheet.xml.through(blocks(archive, path))
    except TurnedAway as away:
        raise TurnedAway(f"the sheet cannot be read: {away.found}", away.advice, name) from None
    return SheetFacts(name, hidden, sheet.unsaved, sheet.merged)


def _sheet_parts(archive: zipfile.ZipFile) -> Iterator[tuple[str, str, bool]]:
    """Name, path and hidden or not of the sheets in their order (ECMA-376 part 1, 18.2.20 and part 2, 8.5)."""
    kinds = {kind: target for kind, _, target in _relations(archive, "_rels/.rels", "")}
    if "officeDocument" not in kinds:
        raise TurnedAway("the package names no workbook", SAVE_AGAIN)
    folder, name = posixpath.split(kinds["officeDocument"])
    targets = {
        key: target
        for _, key, target in _relations(archive, f"{folder}/_rels/{name}.rels".lstrip("/"), folder)
    }
    for attributes in _elements(archive, kinds["officeDocument"], "sheet"):
        key = next((text for name, text in attributes.items() if name.endswith(":id")), "")
        if key not in targets:
            raise TurnedAway("a sheet has no part in the package", SAVE_AGAIN)
        yield attributes.get("name", ""), targets[key], attributes.get("state", "visible") != "visible"


def _relations(archive: zipfile.ZipFile, path: str, folder: str) -> Iterator[tuple[str, str, str]]:
    for attributes in _elements(archive, path, "Relationship"):
        target = attributes.get("Target", "")
        whole = (
            target.lstrip("/")
            if target.startswith("/")
            else posixpath.normpath(posixpath.join(folder, target))
        )
        yield attributes.get("Type", "").rsplit("/", 1)[-1], attributes.get("Id", ""), whole


def _elements(archive: zipfile.ZipFile, path: str, wanted: str) -> list[dict[str, str]]:
    """The attributes of every element of a name."""
    found: list[dict[str, str]] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if name == wanted:
            found.append(attributes)

    Xml(start).through(blocks(archive, path))
    return found


@dataclass
class _Sheet:
    """Goes through a sheet cell by cell, keeping what is asked for alone."""

    unsaved: dict[Cell, str] = field(default_factory=dict)
    merged: list[Merged] = field(default_factory=list)
    row: int = 0
    column: int = 0
    cells: int = 0
    values: int = 0
    kind: str = ""
    filled: bool = False
    saved: bool = False
    formula: str | None = None
    inside: str = ""
    texts: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.xml = Xml(self._start, self._end, self.texts.append)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "c":
            self._cell(attributes)
        elif name in ("v", "f", "t"):
            self._count_value()
            self.inside = name
            self.texts.clear()
            self.xml.listen(True)
        elif name == "row":
            self._row(attributes)
        elif name == "mergeCell":
            first, _, last = attributes.get("ref", "").partition(":")
            self.merged.append(Merged(f"{first}:{last}", place(first), place(last or first)))
            if len(self.merged) > bounds.BOUNDS.sheet_rows:
                raise TurnedAway(f"the sheet has over {bounds.BOUNDS.sheet_rows:,} merged blocks", SAVE_AGAIN)

    def _count_value(self) -> None:
        self.values += 1
        if self.values > bounds.BOUNDS.values:
            raise TurnedAway(
                f"the sheet holds more than {bounds.BOUNDS.values:,} values", "Save the tables as CSV."
            )

    def _row(self, attributes: dict[str, str]) -> None:
        given = attributes.get("r")
        if given is not None and not re.fullmatch(r"\d{1,10}", given, re.ASCII):
            raise TurnedAway(f"a row has the number {given[:20]!r}", SAVE_AGAIN)
        row = int(given) if given is not None else self.row + 1
        if row <= self.row:
            raise TurnedAway(f"row {row} stands out of order", SAVE_AGAIN)
        if row > bounds.BOUNDS.sheet_rows:
            raise TurnedAway(
                f"a row has the number {row:,}; a sheet has {bounds.BOUNDS.sheet_rows:,}", SAVE_AGAIN
            )
        self.row, self.column = row, 0

    def _cell(self, attributes: dict[str, str]) -> None:
        before = self.column
        reference = attributes.get("r")
        self.column = place(reference)[1] if reference else before + 1
        # a reader pads each row to its last cell, filled or not, so these are what reading costs
        self.cells += max(self.column - before, 1)
        if self.cells > bounds.BOUNDS.rows:
            raise TurnedAway(
                f"the sheet spreads over more than {bounds.BOUNDS.rows:,} cells",
                "Save the tables alone in a new workbook.",
            )
        self.kind = attributes.get("t", "n")
        self.formula, self.saved = None, False

    def _end(self, name: str) -> None:
        if name == self.inside:
            self.xml.listen(False)
            self._text(name, "".join(self.texts))
            self.inside = ""
        elif name == "c" and self.formula is not None and not self.saved:
            self.unsaved[self.row, self.column] = "=" + self.formula

    def _text(self, name: str, text: str) -> None:
        b = bounds.BOUNDS
        where = f"row {self.row}, column {self.column}"
        if len(text) > b.cell_characters:
            raise TurnedAway(
                f"the cell in {where} has {len(text):,} characters; at most {b.cell_characters:,} are read",
                "Shorten it.",
            )
        if name == "f":
            self.formula = text
            return
        if text and self.column > b.columns:
            raise TurnedAway(
                f"there is a value in column {self.column:,}; at most {b.columns:,} are read",
                "Split the sheet.",
            )
        if name == "v" and self.kind == "n" and sum(map(str.isdigit, text)) > b.digits:
            raise TurnedAway(f"the number in {where} has over {b.digits} digits", "Type the number.")
        # a formula that gives an empty text is saved as a text with an empty value
        self.saved = name == "v" and bool(text or self.kind == "str")


def place(reference: str) -> Cell:
    """Row and column of a cell.

    Raises
    ------
    TurnedAway
        If there is no such cell in a sheet.
    """
    match = re.fullmatch(r"\$?([A-Z]{1,3})\$?(\d{1,7})", reference, re.ASCII)
    column = 0
    for sign in match[1] if match else "":
        column = 26 * column + ord(sign) - ord("A") + 1
    if not match or column > _LAST_COLUMN or int(match[2]) > bounds.BOUNDS.sheet_rows:
        raise TurnedAway(f"no sheet has a cell {reference[:20]!r}", SAVE_AGAIN)
    return int(match[2]), column
