"""`wearcast plan`: what to open at which window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.deciding import Asked, deciding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from wearcast.decide.plan import Plan
    from wearcast.decide.sections import OpeningRow, WindowRow
    from wearcast.decide.urgent import Warned
    from wearcast.decide.what_if import WhatIf
    from wearcast.lives.history import EngineKey
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
    every: Annotated[
        bool, typer.Option("--all", help="Every window in full, not the next one of each engine alone.")
    ] = False,
) -> None:
    """Say which bearings to open at which window, and what to read there."""

    def run(records: RecordSet, settings: Settings, case: WhatIf) -> Plan:
        from wearcast.decide.plan import HORIZON_YEARS
        from wearcast.decide.plan import plan as run_plan

        years = HORIZON_YEARS if horizon_years is None else horizon_years
        return run_plan(records, settings, years, case, asked.leave_out_faulty)

    def show(result: Plan, out: Console) -> None:
        show_plan(result, out, every)

    asked.decide("Forecasting and planning", run, show)


def show_plan(result: Plan, out: Console, every: bool = False) -> None:
    """What is urgent; then engine by engine the next window with the crew's list, and the later ones in short."""
    from wearcast.cli.decisions import CLOSING, say, say_what_if
    from wearcast.decide.sections import window_rows
    from wearcast.words import stated_share

    say(
        [
            f"As of {result.stand.as_of}, to {result.horizon_end}; accepted risk {stated_share(result.risk)}: the "
            "chance that a limit is reached before the bearing is next opened."
        ],
        out,
        "",
    )
    say_what_if(result.what_if, out)
    out.print()
    if result.warnings:
        out.print("Past or above the accepted risk, and what would keep each:", style="bold")
        _show_warned(result.warned, out)
        out.print()
    for key in result.stand.forecast.history.engines:
        rows = window_rows(result, key)
        for number, window in enumerate(rows if every else rows[:1]):
            _show_window(window, out, number == 0, ROWS if not every else len(window.openings))
        if len(rows) > 1 and not every:
            say([f"{' '.join(key)}, later: {'; '.join(map(_in_short, rows[1:]))}; --all shows why."], out, "")
            out.print()
    if result.as_given is not None:
        _show_difference(result, result.as_given, out)
    say(
        [
            "Chances after a planned opening are those of a new shell. What was opened is put back only if what is "
            f"read lets it pass the same test. {CLOSING}"
        ],
        out,
        "",
    )


ROWS = 10
"""Openings of a window that are shown unless all are asked for; what is planned or must be always is."""


def _show_warned(warned: Sequence[Warned], out: Console) -> None:
    """Engine by engine; what would keep several places in the same way is said once, above them."""
    from itertools import groupby

    from wearcast.cli.decisions import say
    from wearcast.words import capital

    alike: dict[tuple[EngineKey, str], list[Warned]] = {}
    for one in warned:
        alike.setdefault((one.key, one.how), []).append(one)
    for key, of_engine in groupby(alike, key=lambda one: one[0]):
        out.print(f"  {' '.join(key)}", style="bold")
        for name in of_engine:
            if not name[1]:
                say((f"{capital(one.what)}." for one in alike[name]), out, "    ")
                continue
            say([f"{capital(name[1])}:"], out, "    ")
            say((f"{one.place}: {one.what}" for one in alike[name]), out, "      ")


def _in_short(window: WindowRow) -> str:
    """A window with what is opened there, by name."""
    opened = [one.position for one in window.openings if one.standing == "open"]
    return f"{window.window}: {', '.join(opened) or 'nothing'}"


def _show_window(window: WindowRow, out: Console, with_list: bool, most: int) -> None:
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
    planned = [one for one in window.openings if one.standing != "worth a look"]
    looks = [one for one in window.openings if one.standing == "worth a look"]
    left = len(looks) - max(most - len(planned), 0)
    for one in (*planned, *looks[: max(most - len(planned), 0)]):
        table.add_row(one.position, one.standing, one.chance, one.reading_changes_plan, "; ".join(one.why))
    show_padded(table, out)
    if left > 0:
        out.print(f"{left} more worth a look; --all shows them.")
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
