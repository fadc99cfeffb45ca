"""How results look in a terminal: plain words, at most 100 columns."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import typer
from rich.console import Console

if TYPE_CHECKING:
    from rich.markdown import Markdown
    from rich.table import Table

    from wearcast.lives.history import History
    from wearcast.queries import Query

WIDTH = 100


def console(stderr: bool = False) -> Console:
    """A console of at most 100 columns, plain where it is piped."""
    out = Console(stderr=stderr, highlight=False, emoji=False, markup=False)
    width = min(out.width, WIDTH) if out.is_terminal else WIDTH
    return Console(stderr=stderr, highlight=False, emoji=False, markup=False, width=width, soft_wrap=False)


@contextmanager
def busy(text: str, quiet: bool) -> Iterator[None]:
    """What is being done and how far it has come, on a terminal; silent when piped or quiet."""
    if quiet or not sys.stderr.isatty():
        yield
        return
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    from wearcast.progress import told_to

    columns = (SpinnerColumn("line"), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=console(stderr=True), transient=True) as progress:
        task = progress.add_task(text, total=None)
        with told_to(lambda said: progress.update(task, description=f"{text}: {said}")):
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


def end_of(history: History) -> None:
    """Tell the faults of engines that were refused while the others went on, and end as a refusal does."""
    if not history.refused:
        return
    names = ", ".join(" ".join(key) for key in history.refused)
    out = console(stderr=True)
    out.print(
        folded(
            f"Refused: {names}. No forecast, plan or order above counts it; the other engines stand.",
            out.width,
        )
    )
    out.print()
    for fault in history.left_out:
        show_query(fault, out)
    out.print("Correct them, or run again with --leave-out-faulty to go on without these rows alone.")
    raise typer.Exit(1)


def show_query(query: Query, out: Console) -> None:
    """One query as a short paragraph: where, what was found and expected, and what to do."""
    out.print(query.where or query.table, style="bold")
    out.print(folded(f"{query.text} {query.suggestion}".strip(), out.width, "  ", "  ") + "\n")


def folded(text: str, width: int = WIDTH, first: str = "", rest: str = "") -> str:
    """A paragraph folded between words; a number keeps its thousands and its unit beside it.

    >>> folded("in 12 300 h, 5 mm off", 12)
    'in 12 300 h,\\n5 mm off'
    """
    from wearcast.words import page_text, typed

    lines = textwrap.wrap(
        page_text(text), width, initial_indent=first, subsequent_indent=rest,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return typed("\n".join(lines)) if lines else ""


def show_padded(content: Table | Markdown, out: Console) -> None:
    """A table or a page without the blanks that pad its lines, which would only spoil a pasted text."""
    with out.capture() as captured:
        out.print(content)
    out.file.write("\n".join(line.rstrip() for line in captured.get().splitlines()) + "\n")
