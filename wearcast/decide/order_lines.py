"""One line of an order as data, and as a row of the table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearcast.decide.need_dates import enough
from wearcast.decide.parts import Part, Taker
from wearcast.words import chance as chance_words

Floats = NDArray[np.float64]

COLUMNS = (
    "engine_type", "bearing", "half", "shell_size", "part_reference", "needed_p50", "needed_p95", "on_hand",
    "on_order", "minimum_on_board", "order_quantity", "order_by", "arrives_by", "covered_until", "cost", "to_vessels",
    "driving_positions", "would_change", "reasons",
)  # fmt: skip
"""The columns of the table, in order."""

ORDER_NOW = "order now"
LEAD_UNKNOWN = "lead time unknown"


HORIZON_YEARS = 5.0
"""Orders that can wait longer are not dated [years] (judgement)."""


@dataclass(frozen=True)
class ForVessel:
    """How many of an order go to one vessel, by when the first may be needed, and where."""

    vessel: str
    quantity: int
    needed_by: date | None
    places: tuple[str, ...]

    def __str__(self) -> str:
        """In words."""
        by = f", the first by {self.needed_by}" if self.needed_by else ""
        return f"{self.quantity} for {self.vessel}{by}" + (
            f" ({', '.join(self.places)})" if self.places else ""
        )


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
    cover_ends_years : float
        Years from as-of until what is in store no longer covers; inf where no end is in sight.
    need_lives : tuple of tuple of int
        The shell lives whose limits make each of the needs counted, index into `History.lives`.
    last_order : date or None
        The last date at which an order still covers; None where no end of the cover is in sight.
    now : bool
        That date is past.
    covered_until : date or None
        End of the period: today, time to come, review; None where the time to come is unknown.
    cost : float
        Quantity times unit cost; NaN where not given.
    to_vessels : tuple of ForVessel
        The order parted by where it may be needed.
    would_change : str
        What would make it one more or one fewer, in a sentence.
    horizon_end : date or None
        Orders that can wait until then are not dated.
    reasons : tuple of str
    other_size_places : tuple of Taker
        Places of the same bearing and half whose shells are of another size.
    """

    part: Part
    takers: tuple[Taker, ...]
    chances: Floats
    counts: NDArray[np.intp]
    quantity: int
    cover_ends_years: float
    need_lives: tuple[tuple[int, ...], ...]
    last_order: date | None
    now: bool
    arrives_by: date | None
    covered_until: date | None
    cost: float
    reasons: tuple[str, ...]
    to_vessels: tuple[ForVessel, ...] = ()
    would_change: str = ""
    horizon_end: date | None = None
    other_size_places: tuple[Taker, ...] = ()

    def needed(self, level: float) -> int:
        """Quantile of the number needed within the period."""
        return enough(self.counts, level)

    @property
    def by(self) -> str:
        """When to order, in words: now, by a date, not before the horizon, or that the time to come is not known."""
        if self.now:
            return ORDER_NOW
        if not np.isfinite(self.part.days_to_come):
            return ORDER_NOW if self.quantity else LEAD_UNKNOWN
        if self.last_order is None or (self.horizon_end and self.last_order > self.horizon_end):
            return f"not before {self.horizon_end}"
        return self.last_order.isoformat()

    @property
    def driving(self) -> tuple[tuple[Taker, float], ...]:
        """Places with at least a 5 % chance of needing the part within the period, likeliest first."""
        pairs = sorted(zip(self.takers, self.chances.tolist(), strict=True), key=lambda pair: -pair[1])
        return tuple((taker, chance) for taker, chance in pairs if chance >= 0.05)


def values_of(line: OrderLine) -> dict[str, Any]:
    """The line as a row of the table."""
    part = line.part
    return {
        "engine_type": part.engine_type,
        "bearing": part.bearing,
        "half": part.half,
        "shell_size": part.shell_size,
        "part_reference": part.part_reference,
        "needed_p50": line.needed(0.50),
        "needed_p95": line.needed(0.95),
        "on_hand": part.on_hand,
        "on_order": part.on_order,
        "minimum_on_board": part.minimum_on_board,
        "order_quantity": line.quantity,
        "order_by": line.by,
        "arrives_by": line.arrives_by,
        "covered_until": line.covered_until,
        "cost": line.cost if line.quantity else 0.0,
        "to_vessels": "; ".join(map(str, line.to_vessels)),
        "driving_positions": "; ".join(f"{taker} ({chance_words(chance)})" for taker, chance in line.driving),
        "would_change": line.would_change,
        "reasons": "; ".join(line.reasons),
    }
