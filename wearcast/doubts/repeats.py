"""A whole set copied from an earlier opening, told from chance by how often readings repeat anyway."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, log10

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtr

from wearcast.companions.uncertainty import reading_u_um
from wearcast.doubts.dates import SAME_DIAL_H
from wearcast.doubts.family import Found, query_of_set, usable
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.quantities import QUANTITIES
from wearcast.queries import Query

CHANCE = 1e-3
"""A set is asked about where chance alone would repeat it less often than this, over all earlier openings it
could have been copied from (judgement)."""

FEWEST = 3
"""Fewest readings of a quantity that make a set."""

PRIOR_PAIRS = 20.0
"""How many pairs of readings the calculated share of repeats is worth against the counted one (judgement)."""

NOT_SETS = ("web_deflection",)
"""Deflections hardly drift and start from a gauge set to zero: they repeat by nature."""

KEY = ["bearing", "position", "half", "point", "quantity"]
Key = tuple[str, ...]


@dataclass(frozen=True)
class _Set:
    """What one opening of one engine wrote down: value [mm] and row (from 0) by key, in one state."""

    on: pd.Timestamp
    total_h: float
    found: dict[Key, tuple[float, int]]
    left: dict[Key, tuple[float, int]]


@dataclass(frozen=True)
class _Repeat:
    later: _Set
    earlier: _Set
    keys: tuple[Key, ...]


def find_repeated_sets(history: History, counted: NDArray[np.bool_]) -> Found:
    """Openings at which every reading of a quantity equals that of one earlier opening.

    The chance of one reading repeating is taken with no wear between the two, which can only overstate it:
    E max(0, 1 - |D|/r) with D ~ N(0, 2u²) for the rounding step r, or the share that repeats in this fleet where
    that is larger. The set counts as one only if the product over its readings, times the number of earlier
    openings, stays below one in a thousand.
    """
    readings = history.readings
    at = np.flatnonzero(usable(history, counted) & ~readings["quantity"].isin(NOT_SETS).to_numpy())
    sets = [
        _sets(history, at[rows]) for rows in row_numbers_of(readings.iloc[at], ["vessel", "engine"]).values()
    ]
    chance = _Chances(history, sets)
    queries: list[Query] = []
    lost: list[int] = []
    for of_engine in sets:
        for k, later in enumerate(of_engine):
            found = _most_alike(later, of_engine[:k], chance)
            if found is not None:
                repeat, p = found
                rows = np.array([repeat.later.found[key][1] for key in repeat.keys], dtype=np.intp)
                queries.append(_query(history, repeat, rows, p))
                lost += rows.tolist()
    return Found(tuple(queries), tuple(lost))


def _sets(history: History, at: NDArray[np.intp]) -> list[_Set]:
    """The sets of one engine in order of date."""
    readings = history.readings.iloc[at]
    keys = list(zip(*(readings[name] for name in KEY), strict=True))
    value = readings["value_mm"].to_numpy(dtype=np.float64).round(6)
    left = (readings["state"] == "as_left").to_numpy()
    found = []
    for (on,), rows in row_numbers_of(readings, ["date"]).items():
        as_found = {keys[k]: (float(value[k]), int(at[k])) for k in rows if not left[k]}
        as_left = {keys[k]: (float(value[k]), int(at[k])) for k in rows if left[k]}
        hours = float(readings["total_h"].to_numpy()[rows[0]])
        # What was closed up is what an opening left behind, as far as it was read again.
        found.append(_Set(pd.Timestamp(on), hours, {**as_left, **as_found}, {**as_found, **as_left}))
    return sorted(found, key=lambda one: one.on)


class _Chances:
    """The chance that one reading repeats, by quantity and rounding step."""

    def __init__(self, history: History, sets: list[list[_Set]]) -> None:
        readings = history.readings
        self.step_um = readings["step_um"].to_numpy(dtype=np.float64)
        self.u_um = reading_u_um(readings)
        self.quantity = readings["quantity"].to_numpy()
        self.equal: dict[tuple[str, float], float] = {}
        self.pairs: dict[tuple[str, float], float] = {}
        for of_engine in sets:
            for k, later in enumerate(of_engine):
                for earlier in of_engine[max(0, k - 2) : k]:
                    self._count(later, earlier)

    def _count(self, later: _Set, earlier: _Set) -> None:
        for key, (value, row) in later.found.items():
            if key in earlier.found:
                kind = str(self.quantity[row]), float(self.step_um[row])
                self.pairs[kind] = self.pairs.get(kind, 0.0) + 1.0
                self.equal[kind] = self.equal.get(kind, 0.0) + float(earlier.found[key][0] == value)

    def log_chance(self, rows: list[int]) -> float:
        """Logarithm of the chance that all these readings repeat; they are taken out of the counts."""
        total = 0.0
        kinds = [(str(self.quantity[row]), float(self.step_um[row])) for row in rows]
        for row, kind in zip(rows, kinds, strict=True):
            own = kinds.count(kind)
            calculated = repeat_chance(self.step_um[row], self.u_um[row])
            pairs = max(self.pairs.get(kind, 0.0) - own, 0.0)
            equal = max(self.equal.get(kind, 0.0) - own, 0.0)
            counted = (equal + PRIOR_PAIRS * calculated) / (pairs + PRIOR_PAIRS)
            total += log(max(calculated, counted))
        return total


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
    return float(2 * ndtr(r / s) - 1 - 2 * s / (r * (2 * np.pi) ** 0.5) * -np.expm1(-0.5 * (r / s) ** 2))


def _most_alike(later: _Set, before: list[_Set], chance: _Chances) -> tuple[_Repeat, float] | None:
    """The earlier opening a set repeats least by chance, and that chance; None where it repeats none."""
    best: tuple[_Repeat, float] | None = None
    candidates = [one for one in before if later.total_h - one.total_h > SAME_DIAL_H]
    for earlier in candidates:
        for written in (earlier.found, earlier.left):
            keys = _repeated_keys(later, written)
            if not keys:
                continue
            p = exp(chance.log_chance([later.found[key][1] for key in keys])) * len(candidates)
            if p <= CHANCE and (best is None or p < best[1]):
                best = _Repeat(later, earlier, keys), p
    return best


def _repeated_keys(later: _Set, written: dict[Key, tuple[float, int]]) -> tuple[Key, ...]:
    """Keys of the quantities of which everything read at both is the same."""
    alike: list[Key] = []
    shared = [key for key in later.found if key in written]
    for quantity in dict.fromkeys(key[-1] for key in shared):
        of_quantity = [key for key in shared if key[-1] == quantity]
        if len(of_quantity) >= FEWEST and all(later.found[k][0] == written[k][0] for k in of_quantity):
            alike += of_quantity
    return tuple(alike)


def _query(history: History, repeat: _Repeat, rows: NDArray[np.intp], p: float) -> Query:
    titles = " and ".join(dict.fromkeys(QUANTITIES[key[-1]].title for key in repeat.keys))
    text = (
        f"all {len(rows)} readings of {titles} on {repeat.later.on.date()} that were also taken on "
        f"{repeat.earlier.on.date()} are the same to the last digit; by chance that happens once in "
        f"{_one_in(p)} openings."
    )
    ask = (
        "Perhaps copied from the earlier sheet. Not counted until measured again and confirmed, or withdrawn."
    )
    return query_of_set(history, rows, "repeated_set", text, ask, -log10(max(p, 1e-300)))


def _one_in(p: float) -> str:
    """The inverse of a chance to one figure.

    >>> _one_in(2.2e-4), _one_in(0.0)
    ('5 000', 'more than a billion')
    """
    if p < 1e-9:
        return "more than a billion"
    inverse = 1.0 / p
    size = 10 ** int(np.floor(np.log10(inverse)))
    return f"{round(inverse / size) * size:,}".replace(",", " ")
