"""Upper and lower written the wrong way round: each half fits the other's history better than its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.expected import expected_walls
from wearcast.doubts.family import Found, place_of, query_of_set, usable
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

GAIN_ONE_BEARING = 8.0
"""Gain in log-likelihood from which one bearing is asked about: by chance once in 30 000 bearings or rarer, for
P(gain > g) ≤ Φ(-√(2g)) whatever the halves differ by."""

GAIN_OPENING = 5.0
"""The same for all bearings of an opening together: once in 1 000 openings or rarer."""

FITS_U, FITS_ALL = 3.0, 3.0
"""Exchanged, the two must fit this well [u], and all of an opening in the mean of squares; an outlier does not."""

FITS_ALONE_U = 2.0
"""The same where one bearing alone is asked about."""

GAIN_OF_OTHERS = 1.5
"""What the bearings but the one that gains most must gain together, for a whole opening to be asked about."""

PLACES_FOR_A_MIDDLE = 3

_PAIR = ["vessel", "engine", "date", "bearing", "position", "point", "state", "instrument"]


@dataclass(frozen=True)
class _Pair:
    """Both halves of one bearing at one opening.

    Attributes
    ----------
    gain : float
        Log-likelihood exchanged less as written.
    misfit_u : float
        How well the difference of the two fits exchanged.
    sum_u : float
        How far their sum, which no exchange alters, is off what is expected.
    """

    rows: tuple[int, int]
    gain: float
    misfit_u: float
    sum_u: float


def find_half_swaps(history: History, counted: NDArray[np.bool_]) -> Found:
    """Bearings, or whole openings, whose halves fit better exchanged.

    With d the difference of the two walls, Δ what the other openings expect of it and V its variance, exchanging
    gains ((d - Δ)² - (d + Δ)²)/2V in log-likelihood. A common error of the gauge cancels in d.
    """
    queries: list[Query] = []
    lost: list[int] = []
    counted = counted.copy()
    mine = usable(history, counted)
    while True:
        best: dict[tuple[object, ...], list[_Pair]] = {}
        for (vessel, engine, _), of_opening in _pairs(history, mine & counted, counted).items():
            swapped = _swapped(of_opening)
            if swapped and _gain(swapped) > _gain(best.get((vessel, engine), [])):
                best[vessel, engine] = swapped
        if not best:
            return Found(tuple(queries), tuple(lost))
        # One opening of an engine at a time: a swapped one makes its neighbours look swapped.
        for pairs in best.values():
            at = np.array([row for pair in pairs for row in pair.rows], dtype=np.intp)
            queries.append(_swap_query(history, at, _gain(pairs)))
            lost += at.tolist()
            counted[at] = False


def _gain(pairs: list[_Pair]) -> float:
    return sum(pair.gain for pair in pairs)


def _swapped(pairs: list[_Pair]) -> list[_Pair]:
    """The pairs of an opening to ask about: all of them where that explains it, else those that stand out."""
    # A gauge that reads wrong moves all sums alike; a shell renewed or misread moves its own.
    middle = float(np.median([pair.sum_u for pair in pairs])) if len(pairs) >= PLACES_FOR_A_MIDDLE else 0.0
    fitting = [pair for pair in pairs if abs(pair.sum_u - middle) < FITS_U]
    misfit2 = sum(pair.misfit_u**2 for pair in fitting) / max(len(fitting), 1)
    gain, most = _gain(fitting), max((pair.gain for pair in fitting), default=0.0)
    if gain > GAIN_OPENING and gain - most > GAIN_OF_OTHERS and misfit2 < FITS_ALL:
        return fitting
    return [
        pair
        for pair in fitting
        if pair.gain > GAIN_ONE_BEARING and max(pair.misfit_u, abs(pair.sum_u - middle)) < FITS_ALONE_U
    ]


def _pairs(
    history: History, mine: NDArray[np.bool_], counted: NDArray[np.bool_]
) -> dict[tuple[object, ...], list[_Pair]]:
    """Pairs of halves by vessel, engine and date."""
    expected = expected_walls(history, counted)
    readings = history.readings
    at = np.flatnonzero(mine & np.isfinite(expected.mean_um) & (expected.others > 0))
    walls = readings.iloc[at]
    half = walls["half"].to_numpy()
    together = {
        key: rows
        for key, rows in row_numbers_of(walls, _PAIR).items()
        if len(rows) == 2 and len(set(half[rows])) == 2
    }
    if not together:
        return {}
    both = np.stack(list(together.values()))
    upper_first = half[both[:, 0]] == "upper"
    rows = at[np.where(upper_first[:, None], both, both[:, ::-1])]
    value_um = readings["value_mm"].to_numpy(dtype=np.float64)[rows] * UM_PER_MM
    # What is worn less than expected is thicker than expected by as much.
    wall_um = value_um + expected.residual_um[rows]
    d, delta = value_um[:, 0] - value_um[:, 1], wall_um[:, 0] - wall_um[:, 1]
    V = expected.var[rows].sum(axis=1)
    gain, misfit = -2 * d * delta / V, np.abs(d + delta) / np.sqrt(V)
    off = -expected.residual_um[rows].sum(axis=1) / np.sqrt(V)
    found: dict[tuple[object, ...], list[_Pair]] = {}
    for k, key in enumerate(together):
        pair = _Pair((int(rows[k, 0]), int(rows[k, 1])), float(gain[k]), float(misfit[k]), float(off[k]))
        found.setdefault(key[:3], []).append(pair)
    return found


def _swap_query(history: History, at: NDArray[np.intp], gain: float) -> Query:
    rows = history.readings.iloc[at]
    first = next(rows_of(rows))
    places = len(at) // 2
    where = place_of(first._replace(half="")) if places == 1 else f"{places} bearings"
    text = (
        f"the walls of {where} on {first.date.date()} fit the other openings better with upper and lower exchanged "
        f"(log-likelihood higher by {gain:.1f})."
    )
    ask = "Look at the original sheet. Not counted until the halves are corrected or the readings confirmed."
    return query_of_set(history, at, "half_swap", text, ask, gain)
