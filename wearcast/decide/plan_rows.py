"""The rows behind a plan: every shell at every window, with its chance and what one more reading is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.fewest import Openings
from wearcast.decide.stand import Stand, left_of_fixed_h
from wearcast.decide.steps import EngineSteps, PlaceKey, ShellSteps
from wearcast.forecasting.statements import UNSETTLED
from wearcast.forecasting.windows import Window
from wearcast.lives.history import EngineKey
from wearcast.units import DAYS_PER_YEAR
from wearcast.wear.worth import Worth
from wearcast.words import chance as chance_words
from wearcast.words import stated_share

Floats = NDArray[np.float64]

COLUMNS = (
    "vessel", "engine", "window", "window_name", "window_kind", "max_openings", "until", "bearing", "position",
    "half", "quantity", "shell_size", "p_limit_before_until", "fixed_hours_left_h", "p_fixed_hours_before_until",
    "must_open", "planned", "range_narrows_by", "p_reading_changes_plan", "last_opened", "five_years_end",
    "statement", "reasons",
)  # fmt: skip
"""The columns of the table, in order. `until` is the next window, or the end of the horizon."""

SURVEY_YEARS = 5
"""Each item opened once in five years (survey cycle of the class rules, from memory: class decides)."""


@dataclass(frozen=True)
class PlanRow:
    """One shell (or clearance, journal, …) at one window.

    Attributes
    ----------
    chance : float
        That the limit is reached before `until` if it is not opened here; NaN where nothing can be said.
    fixed_left_h, fixed_chance : float
        Hours left of the maker's fixed hours [h], and the chance that they are run before `until`; NaN: none.
    must_open : bool
        Left for later it would go over the accepted risk (or is over already), and the plan has not opened it.
    planned : bool
        The plan opens its bearing here.
    narrows : float
        Share by which one more reading here narrows the 10–90 % range.
    calls : float
        Chance that this reading changes the plan.
    opened_before : date or None
        Window at which the plan opened it last; chances then are those of a shell new at that window.
    five_years_end : date or None
        Five years after it was last opened, by the record or by the plan.
    why : tuple of str
        What asks for opening it here.
    reasons : tuple of str
        Those, and what else the reader should know.
    """

    key: EngineKey
    window: Window
    until: date
    life: int
    bearing: str
    position: str
    half: str
    quantity: str
    shell_size: str
    chance: float
    fixed_left_h: float
    fixed_chance: float
    must_open: bool
    planned: bool
    narrows: float
    calls: float
    opened_before: date | None
    last_opened: date | None
    five_years_end: date | None
    statement: str
    why: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()


def plan_rows(
    stand: Stand, engines: tuple[EngineSteps, ...], chosen: Mapping[EngineKey, Openings], risk: float
) -> dict[EngineKey, list[list[PlanRow]]]:
    """Rows of every engine, window by window."""
    worths = _worths(stand, engines, risk)
    found: dict[EngineKey, list[list[PlanRow]]] = {}
    for engine in engines:
        made = chosen[engine.key]
        opened = _last_opened(stand, engine)
        found[engine.key] = [
            [
                _row(stand, engine, j, shell, made.opened[k], worths[j], risk, opened[place])
                for k, (place, shells) in enumerate(engine.shells.items())
                for shell in shells
            ]
            for j in range(len(engine.windows))
        ]
    return found


def _worths(stand: Stand, engines: tuple[EngineSteps, ...], risk: float) -> list[list[Worth]]:
    """Worth of opening at the first, second, … window of every engine, by class."""
    ends = {engine.key: engine.ends for engine in engines}
    most = max((len(engine.windows) for engine in engines), default=0)
    made = []
    for j in range(most):
        of_window = []
        for ahead in stand.classes:
            keys = [stand.engine_of(int(life)).key for life in ahead.lives]
            there = [ends[key] if key in ends and len(ends[key]) > j + 1 else None for key in keys]
            years = np.array([np.nan if on is None else stand.years_to(on[j]) for on in there])
            until = np.array([np.nan if on is None else stand.years_to(on[j + 1]) for on in there])
            of_window.append(ahead.worth_of_opening(years, until, risk))
        made.append(of_window)
    return made


def _last_opened(stand: Stand, engine: EngineSteps) -> dict[PlaceKey, date | None]:
    """When each place was last opened; its fitting, else the engine's first day, where no opening is known."""
    facts = stand.forecast.history.engines[engine.key].facts
    began = facts.get("in_service")
    first = began.date() if hasattr(began, "date") and began == began else None  # noqa: PLR0124  (NaT)
    found: dict[PlaceKey, date | None] = {}
    for place, shells in engine.shells.items():
        days = [stand.row_of_life[shell.life].last_opened for shell in shells]
        days += [stand.row_of_life[shell.life].fitted_on for shell in shells]
        found[place] = max((day for day in days if day is not None), default=first)
    return found


def _row(
    stand: Stand,
    engine: EngineSteps,
    j: int,
    shell: ShellSteps,
    opened: NDArray[np.bool_],
    worths: list[Worth],
    risk: float,
    last_opened: date | None,
) -> PlanRow:
    known = stand.row_of_life[shell.life]
    c, k = shell.row_of_class
    before = np.flatnonzero(opened[:j])
    since = int(before[-1]) + 1 if len(before) else 0  # node of the last opening before this window
    must = bool(np.nan_to_num(shell.chance[since, j + 2]) > risk + 1e-9)
    last = engine.windows[since - 1].on if since else last_opened
    ends_on = None if last is None else last + timedelta(days=round(SURVEY_YEARS * DAYS_PER_YEAR))
    row = PlanRow(
        key=engine.key,
        window=engine.windows[j],
        until=engine.ends[j + 1],
        life=shell.life,
        bearing=known.bearing,
        position=known.position,
        half=known.half,
        quantity=known.quantity,
        shell_size=known.shell_size,
        chance=float(shell.wear[since, j + 2]),
        fixed_left_h=left_of_fixed_h(stand, shell.life),
        fixed_chance=float(shell.fixed[since, j + 2]),
        must_open=must,
        planned=bool(opened[j]),
        narrows=np.nan if since else float(worths[c].narrows[k]),
        calls=np.nan if since else float(worths[c].calls[k]),
        opened_before=engine.windows[since - 1].on if since else None,
        last_opened=last_opened,
        five_years_end=ends_on,
        statement=known.statement,
    )
    why = _why(engine, j, shell, row, risk)
    reasons = (*why, *_beside(stand, shell, row, j))
    return replace(row, why=why, reasons=reasons)


def _why(engine: EngineSteps, j: int, shell: ShellSteps, row: PlanRow, risk: float) -> tuple[str, ...]:
    said = []
    what = f"{row.quantity.replace('_', ' ')} {row.half}".strip()
    if row.must_open and shell.at_once and not row.opened_before:
        said.append(f"{what}: {shell.at_once}")
    elif row.must_open:
        if row.fixed_chance > risk:
            said.append(
                f"{what}: maker's fixed hours run out before {row.until} ({row.fixed_left_h:.0f} h are left)"
            )
        if row.chance > risk:
            said.append(
                f"{what}{' of a new shell' if row.opened_before else ''}: the limit falls before {row.until} with a "
                f"chance of {chance_words(row.chance, risk)}, above the accepted {stated_share(risk)}"
            )
    if _five_years_here(engine, j, row):
        said.append(
            f"last opened {row.opened_before or row.last_opened}: five years end on {row.five_years_end} (survey "
            "cycle, from memory; class decides)"
        )
    return tuple(said)


def _five_years_here(engine: EngineSteps, j: int, row: PlanRow) -> bool:
    """Whether this is the first window after which the five years would run out."""
    if row.five_years_end is None:
        return False
    before = engine.ends[j] if j else None
    return row.five_years_end < row.until and (before is None or row.five_years_end >= before)


def _beside(stand: Stand, shell: ShellSteps, row: PlanRow, j: int) -> tuple[str, ...]:
    said = []
    if np.isnan(row.chance):
        said.append("no chance can be given: no limit governs here")
    if row.opened_before:
        said.append(f"the chance is that of a new shell, for the plan opens it on {row.opened_before}")
    elif stand.classes[shell.row_of_class[0]].unsettled[shell.row_of_class[1]]:
        said.append(UNSETTLED)
    if j == 0 and np.nan_to_num(shell.wear[0, 1]) > 0 and row.must_open and not shell.at_once:
        said.append(f"before this window already: {chance_words(float(shell.wear[0, 1]))}")
    return tuple(said)


def values_of(row: PlanRow) -> dict[str, Any]:
    """The row as a row of the table."""
    return {
        "vessel": row.key[0],
        "engine": row.key[1],
        "window": row.window.on,
        "window_name": row.window.name,
        "window_kind": row.window.kind,
        "max_openings": row.window.max_openings,
        "until": row.until,
        "bearing": row.bearing,
        "position": row.position,
        "half": row.half,
        "quantity": row.quantity,
        "shell_size": row.shell_size,
        "p_limit_before_until": row.chance,
        "fixed_hours_left_h": row.fixed_left_h,
        "p_fixed_hours_before_until": row.fixed_chance,
        "must_open": row.must_open,
        "planned": row.planned,
        "range_narrows_by": row.narrows,
        "p_reading_changes_plan": row.calls,
        "last_opened": row.last_opened,
        "five_years_end": row.five_years_end,
        "statement": row.statement,
        "reasons": "; ".join(row.reasons),
    }
