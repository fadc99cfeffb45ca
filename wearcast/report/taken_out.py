"""How far from its limit a shell was when it came out."""

from __future__ import annotations

from wearcast.lives.limits import Limit
from wearcast.report.strands import Dot, Strand
from wearcast.units import UM_PER_MM
from wearcast.words import mm, plain


def taken_out_past(strand: Strand) -> bool:
    """Whether the last counted reading of a removed life stood at or past its limit."""
    last = _last(strand)
    return last is not None and strand.limit is not None and strand.limit.reached_by(last.value_mm)


def taken_out_words(strand: Strand) -> str:
    """What a removed life was last read at: `, taken out at 7.949 mm, 1 µm past the limit`."""
    last, limit = _last(strand), strand.limit
    if last is None or limit is None:
        return ""
    read_on = last.source.row.date.date()
    how = "taken out" if read_on == strand.life.ended_on else f"last read {read_on}"
    return f", {how} at {mm(last.value_mm, limit.limit_mm)} mm, {_from_limit(last.value_mm, limit)}"


def _last(strand: Strand) -> Dot | None:
    """The last reading of a removed life that counts; one dated by nobody does not."""
    if strand.life.in_service:
        return None
    dots = [dot for dot in strand.dots if dot.source.counted and dot.source.row.date == dot.source.row.date]
    return max(dots, key=lambda dot: (dot.source.row.date, dot.hours), default=None)


def _from_limit(value_mm: float, limit: Limit) -> str:
    apart_um = round(abs(value_mm - limit.limit_mm) * UM_PER_MM, 1)
    if apart_um == 0:
        return "at the limit"
    return f"{plain(apart_um)} µm {'past' if limit.reached_by(value_mm) else 'short of'} the limit"
