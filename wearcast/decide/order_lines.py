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
    "on_order", "minimum_on_board", "order_quantity", "order_by", "arrives_by", "driving_positions", "reasons",
)  # fmt: skip
"""The columns of the table, in order."""

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
    other_size_places: tuple[Taker, ...] = ()

    def needed(self, level: float) -> int:
        """Quantile of the number needed within the period."""
        return enough(self.counts, level)

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
        "order_by": ORDER_NOW if line.now else (line.last_order.isoformat() if line.last_order else ""),
        "arrives_by": line.arrives_by,
        "driving_positions": "; ".join(f"{taker} ({chance_words(chance)})" for taker, chance in line.driving),
        "reasons": "; ".join(line.reasons),
    }
