"""`wearcast report`: offline pages, one an engine."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.aside import aside
from wearcast.cli.options import (
    AsOf,
    LeaveOut,
    OnlyEngine,
    OnlyVessel,
    Quiet,
    Records,
    SettingsFile,
    settings_from,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import date

    from wearcast.backtesting.run import Backtest
    from wearcast.forecasting.run import Forecast
    from wearcast.lives.only import Only
    from wearcast.report.decided import Decided


Out = Annotated[
    Path, typer.Option("--out", metavar="FOLDER", help="Folder for the pages.", show_default=False)
]
Pdf = Annotated[
    bool, typer.Option("--pdf", help="Print every page to PDF, too, by a Chromium on this machine.")
]
PdfPlaces = Annotated[
    bool, typer.Option("--pdf-places", help="Print one sheet for each place of an engine to PDF, too.")
]
WithBacktest = Annotated[
    bool,
    typer.Option("--backtest/--no-backtest", help="Show how far past forecasts were right; takes longer."),
]
WithDecisions = Annotated[
    bool, typer.Option("--decisions/--no-decisions", help="Show plan, order list and sisters; takes longer.")
]


def report(
    records: Records,
    out: Out,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    as_of: AsOf = None,
    pdf: Pdf = False,
    pdf_places: PdfPlaces = False,
    with_backtest: WithBacktest = True,
    with_decisions: WithDecisions = True,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Write one self-contained HTML page an engine, and an index: they open without a network."""
    from wearcast.cli.pdf import find_chromium
    from wearcast.cli.show import busy, end_of
    from wearcast.lives.only import Only, keys_of, refuse_if_asked

    chromium = find_chromium() if pdf or pdf_places else ""  # told before the long part
    with busy("Forecasting and drawing", quiet):
        from wearcast.forecasting.run import forecast as run_forecast

        result = run_forecast(records, as_of, settings_from(settings), leave_out_faulty)
        only = Only(vessel, engine)
        refuse_if_asked(only, result.history)
        keys_of(only, result.history.engines)  # told before the long part, if there is none such
        pages = _pages(result, only, with_backtest, with_decisions)
        printing = Printing(chromium, result.history.records.run_date, pdf, pdf_places)
        count = write_pages(out, pages, printing)
    if not quiet:
        whole = ", and each as PDF" if pdf else ""
        printed = f"{whole}{', and a sheet for each place' if pdf_places else ''}"
        typer.echo(f"Wrote {count} pages{printed}. Open {out / 'index.html'} in a browser.")
    end_of(result.history)


def _pages(
    result: Forecast, only: Only, with_backtest: bool, with_decisions: bool
) -> Iterator[tuple[str, str]]:
    """The pages one by one; a long backtest runs beside the decisions."""
    from wearcast.report.sheets import render_each
    from wearcast.report.what_if import WhatIfSource
    from wearcast.version import __version__

    with aside(_backtest, result, worth=with_backtest and with_decisions and _is_long(result)) as tested:
        decided = _decided(result) if with_decisions else None
        what_if = WhatIfSource(result, *((decided.plan, decided.order) if decided else ()))
        trust = tested() if with_backtest else None
    return render_each(result, __version__, (), trust, what_if, decided, only)


def _decided(result: Forecast) -> Decided:
    from wearcast.decide.compare import compare_at
    from wearcast.decide.order import order_at
    from wearcast.decide.plan import plan_at
    from wearcast.decide.stand import stand_of
    from wearcast.report.decided import Decided

    stand = stand_of(result)
    planned, ordered = plan_at(stand, result.settings.risk), order_at(stand, result.settings.service)
    return Decided(planned, ordered, compare_at(stand))


def _backtest(result: Forecast) -> Backtest:
    from wearcast.backtesting.run import backtest_of

    return backtest_of(result)


LONG_FROM_READINGS = 500
"""Readings from which the backtest lasts longer than a second process takes to start."""


def _is_long(result: Forecast) -> bool:
    return len(result.history.readings) >= LONG_FROM_READINGS


@dataclass(frozen=True)
class Printing:
    """What is printed, by which program, and of which day."""

    chromium: str
    on: date
    whole: bool
    places: bool


def write_pages(out: Path, pages: Iterable[tuple[str, str]], printing: Printing) -> int:
    """Write pages as they come, print each where that is asked for, and move them when all stand."""
    from wearcast.cli.pdf import print_page
    from wearcast.outputs import staged

    count = 0
    with staged(out) as stage:
        for name, text in pages:
            page = stage / name
            page.write_bytes(text.encode("utf-8"))
            if printing.whole:
                print_page(printing.chromium, page, page.with_suffix(".pdf"), printing.on)
            if printing.places and PLACES_ANCHOR in text:
                beside = page.with_name(f"{page.stem}-places.pdf")
                print_page(printing.chromium, page, beside, printing.on, PLACES_ON_PAPER)
            count += 1
    return count


PLACES_ANCHOR = '<details class="place"'
PLACES_ON_PAPER = "#places-on-paper"
"""The address at which a page unfolds all its places, a sheet each (places.js)."""
