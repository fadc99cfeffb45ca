"""`wearcast demo`: an invented fleet to try things on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from wearcast.cli.options import Quiet
from wearcast.errors import WrongUse
from wearcast.outputs import write_all

_TRUTH = "truth.json"


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder to write the record set into.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Write a record set of four invented sister engines, to try the other commands on."""
    write_demo(folder)
    if not quiet:
        typer.echo(f"Wrote the readings of four invented sisters to {folder}.")
        typer.echo(f"Next: wearcast forecast {folder}")


def write_demo(folder: Path) -> None:
    """Copy the shipped demo to a folder, made where it does not exist; an earlier demo there is replaced.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    WrongUse
        If the folder is a file, or holds anything but an earlier demo.
    OutputFailed
        If a file cannot be written.
    """
    _refuse_what_is_not_ours(folder)
    files = [path for path in sorted(shipped().rglob("*")) if path.is_file()]
    write_all({folder / path.relative_to(shipped()): path.read_bytes() for path in files})


def shipped() -> Path:
    """Where the demo lies: inside the installed package, or beside it in a working tree.

    Returns
    -------
    Path
    """
    package = Path(__file__).parents[1]
    inside = package / "sample_data"
    return inside if inside.is_dir() else package.parent / "sample_data"


def _refuse_what_is_not_ours(place: Path) -> None:
    if place.exists() and not place.is_dir():
        raise WrongUse(f"{place} is a file; the demo needs a folder. Name another one.")
    if not place.is_dir() or not any(place.iterdir()) or _made_by(place) == _made_by(shipped()):
        return
    raise WrongUse(
        f"{place} is not empty and holds no earlier demo; nothing was written. Name a new or an empty folder."
    )


def _made_by(place: Path) -> Any:
    try:
        truth = json.loads((place / _TRUTH).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return truth.get("made_by") if isinstance(truth, dict) else None
