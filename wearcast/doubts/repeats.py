"""A whole set copied from an earlier opening, told from chance by how often readings repeat anyway."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, log10

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from wearcast.companions.uncertainty import reading_u_um
from wearcast.doubts.dates import SAME_DIAL_H
from wearcast.doubts.family import Found, query_of_set, usable
from wearcast.frames import row_numbers_of
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

NOT_SETS = ("web_deflection",)
"""Deflections hardly drift and start from a gauge set to zero: they repeat by nature."""

KEY = ["bearing", "position", "half", "point", "quantity"]


@dataclass(frozen=True)
class _Sheets:
    """What one engine's openings wrote down, as matrices of openings x keys in order of date; NaN: not read.

    Attributes
    ----------
    found, left : ndarray, shape (openings, keys)
        Values [mm] as found, and as left behind (as found where nothing was read as left).
    row : ndarray of int
        Reading (row number from 0) of each value found.
    of_quantity : ndarray of bool, shape (keys, quantities)
        Which quantity each key is of.
    """

    dates: NDArray[np.datetime64]
    total_h: NDArray[np.float64]
    found: NDArray[np.float64]
    left: NDArray[np.float64]
    row: NDArray[np.int64]
    of_quantity: NDArray[np.bool_]


@dataclass(frozen=True)
class _Repeat:
    """A later opening, the earlier one it repeats, the keys that do, and the chance of it."""

    later: int
    earlier: int
    keys: NDArray[np.int64]
    chance: float


def find_repeated_sets(history: History, counted: NDArray[np.bool_]) -> Found:
    """Openings at which every reading of a quantity equals that of one earlier opening.

    The chance of one reading repeating is taken with no wear between the two, which can only overstate it:
    E max(0, 1 - |D|/r) with D ~ N(0, 2u²) for the rounding step r, or the share that repeats in this fleet where
    that is larger. The set counts as one only if the product over its readings, times the number of earlier
    openings, stays below one in five thousand.
    """
    readings = history.readings
    at = np.flatnonzero(usable(history, counted) & ~readings["quantity"].isin(NOT_SETS).to_numpy())
    engines = row_numbers_of(readings.iloc[at], ["vessel", "engine"]).values()
    sheets = [_sheets(history, at[rows]) for rows in engines]
    chances = _Chances(history, sheets)
    queries: list[Query] = []
    lost: list[int] = []
    for of_engine in sheets:
        for later in range(1, len(of_engine.dates)):
            repeat = _least_likely(of_engine, later, chances)
            if repeat is not None:
                rows = of_engine.row[later, repeat.keys]
                queries.append(_query(history, of_engine, repeat))
                lost += rows.tolist()
    return Found(tuple(queries), tuple(lost))


def _sheets(history: History, at: NDArray[np.intp]) -> _Sheets:
    readings = history.readings.iloc[at]
    keys = row_numbers_of(readings, KEY)
    key = np.empty(len(at), dtype=np.intp)
    for k, rows in enumerate(keys.values()):
        key[rows] = k
    dates, opening = np.unique(readings["date"].to_numpy(), return_inverse=True)
    shape = len(dates), len(keys)
    as_found, as_left = np.full(shape, np.nan), np.full(shape, np.nan)
    row, row_left = np.full(shape, -1), np.full(shape, -1)
    left = (readings["state"] == "as_left").to_numpy()
    value = readings["value_mm"].to_numpy(dtype=np.float64).round(6)
    as_found[opening[~left], key[~left]], row[opening[~left], key[~left]] = value[~left], at[~left]
    as_left[opening[left], key[left]], row_left[opening[left], key[left]] = value[left], at[left]
    total_h = np.zeros(len(dates))
    total_h[opening] = readings["total_h"].to_numpy(dtype=np.float64)
    quantities = [one[-1] for one in keys]
    return _Sheets(
        dates=dates,
        total_h=total_h,
        # What was closed up is what an opening left behind, as far as it was read again.
        found=np.where(np.isnan(as_found), as_left, as_found),
        left=np.where(np.isnan(as_left), as_found, as_left),
        row=np.where(row < 0, row_left, row),
        of_quantity=np.array([[one == name for name in QUANTITIES] for one in quantities], dtype=bool),
    )


class _Chances:
    """The chance that one reading repeats, by quantity and rounding step."""

    def __init__(self, history: History, sheets: Sequence[_Sheets]) -> None:
        readings = history.readings
        self.step_um = readings["step_um"].to_numpy(dtype=np.float64)
        self.u_um = reading_u_um(readings)
        self.quantity = readings["quantity"].to_numpy()
        self.equal: dict[tuple[str, float], int] = {}
        self.pairs: dict[tuple[str, float], int] = {}
        for one in sheets:
            for lag in (1, 2):
                later, earlier = one.found[lag:], one.found[:-lag]
                both = np.isfinite(later) & np.isfinite(earlier)
                same = later[both] == earlier[both]
                for row, repeats in zip(one.row[lag:][both].tolist(), same.tolist(), strict=True):
                    kind = self._kind(row)
                    self.pairs[kind] = self.pairs.get(kind, 0) + 1
                    self.equal[kind] = self.equal.get(kind, 0) + repeats

    def _kind(self, row: int) -> tuple[str, float]:
        return str(self.quantity[row]), float(self.step_um[row])

    def of_all(self, rows: Sequence[int]) -> float:
        """The chance that all these readings repeat; they are taken out of the counts."""
        total = 0.0
        kinds = [self._kind(row) for row in rows]
        for row, kind in zip(rows, kinds, strict=True):
            calculated = repeat_chance(self.step_um[row], self.u_um[row])
            pairs = max(self.pairs.get(kind, 0) - kinds.count(kind), 0)
            equal = max(self.equal.get(kind, 0) - kinds.count(kind), 0)
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


def _least_likely(of_engine: _Sheets, later: int, chances: _Chances) -> _Repeat | None:
    """The earlier opening that a set repeats least by chance; None where it repeats none."""
    value = of_engine.found[later]
    before = np.flatnonzero(of_engine.total_h[later] - of_engine.total_h[:later] > SAME_DIAL_H)
    best: _Repeat | None = None
    for written in (of_engine.found[before], of_engine.left[before]):
        shared = np.isfinite(written) & np.isfinite(value)
        equal = shared & (written == value)
        n_shared, n_equal = (
            shared @ of_engine.of_quantity.astype(int),
            equal @ of_engine.of_quantity.astype(int),
        )
        repeated = (n_shared >= FEWEST) & (n_equal == n_shared)
        for k in np.flatnonzero(repeated.any(axis=1)).tolist():
            keys = np.flatnonzero(equal[k] & (of_engine.of_quantity & repeated[k]).any(axis=1))
            p = chances.of_all(of_engine.row[later, keys].tolist()) * len(before)
            if p <= CHANCE and (best is None or p < best.chance):
                best = _Repeat(later, int(before[k]), keys, p)
    return best


def _query(history: History, of_engine: _Sheets, repeat: _Repeat) -> Query:
    rows = of_engine.row[repeat.later, repeat.keys]
    quantities = history.readings["quantity"].to_numpy()[rows]
    titles = " and ".join(QUANTITIES[name].title for name in dict.fromkeys(quantities.tolist()))
    days = [np.datetime_as_string(of_engine.dates[k], unit="D") for k in (repeat.later, repeat.earlier)]
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
