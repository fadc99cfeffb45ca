"""`wearcast forecast`: hours to the limit, what comes soonest first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from math import inf, isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import (
    AsOf,
    CsvFile,
    LeaveOut,
    OnlyBearing,
    OnlyEngine,
    OnlyVessel,
    Quiet,
    Records,
    SettingsFile,
    settings_from,
)
from wearcast.cli.what_if_options import HoursPerYear, what_if_from

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.forecasting.rows import ShellForecast
    from wearcast.forecasting.run import Forecast

CLEARLY_SOONER = 0.8
"""Share of the early hours from which what the doubted readings would say is told beside the table (judgement)."""

ROWS = 10
"""Rows shown unless all are asked for."""


def forecast(
    records: Records,
    as_of: AsOf = None,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    bearing: OnlyBearing = "",
    every: Annotated[bool, typer.Option("--all", help=f"Every row, not the {ROWS} soonest.")] = False,
    hours_per_year: HoursPerYear = None,
    csv_file: CsvFile = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Write the table as JSON.", show_default=False),
    ] = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Forecast the running hours until each bearing shell reaches its replacement limit."""
    from wearcast.cli.decisions import say_what_if
    from wearcast.cli.show import busy, console, end_of
    from wearcast.decide.what_if import changed_records
    from wearcast.forecasting.run import forecast as run_forecast
    from wearcast.forecasting.table import table_of
    from wearcast.frames import records_of
    from wearcast.lives.only import Only, refuse_if_asked
    from wearcast.outputs import write_whole
    from wearcast.sources import read
    from wearcast.texts import csv_text, json_text

    case = what_if_from(hours_per_year)
    with busy("Forecasting", quiet):
        given = changed_records(read(records), case)
        result = run_forecast(given, as_of, settings_from(settings), leave_out_faulty)
        refuse_if_asked(Only(vessel, engine), result.history)
        only = Only(vessel, engine, bearing).among(row.key[:4] for row in result.rows)
        rows = tuple(row for row in result.rows if only.holds(*row.key[:4]))
    table = table_of(rows)
    if csv_file is not None:
        write_whole(csv_file, csv_text(table))
    if json_file is not None:
        write_whole(json_file, json_text(records_of(table)))
    if not quiet:
        out = console()
        say_what_if(case if case.any else None, out)
        show_forecast(result, rows, out, len(rows) if every else ROWS)
    end_of(result.history)


def show_forecast(result: Forecast, rows: Sequence[ShellForecast], out: Console, most: int = ROWS) -> None:
    """Where the engines stand and how many rows say what; then the soonest rows, and what stands behind them."""
    from wearcast.cli.show import folded
    from wearcast.words import counted

    _show_engines(result, rows, out)
    said = Counter(row.statement for row in sorted(rows, key=_soonness))
    out.print(folded("Rows: " + ", ".join(f"{name} {n}" for name, n in said.items()) + ".", out.width) + "\n")
    shown = sorted(rows, key=_soonness)[:most]
    left = len(rows) - len(shown)
    of = f"{len(shown)} of {len(rows)} rows; --all shows every one" if left else counted(len(rows), "row")
    out.print(f"Soonest first, {of}:", style="bold")
    _show_rows(shown, result.history.records.run_date, out)
    _show_doubted(shown, out)
    out.print()
    show_behind(result, out)


def _soonness(row: ShellForecast) -> tuple[bool, bool, date, float]:
    """Damage and limits passed first, then by the early date, and by the early hours where there is none."""
    from wearcast.forecasting.statements import URGENT

    hours = row.hours_at(10)
    return (
        not row.damaged,
        row.statement not in URGENT,
        row.date_at(10) or date.max,
        hours if isfinite(hours) else inf,
    )


def _show_engines(result: Forecast, rows: Sequence[ShellForecast], out: Console) -> None:
    from wearcast.cli.show import folded
    from wearcast.forecasting.words import days_since_in_words, engine_in_words

    run_date = result.history.records.run_date
    for key in dict.fromkeys(row.key[:2] for row in rows):
        at = result.history.engines[key]
        since = days_since_in_words(at, run_date)
        out.print(folded(f"{engine_in_words(at)}. {since}", out.width, "", "  "))
    out.print()


def _show_rows(rows: Sequence[ShellForecast], run_date: date, out: Console) -> None:
    """Two lines a row: when, and which place; then what the limit does there."""
    from wearcast.cli.decisions import plain_table
    from wearcast.cli.show import show_padded
    from wearcast.forecasting.words import early_in_words, place_in_words, said_in_words
    from wearcast.words import hours, typed

    table = plain_table()
    table.add_column("early date\n10 %", no_wrap=True)
    for title in ("hours\n10 %", "\n50 %", "\n90 %"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("place, and what the limit does there")
    for row in rows:
        ahead = [typed(hours(row.hours_at(percent), "open")) for percent in (10, 50, 90)]
        told = [
            early_in_words(row, run_date),
            *([""] * 3 if row.damaged or not row.facts.governed else ahead),
        ]
        table.add_row(*told, f"{place_in_words(row)}\n{said_in_words(row)}")
    show_padded(table, out)


def _show_doubted(rows: Sequence[ShellForecast], out: Console) -> None:
    """Where the doubted readings, let in, would bring the early end clearly forward."""
    from wearcast.cli.decisions import say
    from wearcast.forecasting.words import place_in_words
    from wearcast.words import hours

    for row in rows:
        without, beside = row.hours_p10_without_doubted, row.hours_p10_with_doubted
        if beside < CLEARLY_SOONER * without or (isfinite(beside) and not isfinite(without)):
            out.print()
            ends = f"10 % within {hours(beside)} h; left out, within {hours(without)} h"
            say([f"{place_in_words(row)}: with the doubted readings let in, {ends}."], out)


def _what_becomes(result: Forecast) -> str:
    """What becomes of doubted readings in this forecast."""
    towards = any(one.unsettled.any() for one in result.classes if len(one.lives))
    if not towards:
        return "Doubted readings are left out."
    return (
        "Doubted readings are left out, but for the last of a shell where it lies towards the limit: there the "
        "forecast is half with it and half without, until it is settled."
    )


def show_behind(result: Forecast, out: Console) -> None:
    """What was left out, doubted and assumed, shortly."""
    from wearcast.cli.decisions import say

    if result.history.left_out and not result.history.refused:
        out.print("Left out, because it could not be used:", style="bold")
        say([f"{fault.where}: {fault.text}" for fault in result.history.left_out], out)
        out.print()
    if result.queries:
        doubted = "Some of these records are doubted: wearcast check lists them."
        say([f"{doubted} {_what_becomes(result)}"], out, "")
    say(
        [
            "Hours are running hours from each engine's as-of moment, a range: with 10 % chance the limit is reached "
            "sooner than the first, with 90 % by the last. Open: no upper bound from these readings. Not dated: no "
            "yearly use known, or too far off.",
            "Readings suggest; maker's limits and intervals, class and licensed engineers decide.",
        ],
        out, "",
    )  # fmt: skip
