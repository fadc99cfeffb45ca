"""`wearcast mapping`: how the tables stand in other people's sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli.options import Quiet

app = typer.Typer(
    name="mapping",
    help="Say once how the columns stand in another's sheet; wearcast book add reads it so.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.callback()
def _mapping() -> None:
    """Other people's sheets."""


@app.command("draft", short_help="Propose a mapping to edit.")
def draft(
    source: Annotated[
        Path,
        typer.Argument(metavar="SHEET", help="An .xlsx workbook or a .csv file.", show_default=False),
    ],
    sheet: Annotated[
        str,
        typer.Option(
            "--sheet", metavar="NAME", help="The sheet of the workbook (the fullest).", show_default=False
        ),
    ] = "",
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write it to a .toml file.", show_default=False),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Propose a mapping to edit: what was recognised, and what must be filled in; units are never guessed."""
    from wearcast.cli.outputs import write_whole
    from wearcast.records.mapping.propose import FILL_IN, propose

    text = propose(source, sheet)
    if out is None:
        typer.echo(text, nl=False)
        return
    write_whole(out, text)
    if not quiet:
        todo = sum(f"# {FILL_IN}" in line for line in text.splitlines())
        typer.echo(f'{out}: check every line; {todo} say "{FILL_IN}".')
        typer.echo(f"Next: wearcast book add BOOK {source} --mapping {out} --by NAME")
