"""What to open at which window: what must be, the fewest openings over a horizon, and what is worth a look."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd

from wearcast.decide.fewest import fewest_openings
from wearcast.decide.opening_list import practice_of
from wearcast.decide.openings import Opening, openings_at
from wearcast.decide.plan_rows import COLUMNS, PlanRow, plan_rows, values_of
from wearcast.decide.stand import Stand, take_stand
from wearcast.decide.steps import engine_steps, horizon_from
from wearcast.decide.urgent import Urgent, Warned
from wearcast.decide.what_if import WhatIf, changed_records, changed_settings
from wearcast.lives.only import Only
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.shown import Shown
from wearcast.sources import records_from

HORIZON_YEARS = 5.0
"""How far the plan looks [years]: a survey cycle (from memory)."""


@dataclass(frozen=True, eq=False, repr=False)
class Plan(Shown):
    """Openings of every engine over a horizon.

    Attributes
    ----------
    risk : float
        Accepted chance that a limit is reached before a bearing is next opened.
    openings : tuple of Opening
        Planned and offered, by engine and window.
    rows : tuple of PlanRow
        Every shell at every window.
    warned : tuple of Warned
        Places past or above the accepted risk with what would keep each, and engines without dates or windows.
    what_if, as_given
        The changes tried, and the plan without them.
    """

    stand: Stand
    risk: float
    horizon_end: date
    openings: tuple[Opening, ...]
    rows: tuple[PlanRow, ...]
    warned: tuple[Warned, ...]
    what_if: WhatIf | None = None
    as_given: Plan | None = None

    @property
    def table(self) -> pd.DataFrame:
        """One row a window, engine and shell."""
        return pd.DataFrame([values_of(row) for row in self.rows], columns=list(COLUMNS))

    def headline(self) -> str:
        """How many openings are planned, to when, at which accepted risk."""
        return (
            f"Plan to {self.horizon_end}: {len(self.planned)} openings at an accepted risk of {self.risk:g}, "
            f"{len(self.warnings)} warnings"
        )

    def glance(self) -> pd.DataFrame:
        """What is opened at which window."""
        table = self.table
        shown = [
            "vessel",
            "engine",
            "window",
            "bearing",
            "position",
            "half",
            "quantity",
            "p_limit_before_until",
        ]
        return table.loc[table["planned"], shown]

    def narrowed(self, only: Only) -> Plan:
        """The openings, rows and warnings of the places asked for."""
        only.among(row.key[:4] for row in self.stand.forecast.rows)
        return replace(
            self,
            openings=tuple(one for one in self.openings if only.holds(*one.key, one.bearing, one.position)),
            rows=tuple(row for row in self.rows if only.holds(*row.key, row.bearing, row.position)),
            warned=tuple(one for one in self.warned if only.holds(*one.key, one.bearing, one.position)),
            as_given=self.as_given and self.as_given.narrowed(only),
        )

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is warned of, a sentence each."""
        return tuple(map(str, self.warned))

    @property
    def planned(self) -> tuple[Opening, ...]:
        """Openings of the plan."""
        return tuple(opening for opening in self.openings if opening.planned)


def plan(
    records: RecordSet | str | Path,
    settings: Settings | None = None,
    horizon_years: float = HORIZON_YEARS,
    what_if: WhatIf | None = None,
    leave_out_faulty: bool = False,
) -> Plan:
    """Choose what to open at which window.

    Parameters
    ----------
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    settings : Settings, optional
        Holds the accepted risk.
    horizon_years : float
    what_if : WhatIf, optional
        Changes to try; the result then holds both cases.

    Returns
    -------
    Plan

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    settings = settings or Settings()
    records = records_from(records)
    stand = take_stand(records, None, settings, leave_out_faulty)
    made = plan_at(stand, settings.risk, horizon_years)
    if what_if is None or not what_if.any:
        return made
    case = stand
    if what_if.touches_forecast:
        case = take_stand(changed_records(records, what_if), what_if.as_of, settings, leave_out_faulty)
    changed = plan_at(case, changed_settings(settings, what_if).risk, horizon_years)
    return replace(changed, what_if=what_if, as_given=made)


def plan_at(stand: Stand, risk: float, horizon_years: float = HORIZON_YEARS) -> Plan:
    """The plan of a fleet that stands already."""
    end = horizon_from(stand.as_of, horizon_years)
    practice = practice_of(stand.forecast.history)
    engines = engine_steps(stand, end)
    openings: list[Opening] = []
    rows: list[PlanRow] = []
    chosen = {engine.key: fewest_openings(engine.of_places(), risk, engine.most) for engine in engines}
    found = plan_rows(stand, engines, chosen, risk)
    for engine in engines:
        made = chosen[engine.key]
        mine = found[engine.key]
        rows += [row for by_window in mine for row in by_window]
        for j in range(len(engine.windows)):
            openings += openings_at(stand, practice, engine, made, j, mine[j])
    warned = Urgent(stand, risk).said({engine.key: (engine, chosen[engine.key]) for engine in engines})
    return Plan(stand, risk, end, tuple(openings), tuple(rows), warned)
