"""Where an output goes: never over an input of the same run; through links, devices and pipes."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

from wearcast.door.files import is_input
from wearcast.errors import OutputFailed

STANDARD = Path("-")
"""Stands for the standard output."""


def place_of(path: Path) -> Path:
    """The place itself that a name of an output leads to.

    Raises
    ------
    OutputFailed
        If it is a file that this run has read, under whatever name.
    """
    if path == STANDARD:
        return path
    place = Path(os.path.realpath(path))
    try:
        found = place.stat()
    except (FileNotFoundError, NotADirectoryError):
        return place
    if is_input(found):
        raise OutputFailed(
            f"{path}: this is an input of the same run and was not overwritten. Name another file for the output."
        )
    return place


def is_stream(place: Path) -> bool:
    """Whether a place is written into as it stands: the standard output, a device or a pipe."""
    if place == STANDARD:
        return True
    return place.exists() and not stat.S_ISREG(place.stat().st_mode) and not place.is_dir()


def write_into(place: Path, content: bytes) -> None:
    """Write into a stream."""
    if place == STANDARD:
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    with place.open("wb", buffering=0) as stream:
        rest = memoryview(content)
        while rest:
            rest = rest[stream.write(rest) or 0 :]
