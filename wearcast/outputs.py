"""Files written whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from wearcast.door.out import is_stream, place_of, write_into
from wearcast.errors import OutputFailed

Content = str | bytes | Callable[[Path], None]
"""What a file holds, or what writes it to the path given."""


def write_whole(path: Path, content: Content) -> None:
    """Write a file beside its place and move it there, so that a reader never sees half of it.

    Raises
    ------
    OutputFailed
        If it cannot be written; what stood there before still stands.
    """
    write_all({path: content})


def write_all(files: Mapping[Path, Content]) -> None:
    """Write several files, each beside its place; only when all are written are they moved there.

    A link is followed, a device or pipe written into, and `-` is the standard output.

    Raises
    ------
    OutputFailed
        If one cannot be written, or is an input of this run; what stood in the places before still stands.
    """
    written: list[tuple[Path, Path]] = []
    streams: list[tuple[Path, Path]] = []
    path = Path()
    try:
        for path, content in files.items():
            place = place_of(path)
            if place in (one for _, one in (*written, *streams)):
                raise OutputFailed(f"{path}: two outputs go to one place. Nothing was changed there.")
            if place.is_dir():
                raise IsADirectoryError(errno.EISDIR, "it is a folder")
            stream = is_stream(place)
            if not stream:
                place.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(
                dir=None if stream else place.parent, prefix=f".{place.name}."[:200], suffix=".part"
            )
            (streams if stream else written).append((Path(name), place))
            with os.fdopen(handle, "wb") as file:
                if callable(content):
                    content(Path(name))
                else:
                    file.write(content.encode("utf-8") if isinstance(content, str) else content)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(0o644)
        for part, path in streams:
            write_into(path, part.read_bytes())
        for part, path in written:
            part.replace(path)
    except OSError as problem:
        if isinstance(problem, BrokenPipeError):
            raise
        reason = problem.strerror or str(problem)
        raise OutputFailed(f"{path}: cannot be written ({reason}). Nothing was changed there.") from None
    finally:
        for part, _ in (*written, *streams):
            with suppress(OSError):
                part.unlink(missing_ok=True)


@contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """A folder to write files into that are moved to their place when all of them stand, or not at all.

    Yields
    ------
    Path
        An empty folder beside the place, on the same disk; gone afterwards.

    Raises
    ------
    OutputFailed
        If one file cannot be written or moved; what stood in the place before stands there again.
    """
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    stage: Path | None = None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        stage = Path(tempfile.mkdtemp(dir=folder, prefix=".wearcast.", suffix=".part"))
        (stage / "old").mkdir()
        (stage / "new").mkdir()
        yield stage / "new"
        _move_all(stage / "new", stage / "old", folder)
        missing = []
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise OutputFailed(f"{folder}: cannot be written ({reason}). Nothing was changed there.") from None
    finally:
        if stage is not None:
            shutil.rmtree(stage, ignore_errors=True)
        for one in missing:  # from the inside out, those alone that were made here and stayed empty
            with suppress(OSError):
                one.rmdir()


def _move_all(new: Path, old: Path, folder: Path) -> None:
    """Move every file to its place; where one cannot be moved, put back what the others replaced."""
    done: list[str] = []
    names = sorted(path.name for path in new.iterdir())
    for name in names:
        place_of(folder / name)
        if (folder / name).is_dir():
            raise IsADirectoryError(errno.EISDIR, f"{name} is a folder there")
    try:
        for name in names:
            (new / name).chmod(0o644)
            place = place_of(folder / name)
            if place.exists():
                place.replace(old / name)
            done.append(name)
            (new / name).replace(place)
    except OSError:
        for name in done:
            place_of(folder / name).unlink(missing_ok=True)
            if (old / name).exists():
                (old / name).replace(place_of(folder / name))
        raise
