"""`wearcast mapping`: how readings stand in other people's sheets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import Quiet

if TYPE_CHECKING:
    from wearcast.records.mapping.draft import Drafted

app = typer.Typer(
    name="mapping",
    help="Say once what the texts of another's sheets mean; wearcast book add reads them so.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.callback()
def _mapping() -> None:
    """Other people's sheets."""


@app.command("draft", short_help="Propose a mapping, and ask what the sheets do not say.")
def draft(
    sheets: Annotated[
        list[Path],
        typer.Argument(
            metavar="SHEET...", help=".xlsx workbooks or .csv files of one shape.", show_default=False
        ),
    ],
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            metavar="KEY=TEXT",
            help="The answer to a question, such as unit=mm.",
            show_default=False,
        ),
    ] = None,
    sheet: Annotated[
        list[str] | None,
        typer.Option("--sheet", metavar="NAME", help="Only this sheet of the workbooks.", show_default=False),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write it to a .toml file.", show_default=False),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Propose a mapping: what is sure is filled in, what is not is asked; units are never guessed."""
    from wearcast.outputs import write_whole
    from wearcast.records.mapping.draft import draft as propose
    from wearcast.records.mapping.toml_file import written

    made = propose(sheets, dict(map(_answer, answer or [])), sheet or [], out.name if out else "mapping.toml")
    comments = {key.lstrip('"'): text for one in made.questions for key, text in one.lines.items()}
    head = [
        "What the texts of these sheets mean. Where a ? stands only you can know; nothing is read until it is answered."
    ]
    text = written(made.mapping, comments, head + made.said)
    if out is None:
        typer.echo(text, nl=False)
        return
    write_whole(out, text)
    if not quiet:
        _tell(made, sheets[0], out)


def _answer(text: str) -> tuple[str, str]:
    key, sign, ours = text.partition("=")
    if not sign or not key.strip() or not ours.strip():
        raise typer.BadParameter(f"found {text}; expected KEY=TEXT, such as unit=mm", param_hint="--answer")
    return key.strip(), ours.strip()


def _tell(made: Drafted, sheet: Path, out: Path) -> None:
    """What was found, and each question with the cells it concerns."""
    from wearcast.cli.book_words import say

    say(made.said)
    for number, one in enumerate(made.questions, start=1):
        say([f"Question {number}: {one.about}?"])
        say([f"  {key.lstrip(chr(34))}: {text}" for key, text in one.lines.items()])
    if made.questions:
        say([f"Answer them in {out}, over each ?, or draft again with --answer KEY=TEXT."])
    typer.echo(f"Next: wearcast mapping show {sheet} --mapping {out} --out page.html")


@app.command("show", short_help="Show what becomes of each cell before it counts.")
def show(
    sheet: Annotated[
        Path, typer.Argument(metavar="SHEET", help="An .xlsx workbook or a .csv file.", show_default=False)
    ],
    mapping: Annotated[
        Path, typer.Option("--mapping", metavar="FILE", help="The mapping.", show_default=False)
    ],
    out: Annotated[Path, typer.Option("--out", metavar="PAGE", help="An .html file.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Show a sheet with what each cell became, what was passed over and why, and the rows as they would stand."""
    from dataclasses import replace

    from wearcast.outputs import write_whole
    from wearcast.records.mapping import read_mapping
    from wearcast.report.mapped_sheet import mapped_sheet
    from wearcast.report.pages import mapped_page

    known = read_mapping(mapping)
    page = mapped_sheet(replace(known, unanswered=()) if known.unanswered else known, sheet)
    write_whole(out, mapped_page(page))
    if not quiet:
        rows = sum(len(one.stands) for one in page.sheets)
        typer.echo(
            f"{out}: {rows} rows as they would stand"
            + (f"; {len(page.faults)} things to mend." if page.faults else ".")
        )
