"""Queries about wear that does not go on as it went: when, by which factor, on what it rests, and what to ask."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wearcast.forecasting.calendar import date_of, recorded_changes
from wearcast.forecasting.classes import engines_of
from wearcast.frames import rows_of
from wearcast.lives.history import EngineKey, History
from wearcast.queries import Query
from wearcast.wear.pooled.clock import Kind, Scope
from wearcast.wear.pooled.clock_said import SaidChange, rests_on

if TYPE_CHECKING:
    from wearcast.forecasting.solved import ClassForecast

USUAL_CAUSES = {
    True: "another fuel or oil, higher load or speed, a filter or centrifuge out of order, a crank realigned",
    False: "slow steaming or lower load, another fuel or oil, a better filter, another gauge",
}
"""What usually quickens (True) or slows wear; common practice, no source."""


def changed_rates(history: History, fit: ClassForecast) -> list[Query]:
    """One query a class whose wear has changed by the readings."""
    return [_query(history, fit, change) for change in fit.changed]


def engines(fit: ClassForecast, history: History) -> list[EngineKey]:
    """Engines of a class in the order of their labels."""
    places = [history.lives[k].place for k in fit.one.lives.tolist()]
    return engines_of([(place.vessel, place.engine) for place in places])


def _query(history: History, fit: ClassForecast, change: SaidChange) -> Query:
    rows = fit.one.rows[~fit.screened.left_out][rests_on(fit.kept, change)]
    told = list(rows_of(history.readings.iloc[rows]))
    vessel, engine = concerns(history, fit, change)
    first = told[0] if told else None
    return Query(
        "rate_changed",
        f"{fit.key}: {change_words(history, fit, change)} It rests on {len(told)} readings.",
        _ask(change),
        table="readings",
        rows=tuple(sorted(int(row.row) for row in told if row.table == "readings")),
        file="" if first is None else first.file,
        sheet="" if first is None else first.sheet,
        vessel=vessel,
        engine=engine,
        bearing=fit.key.bearing,
        half=fit.key.half,
        evidence=round(change.weight, 3),
    )


def concerns(history: History, fit: ClassForecast, change: SaidChange) -> EngineKey:
    """Vessel and engine a change concerns; both empty for the whole class."""
    keys = engines(fit, history)
    if change.scope is Scope.ENGINE:
        return keys[change.label]
    if change.scope is Scope.VESSEL:
        return sorted({vessel for vessel, _ in keys})[change.label], ""
    return "", ""


def change_words(history: History, fit: ClassForecast, change: SaidChange) -> str:
    """What changed, when and by how much, in one sentence."""
    span = f"{change.factor:.2g} (90 %: {change.factor_p05:.2g} to {change.factor_p95:.2g})"
    if change.kind is Kind.AGE:
        way = "slows as shells age" if change.factor < 1 else "gathers pace as shells age"
        return f"wear {way}: it goes with the shell's hours to the power {span}."
    if change.kind is Kind.DEPTH:
        depth = _depth(fit, change)
        return f"past a wear of {depth} µm it goes on {span} times as fast: as if the overlay were through."
    vessel, engine = concerns(history, fit, change)
    who = f"{vessel} {engine}".strip() or (
        "the engines concerned" if change.scope is Scope.PLACES else "all sisters"
    )
    when = date_of(change.year).strftime("%Y-%m")
    verb = "wears" if change.scope in (Scope.VESSEL, Scope.ENGINE) else "wear"
    if change.kind is Kind.PULSE:
        return f"from about {when} {who} wore {span} times as fast for some years, and then as before."
    noted = f"since {_noted(history, fit, change)}" if change.recorded else f"from about {when} on"
    return f"{noted} {who} {verb} {span} times as fast as before."


def _depth(fit: ClassForecast, change: SaidChange) -> str:
    share = np.array([one.part.depth for one in change.parts])
    if np.isnan(share).any():
        return f"{np.nanmedian(fit.kept.series_overlay_um):.0f}"
    weight = np.array([one.weight for one in change.parts])
    return f"about {float(share @ weight / weight.sum()) * fit.kept.allowance_um:.0f}"


def _noted(history: History, fit: ClassForecast, change: SaidChange) -> str:
    """The recorded change: `2022-03-01 (fuel)`."""
    on = date_of(change.year)
    told = recorded_changes(history, fit.key.bearing, engines(fit, history))
    near = min(told, key=lambda one: abs((one.on - on).days))
    return f"{near.on} ({near.finding})"


def _ask(change: SaidChange) -> str:
    if change.kind in (Kind.AGE, Kind.DEPTH):
        return "The forecast goes on so. Look at the shells at the next opening: is the overlay worn through?"
    quick = change.factor > 1
    follows = "The forecast follows it."
    if change.recorded:
        return f"{follows} Was what was changed meant to do so, and does it still hold?"
    usual = f"Usual: {USUAL_CAUSES[quick]}."
    return (
        f"{follows} {usual} Ask the ship what was changed about then, and write it down as an event change."
    )
