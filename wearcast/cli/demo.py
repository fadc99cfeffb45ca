"""`wearcast demo`: an invented fleet to try things on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli.options import Quiet


def demo(
    folder: Annotated[Path, typer.Argument(help="Folder to write the record set into.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Write a record set of four invented sister engines, to try the other commands on."""
    from wearcast.records.demo import write_demo

    write_demo(folder)
    if not quiet:
        typer.echo(f"Wrote the readings of four invented sisters to {folder}.")
        typer.echo(f"Next: wearcast forecast {folder}")
