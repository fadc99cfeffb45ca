"""`wearcast plan`: what to open at which window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.deciding import Asked, deciding

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.decide.plan import Plan
    from wearcast.decide.sections import OpeningRow, WindowRow
    from wearcast.decide.what_if import WhatIf
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings


@deciding
def plan(
    asked: Asked,
    horizon_years: Annotated[
        float | None,
        typer.Option(
            "--horizon-years",
            metavar="N",
            min=0.1,
            help="How far the plan looks (5, a survey cycle).",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say which bearings to open at which window, and what to read there."""

    def run(records: RecordSet, settings: Settings, case: WhatIf) -> Plan:
        from wearcast.decide.plan import HORIZON_YEARS
        from wearcast.decide.plan import plan as run_plan

        years = HORIZON_YEARS if horizon_years is None else horizon_years
        return run_plan(records, settings, years, case, asked.leave_out_faulty)

    asked.decide("Forecasting and planning", run, show_plan)


def show_plan(result: Plan, out: Console) -> None:
    """Openings engine by engine and window by window, and the crew's list of the next one."""
    from wearcast.cli.decisions import CLOSING, say, say_what_if
    from wearcast.decide.sections import window_rows
    from wearcast.words import stated_share

    out.print(
        f"As of {result.stand.as_of}, to {result.horizon_end}; accepted risk {stated_share(result.risk)}: the chance "
        "that a limit is reached before the bearing is next opened."
    )
    say_what_if(result.what_if, out)
    out.print()
    if result.warnings:
        out.print("Past or above the accepted risk, and what would keep each:", style="bold")
        say(result.warnings, out)
        out.print()
    for key in result.stand.forecast.history.engines:
        for number, window in enumerate(window_rows(result, key)):
            _show_window(window, out, with_list=number == 0)
    if result.as_given is not None:
        _show_difference(result, result.as_given, out)
    out.print(
        "Chances after a planned opening are those of a new shell. What was opened is put back only if what is read "
        f"lets it pass the same test. {CLOSING}"
    )


def _show_window(window: WindowRow, out: Console, with_list: bool) -> None:
    """One window; for the next one also what the crew reads and photographs there."""
    from wearcast.cli.decisions import plain_table
    from wearcast.cli.show import show_padded

    allowed = f", {window.allowed}" if window.allowed else ""
    table = plain_table(f"{' '.join(window.key)}, {window.window}{allowed}")
    table.add_column("position", no_wrap=True)
    table.add_column("plan", no_wrap=True)
    table.add_column(f"chance\nbefore\n{window.until}", justify="right", no_wrap=True)
    table.add_column("a reading\nchanges\nthe plan", justify="right", no_wrap=True)
    table.add_column("why")
    for one in window.openings:
        table.add_row(one.position, one.standing, one.chance, one.reading_changes_plan, "; ".join(one.why))
    show_padded(table, out)
    if with_list:
        _show_list([one for one in window.openings if one.standing != "worth a look"], out)
    out.print()


def _show_list(openings: list[OpeningRow], out: Console) -> None:
    """What the crew reads and photographs; alike positions share one list."""
    from wearcast.cli.decisions import say

    groups: dict[tuple[str, ...], list[OpeningRow]] = {}
    for one in openings:
        groups.setdefault(one.read, []).append(one)
    for lines, alike in groups.items():
        out.print(f"Read at {', '.join(one.position for one in alike)}:")
        say(lines, out)
    if openings:
        say([f"Photograph: {', '.join(openings[0].photograph)}."], out, indent="")
    beside = [f"{one.position}: {', '.join(one.neighbours)}" for one in openings if one.neighbours]
    if beside:
        say([f"If a shell is renewed, look at its neighbours too ({'; '.join(beside)})."], out, indent="")


def _show_difference(result: Plan, as_given: Plan, out: Console) -> None:
    """Openings that only one of the two cases has."""
    from wearcast.cli.decisions import say

    def named(case: Plan) -> dict[tuple[object, ...], str]:
        return {
            (one.key, one.window.row, one.bearing, one.position): f"{' '.join(one.key)} {one} at {one.window}"
            for one in case.planned
        }

    given, tried = named(as_given), named(result)
    out.print(f"As given {len(given)} openings, in this case {len(tried)}.", style="bold")
    say([f"Only as given: {text}." for name, text in given.items() if name not in tried], out)
    say([f"Only in this case: {text}." for name, text in tried.items() if name not in given], out)
    out.print()
