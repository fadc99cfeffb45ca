"""Why an order line says what it says, in plain sentences."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.order_lines import OrderLine
from wearcast.decide.parts import PAIR, Part, Taker
from wearcast.decide.stand import Stand, left_of_fixed_h
from wearcast.forecasting.statements import UNSETTLED, URGENT
from wearcast.lives.shells import bearing_key, engine_key
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import chance as chance_words
from wearcast.words import grouped

Floats = NDArray[np.float64]

ORDERED_HALF_NEED = 0.05
"""Places with a smaller chance of needing the part are not spoken of (judgement)."""


def order_reasons(
    stand: Stand, line: OrderLine, parts: tuple[Part, ...], need_years: Floats, partner: bool
) -> tuple[str, ...]:
    """Sentences on one line.

    Parameters
    ----------
    need_years : array (N, k)
        Needs of the places of the line.
    partner : bool
        Both halves are renewed though the part is one half.
    """
    said = [
        *_store(line.part),
        *_other_reference(line, parts),
        *_other_sizes(line, parts),
        *_damage(stand, line),
        *_doubted(stand, line),
        *_fixed_hours(stand, line),
        *_clearances(stand, line),
        *_undated(stand, line),
        *_windows(stand, line),
        *_too_late(stand, line, need_years),
        *_neighbours(line),
        *_cost(line),
    ]
    if line.part.half == PAIR:
        said.append("sold in pairs: both halves are renewed when one needs it")
    if partner:
        said.append("both halves are renewed together")
    return tuple(dict.fromkeys(said))


def _store(part: Part) -> list[str]:
    if not part.in_spares:
        return ["no row in the spares table: nothing counts as in store, and the time to come is unknown"]
    if part.on_hand + part.on_order < part.minimum_on_board:
        return [f"fewer in store than the minimum on board ({part.minimum_on_board})"]
    return []


def _other_reference(line: OrderLine, parts: tuple[Part, ...]) -> list[str]:
    """Of two references of one part the first serves: whether they can stand in for one another is not known."""
    first = next(one for one in parts if one.key == line.part.key)
    if first is line.part:
        return []
    name = first.part_reference or "a part without reference"
    return [f"the same shell is listed before as {name}, which is counted on; what is in store here is not"]


def _other_sizes(line: OrderLine, parts: tuple[Part, ...]) -> list[str]:
    """Stock of another size counts zero, and a place of another size is not served by this part."""
    part = line.part
    said = []
    for other in parts:
        same = (other.engine_type, other.bearing) == (part.engine_type, part.bearing)
        half = other.half == part.half or PAIR in (other.half, part.half)
        if not same or not half or other.shell_size.casefold() == part.shell_size.casefold():
            continue
        places = [
            taker for taker in line.other_size_places if taker.shell_size.casefold() == other.key.shell_size
        ]
        if places and (part.on_hand or part.on_order):
            take = "takes" if len(places) == 1 else "take"
            said.append(
                f"{_joined(places)} {take} size {other.shell_size}: what is in store here does not serve "
                f"{'it' if len(places) == 1 else 'them'}"
            )
        stock = other.on_hand + other.on_order
        if stock and line.takers:
            said.append(
                f"{stock} of size {other.shell_size} in store or on order count zero here: a {other.shell_size} "
                f"shell does not fit a {part.shell_size} journal"
            )
    return said


def _joined(places: list[Taker]) -> str:
    return ", ".join(dict.fromkeys(str(one) for one in places))


def _driving_lives(stand: Stand, line: OrderLine) -> list[tuple[Taker, int]]:
    return [(taker, life) for taker, _ in line.driving for life in taker.lives if life in stand.row_of_life]


def _damage(stand: Stand, line: OrderLine) -> list[str]:
    found: dict[str, list[str]] = {}
    for taker, life in _driving_lives(stand, line):
        statement = stand.row_of_life[life].statement
        if statement in URGENT:
            found.setdefault(statement, []).append(f"{taker} {taker.half}".strip())
    return [
        f"{', '.join(dict.fromkeys(places))}: {statement}, so one {'each ' if len(places) > 1 else ''}is counted as "
        "needed now"
        for statement, places in found.items()
    ]


def _doubted(stand: Stand, line: OrderLine) -> list[str]:
    moved = {
        int(life)
        for ahead in stand.classes
        for life, unsettled in zip(ahead.lives, ahead.unsettled, strict=True)
        if unsettled
    }
    return [f"{taker}: {UNSETTLED}" for taker, life in _driving_lives(stand, line) if life in moved]


def _fixed_hours(stand: Stand, line: OrderLine) -> list[str]:
    return [
        f"{taker}: maker's fixed hours hold, {left:.0f} h are left"
        for taker, life in _driving_lives(stand, line)
        if np.isfinite(left := left_of_fixed_h(stand, life))
    ]


def _clearances(stand: Stand, line: OrderLine) -> list[str]:
    """Where the clearance would open a bearing sooner than its walls."""
    if any(taker.by_clearance for taker in line.takers):
        return ["no wall is read here: the clearance stands for both halves"]
    said = []
    early = {
        (row.vessel, row.engine, row.bearing, row.position): row.date_at(10)
        for row in stand.forecast.rows
        if row.quantity == "clearance"
    }
    for taker in line.takers:
        found = early.get(bearing_key(taker))
        if found is None or line.covered_until is None:
            continue
        if found <= line.covered_until:
            said.append(
                f"{taker}: its clearance may reach its limit by {found}; no shell is counted for that"
            )
    return said


def _undated(stand: Stand, line: OrderLine) -> list[str]:
    engines = {engine_key(taker) for taker in line.takers}
    return [
        f"{vessel} {engine}: no yearly use is known, so only what may be past its limit already is counted"
        for vessel, engine in sorted(engines)
        if not stand.forecast.history.engines[(vessel, engine)].use.known
    ]


def _windows(stand: Stand, line: OrderLine) -> list[str]:
    """How the windows go on past those listed, where a place may be needed then."""
    going_on = stand.forecast.going_on
    said: dict[str, list[str]] = {}
    for key in dict.fromkeys(engine_key(taker) for taker, _ in line.driving):
        last = going_on[key].last
        if last is None or last < (line.covered_until or stand.as_of):
            said.setdefault(str(going_on[key]), []).append(" ".join(key))
    return [f"{', '.join(names)}: {told}" for told, names in said.items()]


def _too_late(stand: Stand, line: OrderLine, need_years: Floats) -> list[str]:
    if line.arrives_by is None or not line.now:
        return []
    years = (line.arrives_by - stand.as_of).days / DAYS_PER_YEAR
    stock = line.part.on_hand + line.part.on_order
    short = float((np.sum(need_years < years, axis=1) > stock).mean()) if need_years.size else 0.0
    if short < ORDERED_HALF_NEED:
        return []
    chance = chance_words(short)
    return [f"ordered now it comes by {line.arrives_by}: with a chance of {chance} more are needed before"]


def _neighbours(line: OrderLine) -> list[str]:
    """Mains beside the place likeliest to need the part: one bad shell usually means looking at its neighbours."""
    if line.part.bearing != "main" or not line.quantity or not line.driving:
        return []
    taker = line.driving[0][0]
    if not taker.position.isdigit():
        return []
    there = {(one.vessel, one.engine, one.position) for one in line.takers}
    beside = [str(int(taker.position) + step) for step in (-1, 1)]
    mine = [one for one in beside if (taker.vessel, taker.engine, one) in there]
    if not mine:
        return []
    mains, count, their = ("mains", "they count", "their") if len(mine) > 1 else ("main", "it counts", "its")
    beside_it = f"{mains} {' and '.join(mine)} beside {taker}"
    return [f"{beside_it} may be opened with it; {count} by {their} own wear only"]


def _cost(line: OrderLine) -> list[str]:
    if not line.quantity or not np.isfinite(line.cost):
        return []
    each, cost = (_money(value, line.part.currency) for value in (line.part.unit_cost, line.cost))
    return [f"{line.quantity} at {each} each: {cost}"]


def _money(value: float, currency: str) -> str:
    """An amount with its thousands apart; cents only where there are any."""
    cents = f"{value:.2f}".partition(".")[2]
    return f"{grouped(int(value))}{f'.{cents}' if cents != '00' else ''} {currency}".strip()
