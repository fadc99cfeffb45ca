"""What the commands that decide print and write alike."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, Self

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import Console
    from rich.table import Table

    from wearcast.decide.stand import Stand
    from wearcast.decide.what_if import WhatIf
    from wearcast.lives.only import Only

CLOSING = (
    "Readings suggest; maker's limits and intervals, class and licensed engineers decide. "
    "No forecast extends a limit or an interval."
)


class Decision(Protocol):
    """A result with a table, and the same without the changes tried."""

    @property
    def table(self) -> pd.DataFrame:
        """The result as rows."""
        ...

    @property
    def stand(self) -> Stand:
        """What it was decided from."""
        ...

    @property
    def as_given(self) -> Decision | None:
        """The result of the records as they are; None where nothing was tried."""
        ...

    def narrowed(self, only: Only) -> Self:
        """What of it is about the places asked for; it was decided from all of them."""
        ...


def say_what_if(what_if: WhatIf | None, out: Console) -> None:
    """The changes tried, and that a limit tried is no limit."""
    if what_if is None:
        return
    out.print(f"What if: {what_if}.", style="bold")
    if what_if.limits:
        out.print("The maker's limit holds until the maker changes it.")


def write_tables(result: Decision, path: Path) -> tuple[Path, ...]:
    """Write the table as CSV; where a change is tried, that of the records as given beside it."""
    from wearcast.outputs import write_all
    from wearcast.texts import csv_text

    files: dict[Path, str | bytes] = {path: csv_text(result.table)}
    if result.as_given is not None:
        files[path.with_name(f"{path.stem}-as-given{path.suffix}")] = csv_text(result.as_given.table)
    write_all(files)
    return tuple(files)


def plain_table(title: str = "") -> Table:
    """An empty table without lines."""
    from rich.table import Table

    return Table(
        title=title or None,
        title_justify="left",
        title_style="bold",
        box=None,
        pad_edge=False,
        padding=(0, 2, 0, 0),
    )


def say(texts: Iterable[str], out: Console, indent: str = "  ") -> None:
    """Sentences, one to a paragraph, folded to the width."""
    from wearcast.cli.show import folded

    for text in texts:
        out.print(folded(text, out.width, indent, f"{indent}  "))
