"""What to order and by when: the distribution of what is needed before an order placed later would come."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.decide.joint_needs import DRAWS, SEED, JointNeeds, joint_needs
from wearcast.decide.need_dates import count_within, cover_ends, enough, order_quantity
from wearcast.decide.order_reasons import order_reasons
from wearcast.decide.parts import PAIR, Part, PartKey, Taker, parts_in_use, spare_parts, takers
from wearcast.decide.shares import share_in_words
from wearcast.decide.stand import Stand, take_stand
from wearcast.decide.what_if import WhatIf, changed_records, changed_settings
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.units import DAYS_PER_YEAR

Floats = NDArray[np.float64]

COLUMNS = (
    "engine_type", "bearing", "half", "shell_size", "part_reference", "needed_p50", "needed_p95", "on_hand",
    "on_order", "minimum_on_board", "order_quantity", "order_by", "arrives_by", "driving_positions", "reasons",
)  # fmt: skip
"""The columns of the table, in order."""

REVIEW_DAYS = 365.0
"""How long after an order the next one is thought about [days] (judgement)."""

ORDER_NOW = "order now"


@dataclass(frozen=True, eq=False)
class OrderLine:
    """One part to think about.

    Attributes
    ----------
    takers : tuple of Taker
        Places that take the part.
    chances : ndarray, shape (k,)
        Chance that each needs it within the period covered.
    counts : ndarray of int, shape (N,)
        Shells (or pairs) needed within that period, draw by draw.
    quantity : int
    last_order : date or None
        The last date at which an order still covers; None where no end of the cover is in sight.
    now : bool
        That date is past.
    covered_until : date or None
        End of the period: today, time to come, review; None where the time to come is unknown.
    cost : float
        Quantity times unit cost; NaN where not given.
    reasons : tuple of str
    other_size_places : tuple of Taker
        Places of the same bearing and half whose shells are of another size.
    """

    part: Part
    takers: tuple[Taker, ...]
    chances: Floats
    counts: NDArray[np.intp]
    quantity: int
    last_order: date | None
    now: bool
    arrives_by: date | None
    covered_until: date | None
    cost: float
    reasons: tuple[str, ...]
    other_size_places: tuple[Taker, ...] = ()

    @property
    def driving(self) -> tuple[tuple[Taker, float], ...]:
        """Places with at least a 5 % chance of needing the part within the period, likeliest first."""
        pairs = sorted(zip(self.takers, self.chances.tolist(), strict=True), key=lambda pair: -pair[1])
        return tuple((taker, chance) for taker, chance in pairs if chance >= 0.05)


@dataclass(frozen=True, eq=False)
class Order:
    """What to order, and what stands behind it.

    Attributes
    ----------
    lines : tuple of OrderLine
        One a part.
    table : DataFrame
        The same with the columns `COLUMNS`.
    what_if : WhatIf or None
        The changes tried; `as_given` then holds the order without them.
    """

    stand: Stand
    service: float
    review_days: float
    lines: tuple[OrderLine, ...]
    what_if: WhatIf | None = None
    as_given: Order | None = None

    @property
    def table(self) -> pd.DataFrame:
        """One row a part."""
        return pd.DataFrame([_values(line) for line in self.lines], columns=list(COLUMNS))


def order(
    records: RecordSet,
    settings: Settings | None = None,
    review_days: float = REVIEW_DAYS,
    both_halves: bool = False,
    what_if: WhatIf | None = None,
    leave_out_faulty: bool = False,
    n_draws: int = DRAWS,
    seed: int = SEED,
) -> Order:
    """Shells to order, part by part, and the last date to order each.

    Parameters
    ----------
    records : RecordSet
        From `wearcast.read`.
    settings : Settings, optional
        Holds the service, the chance that what is ordered suffices.
    review_days : float
        How long after this order the next is thought about [days].
    both_halves : bool
        Renew both halves of a bearing together; parts sold in pairs always are.
    what_if : WhatIf, optional
        Changes to try; the result then holds both cases.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    settings = settings or Settings()
    stand = take_stand(records, None, settings, leave_out_faulty)
    needs = joint_needs(stand, n_draws, seed)
    made = order_at(stand, settings.service, None, review_days, both_halves, needs)
    if what_if is None or not what_if.any:
        return made
    case = stand
    if what_if.touches_forecast:
        case = take_stand(changed_records(records, what_if), what_if.as_of, settings, leave_out_faulty)
        needs = joint_needs(case, n_draws, seed)
    service = changed_settings(settings, what_if).service
    changed = order_at(case, service, what_if.lead_time_days, review_days, both_halves, needs)
    return replace(changed, what_if=what_if, as_given=made)


def order_at(
    stand: Stand,
    service: float,
    lead_time_days: float | None = None,
    review_days: float = REVIEW_DAYS,
    both_halves: bool = False,
    needs: JointNeeds | None = None,
) -> Order:
    """The order of a fleet that stands already; `needs` are drawn where none are given."""
    needs = joint_needs(stand) if needs is None else needs
    history = stand.forecast.history
    places = takers(history)
    store = spare_parts(history.records.spares, lead_time_days)
    parts = parts_in_use(history, store, places)
    needs_of = {place: _need_of(needs, place) for place in places}
    lines = tuple(
        _line(
            stand, part, _takers_of(part, parts, places), needs_of, (service, review_days, both_halves), parts
        )
        for part in parts
    )
    return Order(stand, service, review_days, lines)


def _need_of(needs: JointNeeds, place: Taker) -> Floats:
    mine = [needs.of(life) for life in place.lives if life in needs.lives]
    return np.asarray(np.min(mine, axis=0) if mine else np.full(len(needs.need_years), np.inf))


def _takers_of(part: Part, parts: tuple[Part, ...], places: tuple[Taker, ...]) -> tuple[Taker, ...]:
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


def _line(
    stand: Stand,
    part: Part,
    of: tuple[Taker, ...],
    needs_of: dict[Taker, Floats],
    rules: tuple[float, float, bool],
    parts: tuple[Part, ...],
) -> OrderLine:
    service, review_days, both_halves = rules
    of, need = _renewed(of, needs_of, together=part.half == PAIR or both_halves, merge=part.half == PAIR)
    to_come = np.nan_to_num(part.days_to_come)  # unknown: only the review period can be covered
    period_years = (to_come + review_days) / DAYS_PER_YEAR
    counts = count_within(need, period_years)
    quantity = order_quantity(counts, service, part.minimum_on_board, part.on_hand, part.on_order)
    stock = part.on_hand + part.on_order - part.minimum_on_board
    last = _last_order(stand, cover_ends(need, stock, service), part.days_to_come)
    now = last is not None and last <= stand.as_of
    arrives = _arrives(stand, part, last if quantity or now else None)
    chances = (need <= period_years).mean(axis=0)
    line = OrderLine(
        part=part,
        takers=of,
        chances=np.asarray(chances),
        counts=counts,
        quantity=quantity,
        last_order=last,
        now=now,
        arrives_by=arrives,
        covered_until=stand.as_of + timedelta(days=round(to_come + review_days)),
        cost=quantity * part.unit_cost,
        reasons=(),
        other_size_places=_of_other_sizes(part, needs_of),
    )
    said = order_reasons(stand, line, parts, need, both_halves and part.half != PAIR)
    return replace(line, reasons=said)


def _renewed(
    of: tuple[Taker, ...], needs_of: dict[Taker, Floats], together: bool, merge: bool
) -> tuple[tuple[Taker, ...], Floats]:
    """Needs of a part, array (N, k): of each half alone, or of the bearing as soon as one half needs it."""
    n_draws = len(next(iter(needs_of.values()))) if needs_of else 0
    if not of:
        return of, np.zeros((n_draws, 0))
    found: dict[tuple[str, ...], Taker] = {}
    columns: dict[tuple[str, ...], Floats] = {}
    for one in of:
        place = (one.vessel, one.engine, one.bearing, one.position)
        mine = [
            needs_of[other]
            for other in (needs_of if together else (one,))
            if (other.vessel, other.engine, other.bearing, other.position) == place
        ]
        name = place if merge else (*place, one.half)
        found.setdefault(name, one)
        columns[name] = np.min(mine, axis=0)
    return tuple(found.values()), np.stack(list(columns.values()), axis=1)


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


def _values(line: OrderLine) -> dict[str, Any]:
    part = line.part
    return {
        "engine_type": part.engine_type,
        "bearing": part.bearing,
        "half": part.half,
        "shell_size": part.shell_size,
        "part_reference": part.part_reference,
        "needed_p50": enough(line.counts, 0.50),
        "needed_p95": enough(line.counts, 0.95),
        "on_hand": part.on_hand,
        "on_order": part.on_order,
        "minimum_on_board": part.minimum_on_board,
        "order_quantity": line.quantity,
        "order_by": ORDER_NOW if line.now else (line.last_order.isoformat() if line.last_order else ""),
        "arrives_by": line.arrives_by,
        "driving_positions": "; ".join(
            f"{taker} ({share_in_words(chance)})" for taker, chance in line.driving
        ),
        "reasons": "; ".join(line.reasons),
    }
