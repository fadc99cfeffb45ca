"""Where a pack takes its input files from."""

from __future__ import annotations

from pathlib import Path

from wearcast.errors import InputRefused
from wearcast.records.read import read


def contents_of(source: str | Path) -> tuple[dict[str, bytes], str]:
    """The input files of a record set by name, and the name of the one file where it is no folder.

    Raises
    ------
    InputRefused
        If a table or column is missing, told by the place the user named.
    """
    path = Path(source)
    records = read(path)
    beyond_help = [fault for fault in records.faults if not fault.can_be_left_out]
    if beyond_help:
        raise InputRefused(beyond_help)
    files = records.files
    if path.is_dir():
        return {one.name: (path / one.name).read_bytes() for one in files}, ""
    return {path.name: path.read_bytes()}, path.name
