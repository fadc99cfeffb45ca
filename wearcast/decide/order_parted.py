"""An order parted by vessel, and what would make it another."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.need_dates import count_within, cover_ends, enough
from wearcast.decide.order_lines import ForVessel, OrderLine
from wearcast.decide.stand import Stand
from wearcast.units import DAYS_PER_YEAR
from wearcast.words import stated_share

Floats = NDArray[np.float64]

SERVICES = (0.97, 0.98, 0.99, 0.995)
"""Services tried for one more (judgement)."""


def for_vessels(
    stand: Stand, line: OrderLine, need_years: Floats, period_years: float, service: float
) -> tuple[ForVessel, ...]:
    """The order parted by what each vessel is expected to need, largest remainders first.

    Parameters
    ----------
    need_years : array (N, k, 2)
        First and second need of the places of the line.
    """
    if not line.quantity or not line.takers:
        return ()
    vessels = list(dict.fromkeys(taker.vessel for taker in line.takers))
    mine = {vessel: [k for k, one in enumerate(line.takers) if one.vessel == vessel] for vessel in vessels}
    expected = np.array([(need_years[:, mine[v]] <= period_years).sum() / len(need_years) for v in vessels])
    if not expected.sum():  # only the minimum on board is filled up
        return (ForVessel(" or ".join(vessels), line.quantity, None, ()),)
    share = line.quantity * expected / expected.sum()
    given = np.floor(share).astype(int)
    given[np.argsort(given - share, kind="stable")[: line.quantity - given.sum()]] += 1
    chances = dict(zip(map(id, line.takers), line.chances.tolist(), strict=True))
    found = []
    for vessel, quantity in zip(vessels, given.tolist(), strict=True):
        if not quantity:
            continue
        years = cover_ends(need_years[:, mine[vessel], 0], 0, service)
        by = stand.as_of + timedelta(days=int(years * DAYS_PER_YEAR)) if years <= period_years else None
        likely = sorted((line.takers[k] for k in mine[vessel]), key=lambda one: -chances[id(one)])
        places = [
            f"{one.bearing.replace('_', ' ')} {one.position}" for one in likely if chances[id(one)] >= 0.05
        ]
        found.append(ForVessel(vessel, quantity, by, tuple(dict.fromkeys(places))))
    return tuple(found)


def what_would_change(
    line: OrderLine, need_years: Floats, period_years: float, service: float, certain: frozenset[int]
) -> str:
    """What would make it one fewer, and one more: the likeliest place read as good, a higher service.

    Parameters
    ----------
    certain : frozenset of int
        Places where damage or a limit passed leaves a reading nothing to show, index into the takers.
    """
    part = line.part
    held = part.on_hand + part.on_order - part.minimum_on_board
    said = []
    open_to_doubt = np.array([place not in certain for place in range(len(line.takers))])
    if line.quantity and line.driving and open_to_doubt.any():
        top = int(np.argmax(np.where(open_to_doubt, line.chances, -1.0)))
        rest = np.delete(need_years, top, axis=1).reshape(len(need_years), -1)
        without = max(0, enough(count_within(rest, period_years), service) - held)
        if without < line.quantity:
            said.append(f"{without} if a reading shows {line.takers[top]} to hold")
    more = next(
        (one for one in SERVICES if one > service and enough(line.counts, one) - held > line.quantity), None
    )
    if more is not None:
        said.append(f"{enough(line.counts, more) - held} for a service of {stated_share(more)}")
    return ", ".join(said)
