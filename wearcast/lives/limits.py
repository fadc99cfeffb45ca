"""Which limit holds for which shell: by engine type, bearing, half, quantity, size and point."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from wearcast.frames import rows_of
from wearcast.lives.shells import same_size
from wearcast.quantities import CROWN_POINTS, QUANTITIES, Side
from wearcast.units import UM_PER_MM


@dataclass(frozen=True)
class Limit:
    """The maker's limit for one shell size, with the new values it is measured from.

    Attributes
    ----------
    limit_mm, new_min_mm, new_max_mm : float
        Lengths [mm].
    overlay_um : float
        Overlay depth [µm]; NaN where not given.
    renew_at_h : float
        Maker's fixed hours [h]; NaN where not given.
    row : int
        Row of the limits table.
    """

    engine_type: str
    bearing: str
    half: str
    quantity: str
    shell_size: str
    point: str
    new_min_mm: float
    new_max_mm: float
    limit_mm: float
    side: Side
    overlay_um: float
    renew_at_h: float
    source: str
    part_reference: str
    row: int

    @property
    def reference_mm(self) -> float:
        """Middle of the new values: where wear is counted from [mm]."""
        return (self.new_min_mm + self.new_max_mm) / 2

    @property
    def allowance_um(self) -> float:
        """Wear from the reference to the limit [µm], positive."""
        return abs(self.limit_mm - self.reference_mm) * UM_PER_MM

    def wear_um(self, value_mm: Any) -> Any:
        """Wear [µm] of a reading [mm]: positive in the direction of the limit."""
        sign = -1.0 if self.side == "min" else 1.0
        return sign * (value_mm - self.reference_mm) * UM_PER_MM

    def value_mm(self, wear_um: Any) -> Any:
        """Reading [mm] that a wear [µm] stands for."""
        sign = -1.0 if self.side == "min" else 1.0
        return self.reference_mm + sign * wear_um / UM_PER_MM

    def reached_by(self, value_mm: float) -> bool:
        """Whether a value [mm] stands at or past the limit."""
        return value_mm <= self.limit_mm if self.side == "min" else value_mm >= self.limit_mm


@dataclass(frozen=True)
class LimitBook:
    """All limits of a record set, found by what they are for."""

    limits: tuple[Limit, ...]

    @classmethod
    def from_table(cls, table: pd.DataFrame) -> LimitBook:
        """Limits from the limits table of a record set."""
        return cls(
            tuple(
                Limit(
                    row.engine_type,
                    row.bearing,
                    row.half,
                    row.quantity,
                    row.shell_size,
                    row.point,
                    float(row.new_min_mm),
                    float(row.new_max_mm),
                    float(row.limit_mm),
                    row.limit_side,
                    float(row.overlay_um),
                    float(row.renew_at_h),
                    row.limit_source,
                    row.part_reference,
                    int(row.row),
                )
                for row in rows_of(table)
            )
        )

    @cached_property
    def _by_class(self) -> dict[tuple[str, str, str], list[Limit]]:
        found: dict[tuple[str, str, str], list[Limit]] = {}
        for limit in self.limits:
            found.setdefault((limit.engine_type, limit.bearing, limit.quantity), []).append(limit)
        return found

    def of_class(self, engine_type: str, bearing: str, half: str, quantity: str) -> list[Limit]:
        """Limits of every size and side of one class; a row without half holds for both halves."""
        rows = self._by_class.get((engine_type, bearing, quantity), [])
        exact = [limit for limit in rows if limit.half == half]
        return exact or [limit for limit in rows if not limit.half]

    def sizes(self, engine_type: str, bearing: str, half: str, quantity: str) -> list[str]:
        """Shell sizes that have a limit in one class, in file order."""
        return list(
            dict.fromkeys(limit.shell_size for limit in self.of_class(engine_type, bearing, half, quantity))
        )

    def find(
        self, engine_type: str, bearing: str, half: str, quantity: str, shell_size: str, point: str
    ) -> tuple[Limit | None, bool]:
        """The limit that a point's wear is counted against, and whether it governs there.

        A row without point holds for crown points and for quantities without points. A point with no row of
        its own is trended against the row without point and never governs.
        """
        side = QUANTITIES[quantity].side
        rows = [
            limit
            for limit in self.of_class(engine_type, bearing, half, quantity)
            if same_size(limit.shell_size, shell_size) and limit.side == side
        ]
        own = next((limit for limit in rows if limit.point == point), None)
        if own is not None:
            return own, True
        general = next((limit for limit in rows if not limit.point), None)
        if general is not None:
            return general, point in CROWN_POINTS or not QUANTITIES[quantity].points
        return (rows[0] if rows else None), False

    def other_side(
        self, engine_type: str, bearing: str, half: str, quantity: str, shell_size: str
    ) -> Limit | None:
        """The limit on the other side, where the quantity has two (axial clearance)."""
        side = QUANTITIES[quantity].side
        return next(
            (
                limit
                for limit in self.of_class(engine_type, bearing, half, quantity)
                if same_size(limit.shell_size, shell_size) and limit.side != side
            ),
            None,
        )
