"""Files written whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

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

    Raises
    ------
    OutputFailed
        If one cannot be written; what stood in the places before still stands.
    """
    written: list[tuple[Path, Path]] = []
    path = Path()
    try:
        for path, content in files.items():
            if path.is_dir():
                raise IsADirectoryError(errno.EISDIR, "it is a folder")
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
            written.append((Path(name), path))
            with os.fdopen(handle, "wb") as file:
                if callable(content):
                    content(Path(name))
                else:
                    file.write(content.encode("utf-8") if isinstance(content, str) else content)
                file.flush()
                os.fsync(file.fileno())
            Path(name).chmod(0o644)
        for part, path in written:
            part.replace(path)
    except OSError as problem:
        for part, _ in written:
            part.unlink(missing_ok=True)
        reason = problem.strerror or str(problem)
        raise OutputFailed(f"{path}: cannot be written ({reason}). Nothing was changed there.") from None


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
        if (folder / name).is_dir():
            raise IsADirectoryError(errno.EISDIR, f"{name} is a folder there")
    try:
        for name in names:
            (new / name).chmod(0o644)
            if (folder / name).exists():
                (folder / name).replace(old / name)
            done.append(name)
            (new / name).replace(folder / name)
    except OSError:
        for name in done:
            (folder / name).unlink(missing_ok=True)
            if (old / name).exists():
                (old / name).replace(folder / name)
        raise
