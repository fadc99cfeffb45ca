"""The lines of a brief in words."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from typing import Any

from wearcast.decide.brief import (
    Brief,
    Changed,
    Damaged,
    Line,
    MovedPlace,
    OutOfLine,
    Reached,
    Sister,
    ToAsk,
    ToOpen,
    ToOrder,
    Trust,
)
from wearcast.decide.moved_words import move_in_short
from wearcast.decide.sections import part_in_words, whole_in_words
from wearcast.forecasting.rows import ShellForecast
from wearcast.forecasting.statements import PAST
from wearcast.forecasting.words import place_in_words
from wearcast.words import bearing_words, chance, counted, day, hours, kind_words, listed, whole

MOST = 3
"""Lines of one kind that are written out; the others are counted (judgement)."""

LABELS: dict[type[Line], str] = {
    Damaged: "Damage noted",
    Reached: "At or perhaps past the limit",
    ToOpen: "Open next",
    ToOrder: "Order today",
    ToAsk: "Ask the ship",
    OutOfLine: "Out of line",
    Sister: "Engine out of line",
    Changed: "Rate changed",
    MovedPlace: "Moved",
    Trust: "How far to trust it",
}
"""What each kind of line is headed by, in the order in which they are read."""


def said(made: Brief, most: int = MOST) -> tuple[tuple[Line | None, str], ...]:
    """Every line with its words; of many of a kind the first, and a line (of no place) that counts the others."""
    found: list[tuple[Line | None, str]] = []
    for kind, label in LABELS.items():
        lines = [line for line in made.lines if isinstance(line, kind)]
        shown = lines if kind is ToOpen else lines[:most]
        found += [(line, f"{label}: {words(line)}") for line in shown]
        if left := len(lines) - len(shown):
            found.append((None, f"{label}: {left} more; {_WHERE[kind]}."))
        if kind is ToOrder and not lines:
            found.append((None, f"{label}: nothing."))
    return tuple(found)


_WHERE: dict[type[Line], str] = {
    Damaged: "wearcast check lists them",
    Reached: "wearcast forecast lists them",
    ToOrder: "wearcast order lists them",
    ToAsk: "wearcast check lists them",
    OutOfLine: "wearcast compare lists them",
    Sister: "wearcast compare lists them",
    Changed: "wearcast check lists them",
    MovedPlace: "wearcast moved lists them",
}


def words(line: Line) -> str:
    """What a line says, without its label."""
    return _WORDS[type(line)](line)


def _damaged(line: Damaged) -> str:
    place = " ".join((*line.spot[:2], bearing_words(*line.spot[2:])))
    return f"{place}, {line.finding or 'damage'}, found {day(line.on)}. It overrides the trend, whatever wall is left."


def _reached(line: Reached) -> str:
    past = [row for row in line.rows if row.statement == PAST]
    others = [row for row in line.rows if row.statement != PAST]
    said = [f"past: {_together([(row, '') for row in past])}"] if past else []
    if others:
        each = [(row, f" ({chance(row.p_by_now)})" if isfinite(row.p_by_now) else "") for row in others]
        said.append(f"perhaps past, with its chance: {_together(each)}")
    return f"{' '.join(line.key)} {'; '.join(said)}."


def _together(rows: list[tuple[ShellForecast, str]]) -> str:
    """Places in a list; half and quantity once behind those that share them."""
    found: dict[str, list[str]] = {}
    for row, beside in rows:
        size = "" if row.shell_size.casefold() == "standard" else row.shell_size
        what = " ".join(filter(None, (row.half, row.quantity.replace("_", " "), size)))
        found.setdefault(what, []).append(f"{bearing_words(row.bearing, row.position)}{beside}")
    return "; ".join(f"{what} of {listed(places)}" for what, places in found.items())


def _out_of_line(line: OutOfLine) -> str:
    mean, lo, hi = line.row.beyond
    way = "faster" if mean > 0 else "slower"
    return (
        f"{line.row} wears {line.row.rate[0]:.2f} µm per 1000 h, by {abs(mean):.2f} ({min(abs(lo), abs(hi)):.2f} to "
        f"{max(abs(lo), abs(hi)):.2f}) {way} than its engine and position account for."
    )


def _trust(line: Trust) -> str:
    rows = sum(number for _, number in line.rests_on)
    each = ", ".join(f"{number} on {name}" for name, number in line.rests_on)
    return (
        f"{counted(rows, 'row')} rest {each}; {counted(line.queries, 'query', 'queries')} open. How far past forecasts "
        "were right: wearcast backtest."
    )


def _within(row: ShellForecast) -> str:
    """A place within its engine."""
    return place_in_words(row).removeprefix(f"{row.vessel} {row.engine} ")


def _to_open(line: ToOpen) -> str:
    if line.on is None:
        return f"{line.vessel}: no window is known."
    window = f"{line.vessel}, {line.on} {line.name}".rstrip()
    engines = dict.fromkeys(one.key[1] for one in line.openings)
    each = [
        f"{engine} {listed(str(one) for one in line.openings if one.key[1] == engine)}" for engine in engines
    ]
    return f"{window}: {'; '.join(each) if each else 'nothing'}."


def _to_order(line: ToOrder) -> str:
    one = line.line
    cost = f", {whole(one.cost)} {one.part.currency}".rstrip() if isfinite(one.cost) else ""
    ships = [f"{each.quantity} for {each.vessel}" for each in one.to_vessels]
    where = f": {listed(ships)}" if len(ships) > 1 else (f", for {one.to_vessels[0].vessel}" if ships else "")
    unknown = "" if isfinite(one.part.days_to_come) else " Its lead time is not known."
    return f"{one.quantity} {part_in_words(one, line.with_type)}{cost}{where}.{unknown}"


def _to_ask(line: ToAsk) -> str:
    row = line.row
    doubts = listed(dict.fromkeys(kind_words(one.kind) for one in line.queries))
    return (
        f"{' '.join(line.key)}, {line.on}: {doubts}. {_within(row)}: 10 % within {hours(row.hours_p10_with_doubted)} h "
        f"with these readings, {hours(row.hours_p10_without_doubted)} h without."
    )


_WORDS: dict[type[Line], Callable[[Any], str]] = {
    Damaged: _damaged,
    Reached: _reached,
    ToOpen: _to_open,
    ToOrder: _to_order,
    ToAsk: _to_ask,
    OutOfLine: _out_of_line,
    Sister: lambda line: whole_in_words(line.whole),
    MovedPlace: lambda line: move_in_short(line.move),
    Changed: lambda line: str(line.query.text),
    Trust: _trust,
}
