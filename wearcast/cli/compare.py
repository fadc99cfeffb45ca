"""`wearcast compare`: sisters side by side."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.deciding import Asked, deciding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from wearcast.decide.compare import ClassComparison, Comparison
    from wearcast.decide.compare_rows import CompareRow
    from wearcast.decide.what_if import WhatIf
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings

PLACES = 10
"""Places shown unless all are asked for."""


@deciding
def compare(
    asked: Asked,
    every: Annotated[
        bool,
        typer.Option(
            "--all", help=f"Every place, class by class, not the {PLACES} least like their sisters."
        ),
    ] = False,
) -> None:
    """Compare the wear rates of sister engines, and name what is out of line."""

    def run(records: RecordSet, settings: Settings, case: WhatIf) -> Comparison:
        from wearcast.decide.compare import compare as run_compare

        return run_compare(records, settings, case, asked.leave_out_faulty)

    def show(result: Comparison, out: Console) -> None:
        show_comparison(result, out, every)

    asked.decide("Forecasting and comparing", run, show)


def show_comparison(result: Comparison, out: Console, every: bool = False) -> None:
    """What is out of line, each engine as a whole, what could be seen at all; then the places."""
    from wearcast.cli.decisions import CLOSING, say, say_what_if
    from wearcast.decide.sections import power_in_words, shifts_in_words, whole_in_words

    out.print(f"As of {result.stand.as_of}.")
    say_what_if(result.what_if, out)
    out.print()
    _show_named(result.out_of_line, out)
    if result.as_given is not None:
        given = {str(row) for row in result.as_given.out_of_line}
        tried = {str(row) for row in result.out_of_line}
        say([f"As given out of line: {', '.join(sorted(given)) or 'none'}."], out, indent="")
        say([f"In this case: {', '.join(sorted(tried)) or 'none'}."], out, indent="")
        out.print()
    say(map(whole_in_words, result.wholes), out, indent="")
    say([*power_in_words(result), *shifts_in_words(result)], out, indent="")
    out.print()
    if every:
        for one in result.classes:
            _show_class(one, out)
    else:
        _show_least_alike(result.rows, out)
    say(
        [
            "Rates in µm per 1000 h with their 90 % ranges; rank 1 wears fastest among the sisters at its place, with "
            "its 90 % range. A place is named only if it stands out after a correction for all places looked at.",
            CLOSING,
        ],
        out,
        indent="",
    )


def _show_named(rows: tuple[CompareRow, ...], out: Console) -> None:
    from wearcast.cli.decisions import say
    from wearcast.decide.sections import sentence

    if not rows:
        out.print("No place is out of line with its sisters.", style="bold")
    for row in rows:
        out.print(f"Out of line: {row}", style="bold")
        say((sentence(reason) for reason in row.reasons), out)
    out.print()


def _show_least_alike(rows: Sequence[CompareRow], out: Console) -> None:
    """The places that are least like their sisters, out of line or not."""
    compared = sorted((row for row in rows if isfinite(row.p_holm)), key=lambda row: row.p)[:PLACES]
    left = len(rows) - len(compared)
    of = f"{len(compared)} of {len(rows)} places; --all shows every one" if left else f"{len(rows)} places"
    _show_rows(f"Least like their sisters first, {of}:", [(str(row), row) for row in compared], out)
    out.print()


def _show_class(one: ClassComparison, out: Console) -> None:
    """A class position by position, engine under engine, so that any number of sisters fits any width."""
    from wearcast.cli.decisions import say
    from wearcast.decide.sections import slopes_in_words

    rows: list[tuple[str, CompareRow | None]] = []
    last = ""
    for row in one.rows:
        slopes = slopes_in_words(one, row.position)
        if row.position != last:
            rows.append((f"{row.position}{f' (equal slopes: p {slopes})' if slopes else ''}", None))
        rows.append((f"  {row.vessel} {row.engine}", row))
        last = row.position
    _show_rows(str(one.key), rows, out)
    adds = [f"{e.vessel} {e.engine} {e.effect:+.2f} ({e.lo90:+.2f} to {e.hi90:+.2f})" for e in one.engines]
    say([f"Each engine adds: {', '.join(adds)}."], out)
    reasons = dict.fromkeys(f"{row}: {row.not_comparable}." for row in one.rows if row.not_comparable)
    say(reasons, out)
    out.print()


def _show_rows(title: str, rows: Sequence[tuple[str, CompareRow | None]], out: Console) -> None:
    from wearcast.cli.decisions import plain_table
    from wearcast.cli.show import show_padded
    from wearcast.decide.sections import place_row

    out.print(title, style="bold")
    table = plain_table()
    table.add_column("place")
    for name in ("rate", "rank"):
        table.add_column(name, no_wrap=True)
    for name, row in rows:
        told = place_row(row) if row else None
        table.add_row(name, told.rate if told else "", (told.rank or "not comparable") if told else "")
    show_padded(table, out)
