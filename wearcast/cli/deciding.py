"""The options that plan, order and compare share, and their one way through: read, decide, write, show."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from inspect import Signature, signature
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

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
from wearcast.cli.what_if_options import (
    HoursPerYear,
    LeadTime,
    LimitOption,
    MoveWindow,
    Risk,
    Service,
    what_if_from,
)

if TYPE_CHECKING:
    from rich.console import Console

    from wearcast.cli.decisions import Decision
    from wearcast.decide.what_if import WhatIf
    from wearcast.lives.only import Only
    from wearcast.records.records import RecordSet
    from wearcast.settings import Settings

    Decided = TypeVar("Decided", bound=Decision)


@dataclass(frozen=True)
class Asked:
    """What every command that decides is asked."""

    records: str
    only: Only
    case: WhatIf
    csv_file: Path | None
    leave_out_faulty: bool
    settings: Path | None
    quiet: bool

    def decide(
        self,
        doing: str,
        run: Callable[[RecordSet, Settings, WhatIf], Decided],
        show: Callable[[Decided, Console], None],
    ) -> None:
        """Read the records, decide, write the table where one is asked for, and show the result.

        Parameters
        ----------
        doing : str
            What is done, for the bar on the terminal.
        """
        from wearcast.cli.decisions import write_tables
        from wearcast.cli.show import busy, console, end_of
        from wearcast.lives.only import Only, refuse_if_asked
        from wearcast.sources import read

        with busy(doing, self.quiet):
            result = run(read(self.records), settings_from(self.settings), self.case)
            history = result.stand.forecast.history
            refuse_if_asked(Only(self.only.vessel, self.only.engine), history)
            result = result.narrowed(self.only) if self.only else result
        if self.csv_file is not None:
            write_tables(result, self.csv_file)
        if not self.quiet:
            show(result, console())
        end_of(history)


def _asked(
    records: Records,
    vessel: OnlyVessel = "",
    engine: OnlyEngine = "",
    bearing: OnlyBearing = "",
    as_of: AsOf = None,
    risk: Risk = None,
    service: Service = None,
    hours_per_year: HoursPerYear = None,
    lead_time: LeadTime = None,
    move_window: MoveWindow = None,
    limit: LimitOption = None,
    csv_file: CsvFile = None,
    leave_out_faulty: LeaveOut = False,
    settings: SettingsFile = None,
    quiet: Quiet = False,
) -> Asked:
    from wearcast.lives.only import Only

    case = what_if_from(hours_per_year, lead_time, risk, service, as_of, move_window, limit)
    return Asked(records, Only(vessel, engine, bearing), case, csv_file, leave_out_faulty, settings, quiet)


def deciding(command: Callable[..., None]) -> Callable[..., None]:
    """The command with the shared options after its own; it is called with what they ask as its first argument."""
    own = list(signature(command, eval_str=True).parameters.values())[1:]
    records, *shared = signature(_asked, eval_str=True).parameters.values()

    @wraps(command)
    def called(**given: Any) -> None:
        mine = {one.name: given.pop(one.name) for one in own}
        command(_asked(**given), **mine)

    called.__signature__ = Signature([records, *own, *shared])  # type: ignore[attr-defined]
    called.__annotations__ = {one.name: one.annotation for one in (records, *own, *shared)}
    return called
