"""How results look in a terminal: plain words, at most 100 columns."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console

if TYPE_CHECKING:
    from rich.markdown import Markdown
    from rich.table import Table

    from wearcast.queries import Query

WIDTH = 100


def console(stderr: bool = False) -> Console:
    """A console of at most 100 columns, plain where it is piped."""
    out = Console(stderr=stderr, highlight=False, emoji=False, markup=False)
    width = min(out.width, WIDTH) if out.is_terminal else WIDTH
    return Console(stderr=stderr, highlight=False, emoji=False, markup=False, width=width, soft_wrap=False)


@contextmanager
def busy(text: str, quiet: bool) -> Iterator[None]:
    """A moving bar on the terminal while something lasts; silent when piped or quiet."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(bar_width=30), TimeElapsedColumn())
    with Progress(*columns, console=console(stderr=True), transient=True) as progress:
        progress.add_task(text, total=None)
        yield


def show_refusals(faults: Sequence[Query]) -> None:
    """All refusals on standard error, one paragraph each, and what can be done."""
    out = console(stderr=True)
    rows = "fault" if len(faults) == 1 else "faults"
    out.print(f"The records cannot be used as they are: {len(faults)} {rows}.\n")
    for fault in faults:
        show_query(fault, out)
    if all(fault.can_be_left_out for fault in faults):
        out.print("Correct them, or run again with --leave-out-faulty to go on without these rows.")
    else:
        out.print("Correct them and run again; at least one cannot be left out.")


def show_query(query: Query, out: Console) -> None:
    """One query as a short paragraph: where, what was found and expected, and what to do."""
    out.print(query.where or query.table, style="bold")
    paragraph = f"{query.text} {query.suggestion}".strip()
    out.print(textwrap.fill(paragraph, out.width, initial_indent="  ", subsequent_indent="  ") + "\n")


def show_padded(content: Table | Markdown, out: Console) -> None:
    """A table or a page without the blanks that pad its lines, which would only spoil a pasted text."""
    with out.capture() as captured:
        out.print(content)
    out.file.write("\n".join(line.rstrip() for line in captured.get().splitlines()) + "\n")
