"""What to order and by when: the distribution of what is needed before an order placed later would come."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.clock import ahead
from wearcast.decide.joint_needs import DRAWS, SEED, JointNeeds, joint_needs
from wearcast.decide.order_counts import Rules, order_line, takers_of
from wearcast.decide.order_lines import COLUMNS, OrderLine, values_of
from wearcast.decide.parts import parts_in_use, spare_parts, takers, with_partners
from wearcast.decide.stand import Stand, take_stand
from wearcast.decide.what_if import WhatIf, changed_records, changed_settings
from wearcast.lives.only import Only
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.shown import Shown
from wearcast.sources import records_from
from wearcast.units import DAYS_PER_YEAR

Floats = NDArray[np.float64]

REVIEW_DAYS = 365.0
"""How long after an order the next one is thought about [days] (judgement)."""


@dataclass(frozen=True, eq=False, repr=False)
class Order(Shown):
    """What to order, and what stands behind it.

    Attributes
    ----------
    lines : tuple of OrderLine
        One a part.
    table : DataFrame
        The same with the columns `COLUMNS`.
    what_if : WhatIf or None
        The changes tried; `as_given` then holds the order without them.
    only : Only
        What alone is shown; it is ordered for all.
    """

    stand: Stand
    service: float
    review_days: float
    lines: tuple[OrderLine, ...]
    what_if: WhatIf | None = None
    as_given: Order | None = None
    only: Only = field(default_factory=Only)

    def headline(self) -> str:
        """How many parts are ordered, at which service."""
        parts = int((self.table["order_quantity"] > 0).sum())
        what = f"{parts} of {len(self.lines)} parts to order at a service of {self.service:g}"
        return f"Order at {self.stand.as_of}: {what}"

    def glance(self) -> pd.DataFrame:
        """What to order and by when."""
        return self.table[
            [
                "engine_type",
                "bearing",
                "half",
                "shell_size",
                "needed_p50",
                "needed_p95",
                "order_quantity",
                "order_by",
            ]
        ]

    def narrowed(self, only: Only) -> Order:
        """The parts that the places asked for take; how many are needed and ordered stays that of the fleet."""
        only.among(row.key[:4] for row in self.stand.forecast.rows)
        return replace(
            self,
            only=only,
            lines=tuple(
                line
                for line in self.lines
                if any(only.holds(one.vessel, one.engine, one.bearing, one.position) for one in line.takers)
            ),
            as_given=self.as_given and self.as_given.narrowed(only),
        )

    @property
    def table(self) -> pd.DataFrame:
        """One row a part."""
        return pd.DataFrame([values_of(line) for line in self.lines], columns=list(COLUMNS))


def order(
    records: RecordSet | str | Path,
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
    records : RecordSet or path
        From `wearcast.read`, or where it lies.
    settings : Settings, optional
        Holds the service, the chance that what is ordered suffices.
    review_days : float
        How long after this order the next is thought about [days].
    both_halves : bool
        Renew both halves of a bearing together; parts sold in pairs always are.
    what_if : WhatIf, optional
        Changes to try; the result then holds both cases.

    Returns
    -------
    Order

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    """
    settings = settings or Settings()
    records = records_from(records)
    stand = take_stand(records, None, settings, leave_out_faulty)
    needs = joint_needs(stand, n_draws, seed, longest_years(records, review_days))
    made = order_at(stand, settings.service, None, review_days, both_halves, needs)
    if what_if is None or not what_if.any:
        return made
    case = stand
    if what_if.touches_forecast:
        case = take_stand(changed_records(records, what_if), what_if.as_of, settings, leave_out_faulty)
        needs = joint_needs(case, n_draws, seed, longest_years(records, review_days))
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
    if needs is None:
        needs = joint_needs(stand, within_years=longest_years(stand.forecast.history.records, review_days))
    history = stand.forecast.history
    rules = Rules(service, review_days, both_halves)
    places = with_partners(takers(history)) if both_halves else takers(history)
    store = spare_parts(history.records.spares, lead_time_days)
    parts = parts_in_use(history, store, places)
    needs_of = {place: needs.of(place.lives) for place in places}
    lines = tuple(
        order_line(stand, part, takers_of(part, parts, places), needs_of, rules, parts) for part in parts
    )
    return Order(stand, service, review_days, lines)


def longest_years(records: RecordSet, review_days: float) -> float:
    """The longest period an order of these records looks ahead [years]; raises as `clock.ahead` does."""
    review_days = ahead(review_days, "The time to the next review")
    to_come = [part.days_to_come for part in spare_parts(records.spares)]
    return float(np.nanmax([0.0, *to_come]) + review_days) / DAYS_PER_YEAR
