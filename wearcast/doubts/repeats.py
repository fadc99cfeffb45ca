"""A whole set copied from an earlier opening, told from chance by how often readings repeat anyway."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, log, log10
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wearcast.companions.uncertainty import reading_u_um
from wearcast.doubts.dates import SAME_DIAL_H
from wearcast.doubts.family import Found, query_of_set, usable
from wearcast.lives.history import History
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query
from wearcast.words import grouped

CHANCE = 2e-4
"""A set is asked about where chance alone would repeat it less often than this, over all earlier openings it
could have been copied from (judgement)."""

FEWEST = 3
"""Fewest readings of a quantity that make a set."""

PRIOR_PAIRS = 20.0
"""How many pairs of readings the calculated share of repeats is worth against the counted one (judgement)."""

ENGINE = ["vessel", "engine"]
KEY = ["bearing", "position", "half", "point", "quantity"]


@dataclass(frozen=True, eq=False)
class _Cells:
    """What engines' openings wrote down: one cell an opening x key, key by key in order of date.

    Attributes
    ----------
    key : ndarray of int
        Place x point x quantity of an engine.
    opening : ndarray of int
        Openings, engine by engine in order of first appearance, by date.
    found, left : ndarray
        Values [mm] as found, and as left behind (as found where nothing was read as left).
    row : ndarray of int
        Reading (row number from 0) of each value found.
    quantity : ndarray of int
        Place of the quantity in `QUANTITIES`.
    begins, date, total_h : ndarray, shape (openings,)
        The first opening of the engine, and date and hours of each.
    """

    key: NDArray[np.int64]
    opening: NDArray[np.int64]
    found: NDArray[np.float64]
    left: NDArray[np.float64]
    row: NDArray[np.int64]
    quantity: NDArray[np.int64]
    begins: NDArray[np.int64]
    date: NDArray[np.datetime64]
    total_h: NDArray[np.float64]

    @property
    def number(self) -> NDArray[np.int64]:
        """The opening of each cell as counted in its engine, from 0."""
        return np.asarray(self.opening - self.begins[self.opening])

    def earlier(self, by: int, among: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Some cells, and those of the same key so many openings earlier, where both are."""
        name = self.key * len(self.date) + self.opening
        at = np.searchsorted(name, name[among] - by)
        both = name[at] == name[among] - by
        return among[both], at[both]

    def before(self, opening: int) -> NDArray[np.intp]:
        """Earlier openings of the engine, between which the dial has moved."""
        first = self.begins[opening]
        moved = self.total_h[opening] - self.total_h[first:opening] > SAME_DIAL_H
        return np.asarray(first + np.flatnonzero(moved), dtype=np.intp)


@dataclass(frozen=True)
class _Repeat:
    """Cells of a later opening that repeat an earlier one, and the chance of it."""

    cells: NDArray[np.intp]
    earlier: int
    chance: float


def find_repeated_sets(history: History, counted: NDArray[np.bool_]) -> Found:
    """Openings at which every reading of a quantity equals that of one earlier opening.

    The chance of one reading repeating is taken with no wear between the two, which can only overstate it:
    E max(0, 1 - |D|/r) with D ~ N(0, 2u²) for the rounding step r, or the share that repeats in this fleet where
    that is larger. The set counts as one only if the product over its readings, times the number of earlier
    openings, stays below one in five thousand.
    """
    cells = _cells(history, counted)
    best: dict[int, _Repeat] = {}
    for later, repeat in _repeats(cells, _Chances(history, cells)):
        if later not in best or repeat.chance < best[later].chance:
            best[later] = repeat
    queries: list[Query] = []
    lost: list[int] = []
    for later in sorted(best):
        queries.append(_repeat_query(history, cells, later, best[later]))
        lost += cells.row[best[later].cells].tolist()
    return Found(tuple(queries), tuple(lost))


def _cells(history: History, counted: NDArray[np.bool_]) -> _Cells:
    by_nature = [one.name for one in QUANTITIES.values() if one.repeats]
    sets = ~history.readings["quantity"].isin(by_nature).to_numpy()
    at = np.flatnonzero(usable(history, counted) & sets)
    readings = history.readings.iloc[at]
    key = readings.groupby([*ENGINE, *KEY], sort=False).ngroup().to_numpy(dtype=np.int64)
    engine = readings.groupby(ENGINE, sort=False).ngroup().to_numpy(dtype=np.int64)
    dates = readings["date"].to_numpy()
    opening, last = _numbered(engine, dates)
    first_of_engine = np.unique(engine[last], return_index=True)[1]
    cell, row_of_cell = _numbered(key, opening)
    as_left = (readings["state"] == "as_left").to_numpy()
    value = readings["value_mm"].to_numpy(dtype=np.float64).round(6)
    # Of several readings of one cell the last counts.
    found, left = np.full((2, len(row_of_cell)), np.nan)
    row, row_left = np.full((2, len(row_of_cell)), -1)
    found[cell[~as_left]], row[cell[~as_left]] = value[~as_left], at[~as_left]
    left[cell[as_left]], row_left[cell[as_left]] = value[as_left], at[as_left]
    numbers = {name: k for k, name in enumerate(QUANTITIES)}
    return _Cells(
        key=key[row_of_cell].astype(np.int64),
        opening=opening[row_of_cell],
        # What was closed up is what an opening left behind, as far as it was read again.
        found=np.where(np.isnan(found), left, found),
        left=np.where(np.isnan(left), found, left),
        row=np.where(row < 0, row_left, row),
        quantity=readings["quantity"].map(numbers).to_numpy(dtype=np.int64)[row_of_cell].astype(np.int64),
        begins=first_of_engine[engine[last]],
        date=dates[last],
        total_h=readings["total_h"].to_numpy(dtype=np.float64)[last],
    )


def _numbered(major: NDArray[Any], minor: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Pairs counted from 0 in their order, as the number of each row, and the last row of each pair."""
    order = np.lexsort((minor, major))
    new = (np.diff(major[order]) != 0) | (minor[order][1:] != minor[order][:-1])
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.append(0, np.cumsum(new))[: len(order)]
    return number, order[np.append(new, True)[: len(order)]]


class _Chances:
    """The chance that one reading repeats, by quantity and rounding step."""

    def __init__(self, history: History, cells: _Cells) -> None:
        self.step_um = history.readings["step_um"].to_numpy(dtype=np.float64)
        self.u_um = reading_u_um(history.readings)
        step, of_step = np.unique(self.step_um[cells.row], return_inverse=True)
        self.kind = of_step.ravel() * len(QUANTITIES) + cells.quantity
        self.row = cells.row
        self.equal, self.pairs = np.zeros((2, len(step) * len(QUANTITIES)), dtype=np.int64)
        for by in (1, 2):
            later, earlier = cells.earlier(by, np.flatnonzero(cells.number >= by))
            self.pairs += np.bincount(self.kind[later], minlength=len(self.pairs))
            same = later[cells.found[later] == cells.found[earlier]]
            self.equal += np.bincount(self.kind[same], minlength=len(self.pairs))

    def of_all(self, cells: NDArray[np.intp]) -> float:
        """The chance that the readings of all these cells repeat; they are taken out of the counts."""
        total = 0.0
        among = np.bincount(self.kind[cells], minlength=len(self.pairs))
        for row, kind in zip(self.row[cells].tolist(), self.kind[cells].tolist(), strict=True):
            calculated = repeat_chance(self.step_um[row], self.u_um[row])
            pairs = max(int(self.pairs[kind] - among[kind]), 0)
            equal = max(int(self.equal[kind] - among[kind]), 0)
            counted = (equal + PRIOR_PAIRS * calculated) / (pairs + PRIOR_PAIRS)
            total += log(max(calculated, counted))
        return exp(total)


def repeat_chance(step_um: float, u_um: float) -> float:
    """Chance that two readings of one unchanged size agree to the last digit.

    Parameters
    ----------
    step_um, u_um : float
        Rounding step and standard uncertainty of one reading [µm].

    Notes
    -----
    Both fall into one step with probability max(0, 1 - |D|/r) where the true size lies anywhere in it, and
    D ~ N(0, 2u²): 2Φ(r/s) - 1 - 2s/(r√(2π))·(1 - exp(-r²/2s²)) with s = u√2.

    >>> round(repeat_chance(10.0, 6.0), 2), round(repeat_chance(1.0, 6.0), 3)
    (0.42, 0.047)
    """
    s = u_um * 2**0.5
    r = max(step_um, 1e-3)
    return float(2 * ndtr(r / s) - 1 + 2 * s / (r * (2 * np.pi) ** 0.5) * np.expm1(-0.5 * (r / s) ** 2))


def _repeats(cells: _Cells, chances: _Chances) -> Iterator[tuple[int, _Repeat]]:
    """Openings that repeat an earlier one and would hardly do so by chance.

    For one later opening those repeated as found come before those repeated as left, earlier ones first.
    """
    name, kinds = cells.opening * len(QUANTITIES) + cells.quantity, len(QUANTITIES)
    sets = np.flatnonzero(np.bincount(name)[name] >= FEWEST) if len(name) else np.empty(0, dtype=np.intp)
    number = cells.number[sets]
    found: list[tuple[int, int, int, NDArray[np.intp]]] = []
    for by in range(1, int(number.max(initial=0)) + 1):
        later, earlier = cells.earlier(by, sets[number >= by])
        apart = cells.total_h[cells.opening[later]] - cells.total_h[cells.opening[earlier]] > SAME_DIAL_H
        later, earlier = later[apart], earlier[apart]
        _, which, shared = np.unique(name[later], return_inverse=True, return_counts=True)
        for way, written in enumerate((cells.found, cells.left)):
            equal = np.bincount(which, written[earlier] == cells.found[later], len(shared))
            whole = later[((shared >= FEWEST) & (equal == shared))[which]]
            for opening in np.unique(name[whole] // kinds).tolist():
                found.append((opening, way, opening - by, whole[cells.opening[whole] == opening]))
    for opening, _, earlier_opening, these in sorted(found, key=lambda one: one[:3]):
        chance = chances.of_all(these) * len(cells.before(opening))
        if chance <= CHANCE:
            yield opening, _Repeat(these, earlier_opening, chance)


def _repeat_query(history: History, cells: _Cells, later: int, repeat: _Repeat) -> Query:
    rows = cells.row[repeat.cells]
    quantities = history.readings["quantity"].to_numpy()[rows]
    titles = " and ".join(QUANTITIES[name].title for name in dict.fromkeys(quantities.tolist()))
    days = [np.datetime_as_string(cells.date[k], unit="D") for k in (later, repeat.earlier)]
    text = (
        f"all {len(rows)} readings of {titles} on {days[0]} that were also taken on {days[1]} are the same to the "
        f"last digit; by chance that happens once in {one_in(repeat.chance)} openings."
    )
    ask = (
        "Perhaps copied from the earlier sheet. Not counted until measured again and confirmed, or withdrawn."
    )
    return query_of_set(history, rows, "repeated_set", text, ask, -log10(max(repeat.chance, 1e-300)))


def one_in(chance: float) -> str:
    """The inverse of a chance to one figure.

    >>> one_in(2.2e-4), one_in(0.0)
    ('5 000', 'more than a billion')
    """
    if chance < 1e-9:
        return "more than a billion"
    inverse = 1.0 / chance
    size = 10 ** int(np.floor(np.log10(inverse)))
    return grouped(round(inverse / size) * size)
