"""`wearcast guide`: the guide in the terminal."""

from __future__ import annotations

from typing import Annotated

import typer


def guide(
    page: Annotated[
        str, typer.Argument(metavar="[PAGE]", help="Which page; all are listed without one.")
    ] = "",
) -> None:
    """Read the guide; without a page, list its pages."""
    from rich.markdown import Markdown

    from wearcast.cli.show import console, show_padded
    from wearcast.guide import pages

    if page:
        show_padded(Markdown(pages.page(page).text), console())
        return
    width = max(map(len, pages.ORDER))
    for one in pages.pages():
        typer.echo(f"{one.name:<{width}}  {one.title}")
    typer.echo("\nRead one with: wearcast guide PAGE")
