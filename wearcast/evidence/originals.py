"""The input files of a record set, byte for byte, under names that every machine can hold."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import pandas as pd

from wearcast.errors import WrongUse
from wearcast.evidence.asked import NotAPack
from wearcast.evidence.leaves import Leaf
from wearcast.evidence.writing import csv_text

INPUT = "data/input"
LIST = "data/input-files.csv"
_LONGEST = 40
_NOT_ON_EVERY_MACHINE = frozenset(
    ["con", "prn", "aux", "nul", *(f"com{k}" for k in range(10)), *(f"lpt{k}" for k in range(10))]
)


@dataclass(frozen=True)
class Original:
    """One input file: its name as given and in the pack, the SHA-256 of its bytes and their number."""

    name: str
    packed: str
    sha256: str
    size: int


def listed(contents: Mapping[str, bytes]) -> tuple[Original, ...]:
    """The input files by the names they were given under."""
    taken: set[str] = set()
    return tuple(
        Original(name, plain_name(name, taken), hashlib.sha256(content).hexdigest(), len(content))
        for name, content in sorted(contents.items())
    )


def plain_name(name: str, taken: set[str]) -> str:
    """A short lower-case ASCII name, unlike any other taken; it is added to them.

    >>> taken = set()
    >>> plain_name("Readings.CSV", taken), plain_name("readings.csv", taken), plain_name("Größe/船 1.xlsx", taken)
    ('readings.csv', 'readings-2.csv', 'groe-1.xlsx')
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


def list_leaf(originals: tuple[Original, ...]) -> Leaf:
    """The list of input files as it stands in the pack."""
    rows = [(f"input/{one.packed}", one.name, one.sha256, one.size) for one in originals]
    table = pd.DataFrame(rows, columns=["file", "name_as_given", "sha256", "bytes"])
    return Leaf(LIST, csv_text(table), "csv", ("file",))


def read_list(text: str) -> tuple[Original, ...]:
    """The list of input files of a pack.

    Raises
    ------
    NotAPack
        If it is not understood, or a name could lead out of the folder it is put in.
    """
    import io

    try:
        table = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        found = tuple(
            Original(_unescaped(name), file.removeprefix("input/"), sha256, int(size))
            for file, name, sha256, size in table[["file", "name_as_given", "sha256", "bytes"]].itertuples(
                index=False
            )
        )
    except (ValueError, KeyError) as problem:
        raise NotAPack(f"{LIST} is not understood ({problem}).") from None
    for one in found:
        for name in (one.name, one.packed):
            if not _stays(name):
                raise NotAPack(
                    f"{LIST} names {name!r}, which could lead out of its folder; nothing was opened."
                )
    return found


def _unescaped(name: str) -> str:
    """A name as it was before `csv_text` kept spreadsheets from running it."""
    return name[1:] if re.match(r"'[=+\-@\t\r]", name) else name


def _stays(name: str) -> bool:
    """Whether a name is one plain file name on any machine."""
    return bool(name) and name not in (".", "..") and not re.search(r"[/\\:\0]", name) and len(name) <= 255


def put_back(bag: Path, originals: tuple[Original, ...], folder: Path, entry: str) -> tuple[Path, list[str]]:
    """The input files under the names they were given, as the record set they were.

    Returns
    -------
    source : Path
        The folder, or its one file where the record set was one.
    faults : list of str
        Files whose bytes are not those of the list.
    """
    faults = []
    for one in originals:
        content = (bag / INPUT / one.packed).read_bytes()
        if hashlib.sha256(content).hexdigest() != one.sha256:
            faults.append(
                f"{INPUT}/{one.packed} is not the file the figures were made from: its SHA-256 is another."
            )
        (folder / PurePosixPath(one.name).name).write_bytes(content)
    if entry and entry not in {one.name for one in originals}:
        raise NotAPack(f"data/run.json says the input is {entry!r}, which {LIST} does not name.")
    return (folder / entry if entry else folder), faults


def check_names(contents: Mapping[str, bytes]) -> None:
    """Refuse names that could not be put back.

    Raises
    ------
    WrongUse
        If one is no plain file name.
    """
    for name in contents:
        if not _stays(name):
            raise WrongUse(
                f"{name!r} cannot go into a pack: name the file without / \\ : and not longer than 255."
            )
