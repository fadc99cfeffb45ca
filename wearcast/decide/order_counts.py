"""How many of a part are needed, how many to order, and the last date to do so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.need_dates import count_within, cover_ends, order_quantity
from wearcast.decide.order_lines import HORIZON_YEARS, OrderLine
from wearcast.decide.order_parted import for_vessels, what_would_change
from wearcast.decide.order_reasons import order_reasons
from wearcast.decide.parts import PAIR, Part, PartKey, Taker
from wearcast.decide.stand import Stand
from wearcast.decide.steps import horizon_from
from wearcast.forecasting.statements import URGENT
from wearcast.units import DAYS_PER_YEAR

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Rules:
    """What an order goes by: service [1], review period [days], both halves renewed together."""

    service: float
    review_days: float
    both_halves: bool


def takers_of(part: Part, parts: tuple[Part, ...], places: tuple[Taker, ...]) -> tuple[Taker, ...]:
    """Places that take a part: its size and no other; of two references of one part the first listed serves."""
    if next(one for one in parts if one.key == part.key) is not part:
        return ()
    pairs_sold = {one.key for one in parts if one.half == PAIR}
    found = []
    for one in places:
        key = PartKey(one.engine_type, one.bearing, one.half, one.shell_size.casefold())
        in_pair = key._replace(half=PAIR) in pairs_sold and bool(one.half)
        if part.key == (key._replace(half=PAIR) if in_pair else key):
            found.append(one)
    return tuple(found)


def order_line(
    stand: Stand,
    part: Part,
    of: tuple[Taker, ...],
    needs_of: dict[Taker, Floats],
    rules: Rules,
    parts: tuple[Part, ...],
) -> OrderLine:
    """The line of one part, for the places that take it."""
    of, need, lives = _renewed(
        of, needs_of, together=part.half == PAIR or rules.both_halves, merge=part.half == PAIR
    )
    to_come = np.nan_to_num(part.days_to_come)  # unknown: only the review period can be covered
    period_years = (to_come + rules.review_days) / DAYS_PER_YEAR
    both = need.reshape(len(need), -1)  # a place whose shell put in is needed again counts twice
    counts = count_within(both, period_years)
    quantity = order_quantity(counts, rules.service, part.minimum_on_board, part.on_hand, part.on_order)
    stock = part.on_hand + part.on_order - part.minimum_on_board
    ends = cover_ends(both, stock, rules.service)
    last = _last_order(stand, ends, part.days_to_come)
    now = last is not None and last <= stand.as_of
    arrives = _arrives(stand, part, last if quantity or now else None)
    chances = (need[..., 0] <= period_years).mean(axis=0)
    line = OrderLine(
        part=part,
        takers=of,
        chances=np.asarray(chances),
        counts=counts,
        quantity=quantity,
        cover_ends_years=ends,
        need_lives=lives,
        last_order=last,
        now=now,
        arrives_by=arrives,
        covered_until=stand.as_of + timedelta(days=round(to_come + rules.review_days)),
        cost=quantity * part.unit_cost,
        reasons=(),
        horizon_end=horizon_from(stand.as_of, HORIZON_YEARS),
        other_size_places=_of_other_sizes(part, needs_of),
    )
    certain = frozenset(
        k
        for k, mine in enumerate(lives)
        if any(stand.row_of_life[one].statement in URGENT for one in mine if one in stand.row_of_life)
    )
    said = order_reasons(stand, line, parts, both, rules.both_halves and part.half != PAIR)
    return replace(
        line,
        reasons=said,
        to_vessels=for_vessels(stand, line, need, period_years, rules.service),
        would_change=what_would_change(line, need, period_years, rules.service, certain),
    )


def _renewed(
    of: tuple[Taker, ...], needs_of: dict[Taker, Floats], together: bool, merge: bool
) -> tuple[tuple[Taker, ...], Floats, tuple[tuple[int, ...], ...]]:
    """Needs of a part, array (N, k, 2), and the lives behind each: of a half alone, or of the bearing as soon as one
    half needs it.
    """
    n_draws = len(next(iter(needs_of.values()))) if needs_of else 0
    if not of:
        return of, np.zeros((n_draws, 0, 2)), ()
    at_place: dict[tuple[str, ...], list[Taker]] = {}
    for other in needs_of:
        at_place.setdefault(other.place, []).append(other)
    found: dict[tuple[str, ...], Taker] = {}
    columns: dict[tuple[str, ...], Floats] = {}
    lives: dict[tuple[str, ...], tuple[int, ...]] = {}
    for one in of:
        mine = at_place[one.place] if together else [one]
        name = one.place if merge else (*one.place, one.half)
        found.setdefault(name, one)
        columns[name] = np.min([needs_of[other] for other in mine], axis=0)
        lives[name] = tuple(dict.fromkeys(life for other in mine for life in other.lives))
    return tuple(found.values()), np.stack(list(columns.values()), axis=1), tuple(lives.values())


def _of_other_sizes(part: Part, places: Iterable[Taker]) -> tuple[Taker, ...]:
    return tuple(
        one
        for one in places
        if (one.engine_type, one.bearing) == (part.engine_type, part.bearing)
        and part.half in (one.half, PAIR)
        and one.shell_size.casefold() != part.shell_size.casefold()
    )


def _last_order(stand: Stand, ends_years: float, to_come: float) -> date | None:
    if not np.isfinite(ends_years) or not np.isfinite(to_come):
        return None
    days = int(np.floor(ends_years * DAYS_PER_YEAR + 1e-6)) - int(np.ceil(to_come))
    try:
        return stand.as_of + timedelta(days=days)
    except OverflowError:
        return None


def _arrives(stand: Stand, part: Part, last: date | None) -> date | None:
    if last is None or not np.isfinite(part.days_to_come):
        return None
    return max(last, stand.as_of) + timedelta(days=int(np.ceil(part.days_to_come)))
