"""`wearcast brief`: one screen, what must be done first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearcast.cli.moved import From, Since
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
    from rich.console import Console

    from wearcast.decide.brief import Brief


def brief(
    records: Records,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    since: Since = None,
    old: From = "",
    as_of: AsOf = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Say on one screen what must be done first, what has moved, and how far to trust it.

    What moved is told since --since or --from; of a record book, where neither is given, since what was added last.
    """
    from wearcast.cli.show import busy, console, end_of
    from wearcast.decide.brief import brief as make
    from wearcast.decide.moved import as_of_then
    from wearcast.errors import WrongUse
    from wearcast.lives.only import Only
    from wearcast.sources import day_before_last_import, read

    if old and since:
        raise WrongUse(
            "Name then once: --since DATE, or --from OLD where the records of that time were kept."
        )
    with busy("Forecasting and deciding", quiet):
        now = read(records)
        day = since or (None if old or as_of else day_before_last_import(records))
        then = read(old) if old else (as_of_then(records, now, day) if day else None)
        only = Only(vessel, engine)
        made = make(now, settings_from(settings), only, as_of, leave_out_faulty, then)
    if not quiet:
        show_brief(made, console())
    end_of(made.stand.forecast.history)


def show_brief(made: Brief, out: Console) -> None:
    """Every line under its label, the label once."""
    from wearcast.cli.decisions import CLOSING, say
    from wearcast.decide.brief_words import said

    say([f"As of {made.stand.as_of}. {CLOSING.split('.')[0]}."], out, "")
    say((text for _, text in said(made)), out, "")
