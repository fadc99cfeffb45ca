"""`wearcast compare`: sisters side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearcast.cli.deciding import Asked, deciding

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.decide.compare import ClassComparison, Comparison
    from wearcast.decide.compare_rows import CompareRow
    from wearcast.decide.what_if import WhatIf
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings


@deciding
def compare(asked: Asked) -> None:
    """Compare the wear rates of sister engines, and name what is out of line."""

    def run(records: RecordSet, settings: Settings, case: WhatIf) -> Comparison:
        from wearcast.decide.compare import compare as run_compare

        return run_compare(records, settings, case, asked.leave_out_faulty)

    asked.decide("Forecasting and comparing", run, show_comparison)


def show_comparison(result: Comparison, out: Console) -> None:
    """What is out of line, then every class with its engines side by side."""
    from wearcast.cli.decisions import CLOSING, say, say_what_if

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
    for one in result.classes:
        _show_class(one, out)
    out.print(
        "Rates in µm per 1000 h with their 90 % ranges; rank 1 wears fastest among the sisters at its place, with its "
        f"90 % range. A place is named only if it stands out after a correction for all places looked at. {CLOSING}"
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


def _show_class(one: ClassComparison, out: Console) -> None:
    from wearcast.cli.decisions import plain_table, say
    from wearcast.cli.show import show_padded
    from wearcast.decide.sections import place_row, slopes_in_words
    from wearcast.lives.shells import engine_key

    engines = list(dict.fromkeys(engine_key(row) for row in one.rows))
    table = plain_table(str(one.key))
    table.add_column("position", no_wrap=True)
    for vessel, engine in engines:
        table.add_column(f"{vessel} {engine}", no_wrap=True)
    table.add_column("equal\nslopes p", justify="right", no_wrap=True)
    for position in dict.fromkeys(row.position for row in one.rows):
        cells = {engine_key(row): row for row in one.rows if row.position == position}
        worded = {engine: place_row(row) for engine, row in cells.items()}
        table.add_row(
            position,
            *(
                f"{worded[e].rate}\n{f'rank {worded[e].rank}' if worded[e].rank else 'not comparable'}"
                if e in worded
                else ""
                for e in engines
            ),
            slopes_in_words(one, position),
        )
    effects = {engine_key(effect): effect for effect in one.engines}
    shown = [effects.get(engine) for engine in engines]
    table.add_row(
        "engine\nadds",
        *(f"{e.effect:+.2f}\n{e.lo90:+.2f} to {e.hi90:+.2f}" if e else "" for e in shown),
        "",
    )
    show_padded(table, out)
    reasons = dict.fromkeys(f"{row}: {row.not_comparable}." for row in one.rows if row.not_comparable)
    say(reasons, out)
    out.print()
