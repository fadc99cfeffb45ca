"""`wearcast brief`: one screen, what must be done first."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
    as_of: AsOf = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> None:
    """Say on one screen what must be done first, and how far to trust it."""
    from wearcast.cli.show import busy, console, end_of
    from wearcast.decide.brief import brief as make
    from wearcast.lives.only import Only
    from wearcast.sources import read

    with busy("Forecasting and deciding", quiet):
        made = make(read(records), settings_from(settings), Only(vessel, engine), as_of, leave_out_faulty)
    if not quiet:
        show_brief(made, console())
    end_of(made.stand.forecast.history)


def show_brief(made: Brief, out: Console) -> None:
    """Every line under its label, the label once."""
    from wearcast.cli.decisions import CLOSING, say
    from wearcast.decide.brief_words import said

    out.print(f"As of {made.stand.as_of}. {CLOSING.split('.')[0]}.", style="bold")
    say((text for _, text in said(made)), out, "")
