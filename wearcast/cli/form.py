"""`wearcast form`: a workbook to fill in at the engine, read back as it is."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from wearcast.cli.options import LeaveOut, Quiet, Records, SettingsFile, parse_day, settings_from


def form(
    records: Records,
    vessel: Annotated[str, typer.Option("--vessel", metavar="V", help="Vessel.", show_default=False)],
    engine: Annotated[str, typer.Option("--engine", metavar="E", help="Engine.", show_default=False)],
    opening: Annotated[
        date,
        typer.Option(
            "--opening",
            metavar="DATE",
            parser=parse_day,
            help="When the bearings are to be opened (2027-01-15).",
            show_default=False,
        ),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="The form, an .xlsx file.", show_default=False)
    ],
    counter_h: Annotated[
        float | None,
        typer.Option(
            "--counter-h",
            metavar="N",
            min=0,
            help="What the counter will show then; else it follows from the engine's yearly use.",
            show_default=False,
        ),
    ] = None,
    places: Annotated[
        list[str] | None,
        typer.Option(
            "--place",
            metavar="PLACE",
            help='Only this place, such as "main 3"; may be given several times. All places if left out.',
            show_default=False,
        ),
    ] = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Write a form for the ship: what to read at an opening, with the range each value is expected in."""
    from wearcast.cli.show import busy, end_of
    from wearcast.errors import WrongUse
    from wearcast.forecasting.run import forecast
    from wearcast.forms.asked import form_content
    from wearcast.forms.workbook import form_workbook
    from wearcast.lives.only import Only, refuse_if_asked
    from wearcast.outputs import write_whole
    from wearcast.sources import read

    if out.suffix.casefold() != ".xlsx":
        raise WrongUse(f"--out {out}: a form is a workbook; name it .xlsx.")
    with busy("Forecasting the opening", quiet):
        record_set = read(records)
        result = forecast(record_set, None, settings_from(settings), leave_out_faulty)
        refuse_if_asked(Only(vessel, engine), result.history)
        content = form_content(result, vessel, engine, opening, counter_h, places or ())
    write_whole(out, form_workbook(content, record_set.run_date))
    if not quiet:
        known = sum(one.expected is not None for one in content.readings)
        typer.echo(f"{out}: {len(content.readings)} values to read, {known} with the range expected.")
        typer.echo(f"Filled in, it is read back as it is: wearcast book add BOOK {out.name} --by NAME")
    end_of(result.history)
