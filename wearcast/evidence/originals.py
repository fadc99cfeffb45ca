"""The input files of a pack, byte for byte, under names that every machine can hold."""

from __future__ import annotations

import hashlib
import io
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from wearcast.errors import WrongUse
from wearcast.evidence.asked import NotAPack
from wearcast.evidence.given import Given
from wearcast.evidence.leaves import Leaf
from wearcast.texts import csv_text

LIST = "data/input-files.csv"
INPUT, ORIGINALS = "input", "originals"
_LONGEST = 40
_COLUMNS = ("file", "name_as_given", "sha256", "bytes")
_NOT_ON_EVERY_MACHINE = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{k}" for k in range(10)), *(f"lpt{k}" for k in range(10))]
)


@dataclass(frozen=True)
class Original:
    """One file as given: where it is below ``data``, its name, the SHA-256 of its bytes and their number."""

    packed: str
    name: str
    sha256: str
    size: int

    @property
    def is_input(self) -> bool:
        """Whether the records are read from it; of a book the files its rows came in are not."""
        return self.packed.startswith(f"{INPUT}/")


def listed(given: Given) -> tuple[Original, ...]:
    """The files of a pack.

    Raises
    ------
    WrongUse
        If an input file has a name that could not be put back.
    """
    found = []
    for folder, contents in ((INPUT, given.inputs), (ORIGINALS, given.originals)):
        taken: set[str] = set()
        for name, content in sorted(contents.items()):
            if folder == INPUT and not _stays(name):
                raise WrongUse(
                    f"{name!r} cannot go into a pack: name the file without / \\ : and not so long."
                )
            packed = f"{folder}/{plain_name(name, taken)}"
            found.append(Original(packed, name, hashlib.sha256(content).hexdigest(), len(content)))
    return tuple(found)


def plain_name(name: str, taken: set[str]) -> str:
    """A short lower-case ASCII name, unlike any other taken; it is added to them.

    >>> taken = set()
    >>> plain_name("Readings.CSV", taken), plain_name("readings.csv", taken), plain_name("0001/船 Größe.xlsx", taken)
    ('readings.csv', 'readings-2.csv', '0001-groe.xlsx')
    """
    ascii_name = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem, dot, ending = re.sub(r"[^a-z0-9.]+", "-", ascii_name).strip("-.").rpartition(".")
    if not dot:
        stem, ending = ending, ""
    stem, ending = stem.replace(".", "-").strip("-")[:_LONGEST], ending.strip("-")[:8]
    if not stem or stem in _NOT_ON_EVERY_MACHINE:
        stem = f"file-{stem}".strip("-")
    suffix = f".{ending}" if ending else ""
    found, number = f"{stem}{suffix}", 1
    while found in taken:
        number += 1
        found = f"{stem}-{number}{suffix}"
    taken.add(found)
    return found


def list_leaf(originals: Sequence[Original]) -> Leaf:
    """The list of files as it stands in the pack."""
    rows = [(one.packed, one.name, one.sha256, one.size) for one in originals]
    return Leaf(LIST, csv_text(pd.DataFrame(rows, columns=list(_COLUMNS))), "csv", ("file",))


def read_list(text: str) -> tuple[Original, ...]:
    """The list of files of a pack.

    Raises
    ------
    NotAPack
        If it is not understood, or a name could lead out of the folder it is put in.
    """
    try:
        table = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        rows = table[list(_COLUMNS)].itertuples(index=False)
        found = tuple(
            Original(file, _unescaped(name), sha256, int(size)) for file, name, sha256, size in rows
        )
    except (ValueError, KeyError) as problem:
        raise NotAPack(f"{LIST} is not understood ({problem}).") from None
    for one in found:
        folder, _, packed = one.packed.partition("/")
        if folder not in (INPUT, ORIGINALS) or not _stays(packed) or (one.is_input and not _stays(one.name)):
            raise NotAPack(
                f"{LIST} names {one.packed!r}, given as {one.name!r}, which could lead out of its folder; nothing was "
                "worked out."
            )
    return found


def _unescaped(name: str) -> str:
    """A name as it was before `csv_text` kept spreadsheets from running it."""
    return name[1:] if re.match(r"'[=+\-@\t\r]", name) else name


def _stays(name: str) -> bool:
    """Whether a name is one plain file name on any machine."""
    return bool(name) and name not in (".", "..") and not re.search(r"[/\\:\0]", name) and len(name) <= 200


def changed(bag: Path, originals: Sequence[Original]) -> list[str]:
    """Files whose bytes are not those of the list, in sentences."""
    return [
        f"data/{one.packed} is not the file that was given: its SHA-256 is another."
        for one in originals
        if hashlib.sha256((bag / "data" / one.packed).read_bytes()).hexdigest() != one.sha256
    ]


def put_back(contents: Mapping[str, bytes], folder: Path, entry: str) -> Path:
    """The input files under the names they were given; returns the folder, or its one file where that is the input.

    Raises
    ------
    NotAPack
        If the one file is not among them.
    """
    for name, content in contents.items():
        (folder / name).write_bytes(content)
    if entry and entry not in contents:
        raise NotAPack(f"data/run.json says the input is {entry!r}, which {LIST} does not name.")
    return folder / entry if entry else folder
