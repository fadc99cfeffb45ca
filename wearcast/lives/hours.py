"""From what the dial showed to total running hours.

A dial is replaced, reset, or misread. Counter-change events say how its reading goes on; anything else that
falls, or gains more than 24 hours a day, is refused with the two rows named, never mended.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.units import DAYS_PER_YEAR, H_PER_DAY

TOLERANCE_DAYS = 1.0
"""A dial read in the evening and again the second morning after has gained a day more than the dates say."""


@dataclass(frozen=True)
class DialChange:
    """A counter change: the old dial's last reading and the new dial's first, on one day.

    Attributes
    ----------
    day : int
        Days since 1970-01-01.
    old_last_h, new_first_h : float
        Readings [h] of the two dials.
    row : int
        Row of the events table.
    """

    day: int
    old_last_h: float
    new_first_h: float
    row: int


@dataclass(frozen=True)
class Conflict:
    """A dial reading that cannot stand beside another one.

    Attributes
    ----------
    index : int
        Which of the dial readings given.
    other : int
        Which it contradicts; -1 - k for the k-th change.
    kind : "counter_fall", "hours_per_day" or "two_dials"
    gain_h, days : float
        Hours gained between the two and days between them, in time order.
    """

    index: int
    other: int
    kind: str
    gain_h: float
    days: float


def total_hours(
    day: NDArray[np.int64], dial_h: NDArray[np.float64], changes: Sequence[DialChange] = ()
) -> tuple[NDArray[np.float64], tuple[Conflict, ...]]:
    """Total running hours of one engine from what its dials showed.

    The first dial shows total hours; each change carries the total on to the next dial. On the day of a
    change a reading takes the dial that keeps the total from falling.

    Parameters
    ----------
    day : ndarray of int, shape (n,)
        Days since 1970-01-01, in any order.
    dial_h : ndarray, shape (n,)
        The dial [h] as read.
    changes : sequence of DialChange
        Counter changes, in any order.

    Returns
    -------
    total_h : ndarray, shape (n,)
        Total running hours [h]; NaN where the reading stands in a conflict.
    conflicts : tuple of Conflict
        The fewest readings that must go for the rest to agree, each with one it contradicts.

    Examples
    --------
    >>> total_hours(np.array([0, 400]), np.array([5000.0, 120.0]), [DialChange(300, 9000.0, 0.0, 2)])[0]
    array([5000., 9120.])
    """
    ordered = sorted(changes, key=lambda change: (change.day, change.old_last_h))
    offset_h = np.zeros(len(ordered) + 1)
    for k, change in enumerate(ordered):
        offset_h[k + 1] = offset_h[k] + change.old_last_h - change.new_first_h
    change_day = np.array([change.day for change in ordered], dtype=np.int64)
    change_total_h = np.array(
        [change.old_last_h + offset_h[k] for k, change in enumerate(ordered)], dtype=np.float64
    )

    total_h = dial_h + offset_h[np.searchsorted(change_day, day, side="left")]
    conflicts: list[Conflict] = []
    for i in np.flatnonzero(np.isin(day, change_day)):
        fitting = _dials_that_fit(int(day[i]), float(dial_h[i]), ordered, offset_h, day, dial_h)
        if len(fitting) > 1:
            total_h[i] = np.nan
            conflicts.append(
                Conflict(int(i), -1 - _original(changes, ordered, fitting[-1] - 1), "two_dials", 0.0, 0.0)
            )
        elif fitting:
            total_h[i] = dial_h[i] + offset_h[fitting[0]]

    known = np.flatnonzero(np.isfinite(total_h))
    points_day = np.concatenate([day[known], change_day])
    points_h = np.concatenate([total_h[known], change_total_h])
    is_change = np.arange(len(points_day)) >= len(known)
    for lost, beside in _against_the_chain(points_day, points_h, is_change):
        if lost >= len(known):
            continue  # the chain keeps changes; what contradicts them is a reading
        first, second = sorted((lost, beside), key=lambda p: (points_day[p], p == lost))
        gain_h = float(points_h[second] - points_h[first])
        kind = "counter_fall" if gain_h < 0 else "hours_per_day"
        other = (
            int(known[beside])
            if beside < len(known)
            else -1 - _original(changes, ordered, beside - len(known))
        )
        conflicts.append(
            Conflict(int(known[lost]), other, kind, gain_h, float(points_day[second] - points_day[first]))
        )
        total_h[known[lost]] = np.nan
    return total_h, tuple(sorted(conflicts, key=lambda conflict: conflict.index))


def _original(changes: Sequence[DialChange], ordered: Sequence[DialChange], k: int) -> int:
    return list(changes).index(ordered[k])


def _dials_that_fit(
    on: int,
    shown_h: float,
    ordered: Sequence[DialChange],
    offset_h: NDArray[np.float64],
    day: NDArray[np.int64],
    dial_h: NDArray[np.float64],
) -> list[int]:
    """Indices of the dials whose hours would neither fall nor jump on the day of a change."""
    within_h = H_PER_DAY * TOLERANCE_DAYS
    fitting: list[int] = []
    totals: list[float] = []
    for k in range(len(ordered) + 1):
        begins = ordered[k - 1] if k else None
        ends = ordered[k] if k < len(ordered) else None
        touches = (begins is not None and begins.day == on) or (ends is not None and ends.day == on)
        if not touches:
            continue
        if ends is not None and ends.day == on:
            earlier = day < on
            if begins is not None:
                earlier &= day > begins.day
            highest_h = float(dial_h[earlier].max()) if earlier.any() else -np.inf
            if not max(highest_h, ends.old_last_h - within_h) <= shown_h <= ends.old_last_h:
                continue
        if (
            begins is not None
            and begins.day == on
            and not begins.new_first_h <= shown_h <= begins.new_first_h + within_h
        ):
            continue
        total = shown_h + float(offset_h[k])
        if total not in totals:
            fitting.append(k)
            totals.append(total)
    return fitting


def _against_the_chain(
    day: NDArray[np.int64], total_h: NDArray[np.float64], heavy: NDArray[np.bool_]
) -> list[tuple[int, int]]:
    """Points off the longest consistent chain, each with the nearest chain point it contradicts.

    Naming the fewest points that must go finds the mistyped dial rather than all that follow it.
    """
    order = np.lexsort((~heavy, total_h, day))
    d, h = day[order].astype(np.float64), total_h[order]
    gain = np.diff(h)
    if np.all((gain >= 0) & (gain <= H_PER_DAY * (np.diff(d) + TOLERANCE_DAYS))):
        return []
    n = len(order)
    weight = np.where(heavy[order], float(n), 1.0)
    best, came_from = weight.copy(), np.full(n, -1)
    for j in range(1, n):
        step_h = h[j] - h[:j]
        fits = np.flatnonzero((step_h >= 0) & (step_h <= H_PER_DAY * (d[j] - d[:j] + TOLERANCE_DAYS)))
        if len(fits):
            i = int(fits[np.argmax(best[fits])])
            if best[i] > 0:
                best[j] += best[i]
                came_from[j] = i
    last = int(np.argmax(best))  # the first of equals: a tie blames the later reading
    chain = []
    while last >= 0:
        chain.append(last)
        last = int(came_from[last])
    on_chain = np.zeros(n, dtype=bool)
    on_chain[chain] = True
    kept = np.flatnonzero(on_chain)
    pairs = []
    for j in np.flatnonzero(~on_chain).tolist():
        step_h = np.where(kept < j, h[j] - h[kept], h[kept] - h[j])
        days = np.abs(d[j] - d[kept])
        wrong = kept[(step_h < 0) | (step_h > H_PER_DAY * (days + TOLERANCE_DAYS))]
        near = wrong if len(wrong) else kept
        beside = near[np.argmin(np.abs(near - j))]
        pairs.append((int(order[j]), int(order[beside])))
    return pairs


@dataclass(frozen=True)
class Source:
    """Where a yearly use or its spread comes from: stated, months or years of the counter, or assumed."""

    kind: str
    n: int = 0

    def __str__(self) -> str:
        """The source in words."""
        return _SOURCES[self.kind].format(n=self.n)


_SOURCES = {
    "stated": "as stated",
    "months": "from the counter of the last {n} months",
    "years": "from {n} years of the counter",
    "assumed": "assumed (10 %)",
}


@dataclass(frozen=True)
class Use:
    """How many hours an engine runs in a year.

    Attributes
    ----------
    hours_per_year, sd_h : float
        Mean [h/year] and year-to-year standard deviation [h/year]; NaN where unknown.
    years : float
        Years of history behind the mean; 1 where it is only stated.
    mean_from, spread_from : Source or None
        Where the figures come from; None where unknown.
    """

    hours_per_year: float = np.nan
    sd_h: float = np.nan
    years: float = np.nan
    mean_from: Source | None = None
    spread_from: Source | None = None

    @property
    def text(self) -> str:
        """The figures and where they come from, in words."""
        if not self.known:
            return "no hours per year stated, and the counter spans less than 12 months"
        return f"{self.hours_per_year:.0f} hours a year {self.mean_from}, spread {self.sd_h:.0f} {self.spread_from}"

    @property
    def known(self) -> bool:
        """False where no calendar dates can be given."""
        return bool(np.isfinite(self.hours_per_year))


SPREAD_WHERE_UNKNOWN = 0.10
"""Share of the yearly hours taken as their spread where nothing tells it (judgement, and said)."""


def hours_per_year(
    day: NDArray[np.int64], total_h: NDArray[np.float64], stated_h: float, stated_sd_h: float
) -> Use:
    """Yearly use: as stated, else from the counter of the last 24 months (at least 12 spanned), else from all of it.

    Parameters
    ----------
    day : ndarray of int, shape (n,)
        Days since 1970-01-01.
    total_h : ndarray, shape (n,)
        Total running hours [h].
    stated_h, stated_sd_h : float
        Hours a year and their spread from the engines table; NaN where not given.
    """
    order = np.lexsort((total_h, day))
    d, h = day[order].astype(np.float64), total_h[order]
    years = 1.0
    if np.isfinite(stated_h):
        mean_h, mean_from = float(stated_h), Source("stated")
    else:
        recent = d >= (d[-1] - 2 * DAYS_PER_YEAR) if len(d) else np.zeros(0, dtype=bool)
        if len(d) and np.ptp(d[recent]) < 365:
            recent = np.ones(len(d), dtype=bool)
        span = np.ptp(d[recent]) if len(d) else 0.0
        if span < 365:
            return Use()
        years = span / DAYS_PER_YEAR
        mean_h = float((h[recent][-1] - h[recent][0]) / years)
        mean_from = Source("months", round(12 * years))
    if np.isfinite(stated_sd_h):
        return Use(mean_h, float(stated_sd_h), years, mean_from, Source("stated"))
    yearly_h = _yearly_use_h(d, h)
    if len(yearly_h) >= 3:
        sd_h = float(np.std(yearly_h, ddof=1))
        return Use(mean_h, sd_h, years, mean_from, Source("years", len(yearly_h)))
    sd_h = SPREAD_WHERE_UNKNOWN * mean_h
    return Use(mean_h, sd_h, years, mean_from, Source("assumed"))


def _yearly_use_h(day: NDArray[np.float64], total_h: NDArray[np.float64]) -> list[float]:
    """Hours a year between readings about a year apart, from the last one back [h/year].

    Only years that begin and end at a reading tell anything of their spread: hours interpolated between
    readings further apart would all be alike.
    """
    found: list[float] = []
    last = len(day) - 1
    while last > 0:
        apart = day[last] - day[:last]
        near = int(np.abs(apart - DAYS_PER_YEAR).argmin())
        if abs(apart[near] - DAYS_PER_YEAR) > _ABOUT_A_YEAR_DAYS:
            break
        found.append(float((total_h[last] - total_h[near]) / apart[near] * DAYS_PER_YEAR))
        last = near
    return found


_ABOUT_A_YEAR_DAYS = 90.0
"""Readings this much more or less than a year apart still tell a year's use (judgement)."""
