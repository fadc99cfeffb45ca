"""Files and folders from outside: regular files only, so that nothing is waited for that never ends."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import IO, Literal

from wearcast.door import bounds
from wearcast.door.bounds import TurnedAway

Look = Callable[[bytes], None]
"""Is shown a file block by block; raises `TurnedAway` where it has seen enough."""

READ: dict[tuple[int, int], set[Path]] = {}
"""Where every file read in this run was, by device and number, so that no output goes over one.

Each command begins it anew. The place counts too: the number of a file that is gone is given to another.
"""

BLOCK = 1 << 20
RIGHTS = "Check the file and its rights."
_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def kind_of(path: Path) -> Literal["", "file", "folder", "other"]:
    """What stands at a path; empty where nothing does.

    Raises
    ------
    TurnedAway
        If that cannot be said: no rights, a name too long, links in a circle.
    """
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return ""
    except OSError as problem:
        raise _cannot(problem, "path") from None
    return "folder" if stat.S_ISDIR(mode) else "file" if stat.S_ISREG(mode) else "other"


def noted(path: Path, found: os.stat_result | None = None) -> None:
    """Note a file as an input of this run."""
    found = path.stat() if found is None else found
    READ.setdefault((found.st_dev, found.st_ino), set()).add(path.absolute())


def is_input(found: os.stat_result) -> bool:
    """Whether this file was read in this run and still stands where it was read."""

    def stands(path: Path) -> bool:
        try:
            now = path.stat()
        except OSError:
            return False
        return (now.st_dev, now.st_ino) == (found.st_dev, found.st_ino)

    return any(map(stands, READ.get((found.st_dev, found.st_ino), ())))


@contextmanager
def run_of_its_own() -> Iterator[None]:
    """What is read in it is no input of what comes after it."""
    before = {place: set(paths) for place, paths in READ.items()}
    try:
        yield
    finally:
        READ.clear()
        READ.update(before)


def entries(folder: Path) -> list[Path]:
    """What stands in a folder by name, hidden things left out.

    Raises
    ------
    TurnedAway
        If the folder cannot be read, or holds more files than any record set.
    """
    most = bounds.BOUNDS.files
    try:
        with os.scandir(folder) as found:
            names = list(islice((one.name for one in found), most + 1))
    except OSError as problem:
        raise _cannot(problem, "folder") from None
    if len(names) > most:
        raise TurnedAway(f"the folder holds over {most:,} files", "Put the tables alone into a folder.")
    return [folder / name for name in sorted(names) if not name.startswith(".")]


@contextmanager
def streamed(path: Path, look: Look | None = None) -> Iterator[tuple[IO[bytes], str]]:
    """A regular file that may be large, open, and its SHA-256; first shown to `look` block by block.

    Raises
    ------
    TurnedAway
        As `bytes_of` does.
    """
    digest = hashlib.sha256()
    try:
        with _opened(path, bounds.BOUNDS.file_bytes) as file:
            for block in iter(lambda: file.read(BLOCK), b""):
                digest.update(block)
                if look is not None:
                    look(block)
            file.seek(0)
            yield file, digest.hexdigest()
    except OSError as problem:
        raise _cannot(problem, "file") from None


def bytes_of(path: Path, most: int | None = None) -> bytes:
    """A regular file byte for byte.

    Raises
    ------
    TurnedAway
        If it is a pipe, a device or a folder, is too large, or cannot be read.
    """
    most = bounds.BOUNDS.file_bytes if most is None else most
    try:
        with _opened(path, most) as file:
            data = file.read(most + 1)
    except OSError as problem:
        raise _cannot(problem, "file") from None
    if len(data) > most:
        raise _too_large(most)
    return data


def text_of(path: Path, most: int | None = None) -> str:
    """A text in UTF-8, with or without a byte order mark; raises as `bytes_of` does, or if it is none."""
    try:
        return bytes_of(path, bounds.BOUNDS.settings_bytes if most is None else most).decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise TurnedAway(
            f"the file holds a byte that is no UTF-8 text (byte {problem.start + 1})",
            "Save it as UTF-8 text.",
        ) from None


@contextmanager
def _opened(path: Path, most: int) -> Iterator[IO[bytes]]:
    """The file, open; never waited for, as opening a pipe would be."""
    try:
        handle = os.open(path, _FLAGS)
    except ValueError:
        raise TurnedAway("the name of the file holds a zero byte", "Check the name.") from None
    noted(path, os.fstat(handle))
    with os.fdopen(handle, "rb") if stat.S_ISREG(os.fstat(handle).st_mode) else _closed(handle) as file:
        if os.fstat(handle).st_size > most:
            raise _too_large(most)
        yield file


def _closed(handle: int) -> IO[bytes]:
    folder = stat.S_ISDIR(os.fstat(handle).st_mode)
    os.close(handle)
    kind = "a folder" if folder else "a pipe, a device or a socket"
    raise TurnedAway(
        f"it cannot be opened: it is {kind} and no regular file", "Name a file, or save it as one."
    )


def _too_large(most: int) -> TurnedAway:
    return TurnedAway(f"the file is larger than {most:,} bytes", "Name the right file, or split it.")


def _cannot(problem: OSError, what: str) -> TurnedAway:
    return TurnedAway(f"the {what} cannot be opened ({problem.strerror or problem})", RIGHTS)


class Stretches:
    """Looks at blocks of bytes for stretches without one of the signs that end them.

    Parameters
    ----------
    ends : bytes
        Signs of one byte.
    most : int, optional
        How many ends there may be.
    """

    def __init__(self, ends: bytes, what: str, advice: str, most: int | None = None) -> None:
        self._ends, self._what, self._advice, self._most = ends, what, advice, most
        self._since = self._seen = 0

    def __call__(self, block: bytes) -> None:
        """Look at the next block.

        Raises
        ------
        TurnedAway
            Where a stretch is too long, or there are too many.
        """
        longest = bounds.BOUNDS.line_bytes
        first = min((at for at in map(block.find, _each(self._ends)) if at >= 0), default=-1)
        if self._since + (first if first >= 0 else len(block)) > longest:
            raise TurnedAway(f"{self._what} is longer than {longest:,} bytes", self._advice)
        # a block is shorter than the longest stretch, so only the first and the last of it can reach beyond
        last = max(map(block.rfind, _each(self._ends)))
        self._since = len(block) - last - 1 if last >= 0 else self._since + len(block)
        self._seen += sum(map(block.count, _each(self._ends[:1])))
        if self._most is not None and self._seen > self._most:
            raise TurnedAway(f"there are over {self._most:,} lines", "Split the file.")


def csv_lines() -> Stretches:
    """A look at a CSV file before it is read."""
    return Stretches(b"\n\r", "a line", 'Look for a " that is never closed.', bounds.BOUNDS.rows)


def _each(signs: bytes) -> list[bytes]:
    return [bytes([sign]) for sign in signs]
