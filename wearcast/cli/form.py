"""`wearcast form`: a workbook to fill in at the engine, read back as it is."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from wearcast.cli.options import LeaveOut, Quiet, Records, SettingsFile, parse_day, settings_from

if TYPE_CHECKING:
    from wearcast.forecasting.run import Forecast


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
            help='Only this place, such as "main 3"; may be given several times. Left out, what the plan opens then.',
            show_default=False,
        ),
    ] = None,
    all_places: Annotated[
        bool, typer.Option("--all-places", help="All places, whatever the plan opens.")
    ] = False,
    without_ranges: Annotated[
        bool, typer.Option("--without-ranges", help="Leave out what is expected, for those who copy numbers.")
    ] = False,
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
    from wearcast.words import listed

    if out.suffix.casefold() != ".xlsx":
        raise WrongUse(f"--out {out}: a form is a workbook; name it .xlsx.")
    with busy("Forecasting the opening", quiet):
        record_set = read(records)
        result = forecast(record_set, None, settings_from(settings), leave_out_faulty)
        refuse_if_asked(Only(vessel, engine), result.history)
        asked = places or ([] if all_places else _planned(result, vessel, engine, opening))
        content = form_content(result, vessel, engine, opening, counter_h, asked)
        content = content.without_ranges() if without_ranges else content
    write_whole(out, form_workbook(content, record_set.run_date))
    if not quiet:
        if not asked and not all_places:
            typer.echo(f"The plan opens nothing at {opening}: the form asks for all places.")
        elif not places and not all_places:
            typer.echo(f"The plan opens {listed(asked)} then; --all-places asks for all.")
        known = sum(one.expected is not None for one in content.readings)
        typer.echo(f"{out}: {len(content.readings)} values to read, {known} with the range expected.")
        typer.echo(f"Filled in, it is read back as it is: wearcast book add BOOK {out.name} --by NAME")
    end_of(result.history)


def _planned(result: Forecast, vessel: str, engine: str, opening: date) -> list[str]:
    """The places that the plan opens on a day, those worth a look too; none where it opens nothing then."""
    from wearcast.decide.plan import plan_at
    from wearcast.decide.stand import stand_of
    from wearcast.records.names import spellings

    key = spellings(vessel, engine, tuple(result.history.engines))[0]
    if not any(window.on == opening for window in result.windows[key]):
        return []
    plan = plan_at(stand_of(result), result.settings.risk)
    return [str(one) for one in plan.openings if one.key == key and one.window.on == opening]
