"""One shell in service × quantity: everything the forecast says of it, typed; tables and sentences come later."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from wearcast.forecasting.solved import DATE_QUANTILES
from wearcast.forecasting.statements import Facts
from wearcast.wear.crossing import QUANTILES
from wearcast.words import Reason


@dataclass(frozen=True)
class OwnValues:
    """What the line through this shell's own readings says; NaN where it says nothing."""

    readings: int = 0
    rate_um_per_kh: float = np.nan
    rate_lo90: float = np.nan
    rate_hi90: float = np.nan
    hours_p05: float = np.nan
    hours_p50: float = np.nan
    hours_p95: float = np.nan


@dataclass(frozen=True, eq=False)
class ShellForecast:
    """One shell in service × quantity.

    Attributes
    ----------
    life, governing : int
        Index into `History.lives` and `History.series`; governing is -1 where no point has a limit.
    hours : tuple of float
        Hours to the limit [h] at `QUANTILES`; NaN beyond 200 000 h.
    dates : tuple of date or None
        The same as dates, at `DATE_QUANTILES`; None where too far off or not to be said. They lie before as-of
        where that chance was reached by then.
    p_by_now : float
        Chance that the limit is reached by as-of; NaN where nothing can be said.
    facts : Facts
        What `statement` and `rests_on` follow from.
    without_doubted, with_doubted : Facts or None
        The same with the doubted readings left out and in; None where nothing is doubted or the readings disagree
        anyway.

    The other fields are those of the forecast table (`wearcast.forecasting.table.TABLE`).
    """

    life: int
    governing: int
    vessel: str
    engine: str
    engine_type: str
    bearing: str
    position: str
    half: str
    quantity: str
    shell_size: str
    shell_no: int
    fitted_on: date | None
    shell_h: float
    as_of_date: date
    as_of_running_h: float
    last_opened: date | None
    readings: int
    queries: int
    governing_point: str
    estimate_mm: float
    estimate_u_um: float
    limit_mm: float
    limit_side: str
    limit_source: str
    wear_rate_um_per_kh: float
    wear_rate_u_um_per_kh: float
    hours: tuple[float, ...]
    hours_p10_with_doubted: float
    hours_p10_without_doubted: float
    dates: tuple[date | None, ...]
    next_window: date | None
    p_limit_before_next_window: float
    following_window: date | None
    p_limit_before_following_window: float
    open_at: date | None
    p_by_now: float
    statement: str
    rests_on: str
    own: OwnValues
    borrowed: float
    reasons: tuple[Reason, ...]
    facts: Facts
    without_doubted: Facts | None
    with_doubted: Facts | None

    @property
    def key(self) -> tuple[str, str, str, str, str, str]:
        """What it is of, the same at whatever date."""
        return self.vessel, self.engine, self.bearing, self.position, self.half, self.quantity

    def hours_at(self, percent: int) -> float:
        """Hours within which the limit is reached with that chance in per cent [h]."""
        return self.hours[QUANTILES.index(percent / 100)]

    def date_at(self, percent: int) -> date | None:
        """The date by which it is."""
        return self.dates[DATE_QUANTILES.index(percent / 100)]

    @property
    def damaged(self) -> bool:
        """Damage was noted, so that its numbers mean nothing."""
        return self.facts.damage
