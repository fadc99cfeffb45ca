"""What a sheet's XML tells beside its values: its state, merged cells, formulas saved without a result."""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_STRICT_RELATION = "{http://purl.oclc.org/ooxml/officeDocument/relationships}id"
_WORTH_READING = re.compile(rb"<(?:\w+:)?(?:f|mergeCell)[\s/>]")
_ROW_NUMBER = re.compile(rb"<(?:\w+:)?row\b[^>]*?\sr=[\"'](\d+)[\"']")


@dataclass(frozen=True)
class SheetPart:
    """A sheet's name, its file in the archive, and whether it is hidden."""

    name: str
    path: str
    hidden: bool


Cell = tuple[int, int]
"""Row and column, counted from 1."""


@dataclass(frozen=True)
class Merged:
    """A block of merged cells; only the first holds a value."""

    text: str
    first: Cell
    last: Cell


def sheet_parts(archive: zipfile.ZipFile) -> Iterator[SheetPart]:
    """The sheets of a workbook in their order (ECMA-376 part 1, 18.2.20 and part 2, 8.5)."""
    book = next(
        target for kind, _, target in _relations(archive, "_rels/.rels", "") if kind == "officeDocument"
    )
    folder, name = posixpath.split(book)
    targets = {
        key: target
        for _, key, target in _relations(archive, f"{folder}/_rels/{name}.rels".lstrip("/"), folder)
    }
    for element in ElementTree.fromstring(archive.read(book)).iter():
        if _local(element.tag) == "sheet":
            key = element.get(_RELATION) or element.get(_STRICT_RELATION) or ""
            hidden = element.get("state", "visible") != "visible"
            yield SheetPart(element.get("name", ""), targets[key], hidden)


def _relations(archive: zipfile.ZipFile, path: str, folder: str) -> Iterator[tuple[str, str, str]]:
    for element in ElementTree.fromstring(archive.read(path)):
        target = element.get("Target", "")
        whole = (
            target.lstrip("/")
            if target.startswith("/")
            else posixpath.normpath(posixpath.join(folder, target))
        )
        yield element.get("Type", "").rsplit("/", 1)[-1], element.get("Id", ""), whole


def unsaved_and_merged(xml: bytes) -> tuple[dict[Cell, str], list[Merged]]:
    """The formulas of a sheet that were saved without a result, and its merged cells.

    Raises
    ------
    ValueError
        If rows stand out of order: a reader going row by row would lose some.
    """
    numbers = [int(number) for number in _ROW_NUMBER.findall(xml)]
    if any(later <= earlier for earlier, later in pairwise(numbers)):
        raise ValueError("rows out of order")
    unsaved: dict[Cell, str] = {}
    merged: list[Merged] = []
    if not _WORTH_READING.search(xml):
        return unsaved, merged
    row = column = 0
    for event, element in ElementTree.iterparse(io.BytesIO(xml), ("start", "end")):
        tag = _local(element.tag)
        if event == "start":
            if tag == "row":
                row, column = int(element.get("r", row + 1)), 0
        elif tag == "c":
            column = _place(element.get("r"))[1] if element.get("r") else column + 1
            formula = _formula_without_result(element)
            if formula is not None:
                unsaved[row, column] = formula
            element.clear()
        elif tag == "mergeCell":
            first, _, last = element.get("ref", "").partition(":")
            merged.append(Merged(f"{first}:{last}", _place(first), _place(last or first)))
    return unsaved, merged


def _formula_without_result(cell: ElementTree.Element) -> str | None:
    parts = {_local(part.tag): part for part in cell}
    if "f" not in parts:
        return None
    saved = parts.get("v")
    # a formula that gives an empty text is saved as a text with an empty value
    if saved is not None and (saved.text or cell.get("t") == "str"):
        return None
    return "=" + (parts["f"].text or "")


def _place(reference: str | None) -> Cell:
    match = re.fullmatch(r"\$?([A-Z]{1,3})\$?(\d{1,7})", reference or "")
    if not match:
        raise ValueError(f"no cell: {reference}")
    column = 0
    for sign in match[1]:
        column = 26 * column + ord(sign) - ord("A") + 1
    return int(match[2]), column


def _local(tag: str) -> str:
    return tag.rsplit("}", 1)[-1]
