"""A wall that has grown between two openings, and stayed: a renewal that nobody recorded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.parts import PLACE, parts_at_openings
from wearcast.doubts.expected import Expected, expected_walls
from wearcast.doubts.family import Found, confirmed, place_of, query_of_set
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS, HALVES
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

BEYOND_U = 4.0
"""From how many standard uncertainties of the step a wall has grown (judgement)."""

BETTER_THAN_A_SLIP = 2.0
"""By how much the log-likelihood of a step must exceed that of one wrong opening (judgement)."""

UNKNOWN_UM = 1000.0
"""Spread given to the unknown constant between wall and clearance [µm]."""

COMMON_POSITIONS = 2
"""Other places that tell a common error of an opening from a renewal at one."""


@dataclass(frozen=True)
class _Openings:
    """One shell life in order of hours, found before left: crown readings averaged, arrays of shape (n,).

    Attributes
    ----------
    rows : tuple of ndarray
        Readings (row numbers from 0) of each opening and state.
    by_clearance : tuple of (wear [µm], variance [µm²], grinding) or None
        The same wear as clearance and the other half tell it, but for one constant a grinding.
    """

    tau_kh: NDArray[np.float64]
    wear_um: NDArray[np.float64]
    error_var: NDArray[np.float64]
    common_um: NDArray[np.float64]
    rows: tuple[NDArray[np.intp], ...]
    level: tuple[float, float]
    rate: tuple[float, float]
    uneven_var: float
    by_clearance: tuple[tuple[float, float, int] | None, ...]


@dataclass(frozen=True)
class _Step:
    """The wall grew before opening `at`, by `growth_um` with uncertainty `u_um`; `certain`: it has stayed."""

    at: int
    growth_um: float
    u_um: float
    stayed: bool


def find_unrecorded_renewals(history: History, counted: NDArray[np.bool_]) -> Found:
    """Walls that have grown by at least four uncertainties within one recorded shell life.

    Each life is fitted by a line with a step between two openings (generalised least squares, broad priors of
    level and rate, uneven wear as a random walk). The step must fit better than one wrong opening would; where
    only one reading stands on one side the two cannot be told apart, and then an error common to the places read
    at that opening is taken off first, so that a gauge that over-reads is not taken for renewals.
    """
    expected = expected_walls(history, counted)
    common = _common_errors(history, expected)
    sure = confirmed(history)
    queries: list[Query] = []
    lost: list[int] = []
    for of_life in _lives(history, expected, common, counted):
        step = _largest_step(of_life)
        if step is None or sure[of_life.rows[step.at]].any():
            continue
        before = np.concatenate(of_life.rows[: step.at])
        after = np.concatenate(of_life.rows[step.at :])
        queries.append(_query(history, of_life, step))
        # A step that has stayed belongs to a new shell; a single thick reading is not to be built on.
        lost += (before if step.stayed else after).tolist()
    return Found(tuple(queries), tuple(k for k in lost if not sure[k]))


def _common_errors(history: History, expected: Expected) -> NDArray[np.float64]:
    """Middle residual of the other places read with the same gauge at the same opening [µm]; 0 where too few."""
    readings = history.readings
    known = np.isfinite(expected.mean_um) & (expected.others > 0)
    residual = expected.residual_um
    place = readings["bearing"].to_numpy() + "|" + readings["position"].to_numpy()
    at = np.flatnonzero(known)
    common = np.zeros(len(readings))
    for rows in row_numbers_of(readings.iloc[at], ["opening"]).values():
        here = at[rows]
        places = place[here]
        if len(set(places)) <= COMMON_POSITIONS:
            continue
        for one in set(places):
            common[here[places == one]] = np.median(residual[here[places != one]])
    return common


def _lives(
    history: History, expected: Expected, common: NDArray[np.float64], counted: NDArray[np.bool_]
) -> list[_Openings]:
    """Shell lives with a rise between two openings that is worth fitting."""
    readings = history.readings
    crown = readings["point"].isin(CROWN_POINTS).to_numpy()
    at = np.flatnonzero(np.isfinite(expected.mean_um) & crown)
    left = (readings["state"] == "as_left").to_numpy()
    by_clearance = _walls_by_clearance(history, counted)
    found = []
    for rows in row_numbers_of(readings.iloc[at], ["life"]).values():
        if len(rows) > 1:
            of_life = _openings(history, expected, common, left, at[rows], by_clearance)
            sd = np.sqrt(of_life.error_var[1:] + of_life.error_var[:-1])
            if len(of_life.rows) > 1 and (np.diff(of_life.wear_um) < -sd).any():
                found.append(of_life)
    return found


_Key = tuple[str, str, str, str, str, np.datetime64, str]


def _walls_by_clearance(history: History, counted: NDArray[np.bool_]) -> dict[_Key, tuple[float, float, int]]:
    """Wear of each half as clearance and the other half tell it, but for a constant: [µm], variance, grinding.

    t = H - d - (c + t_other), and H - d stays until the journal is ground.
    """
    parts = parts_at_openings(history, counted)
    found: dict[_Key, tuple[float, float, int]] = {}
    for half, other in (HALVES, HALVES[::-1]):
        wear_um = (parts["clearance"] + parts[other]).to_numpy(dtype=np.float64) * UM_PER_MM
        var = (parts["clearance_u_um"] ** 2 + parts[f"{other}_u_um"] ** 2).to_numpy(dtype=np.float64)
        place = zip(*(parts[name].to_numpy() for name in PLACE), strict=True)
        rest = zip(parts["date"].to_numpy(), parts["state"].to_numpy(), strict=True)
        for k, (where, when) in enumerate(zip(place, rest, strict=True)):
            if np.isfinite(wear_um[k]):
                found[*where, half, *when] = float(wear_um[k]), float(var[k]), int(parts["grinding"].iloc[k])
    return found


def _openings(
    history: History,
    e: Expected,
    common: NDArray[np.float64],
    left: NDArray[np.bool_],
    at: NDArray[np.intp],
    by_clearance: dict[_Key, tuple[float, float, int]],
) -> _Openings:
    # As found comes before as left: a shell may have been exchanged between the two.
    _, number = np.unique(np.column_stack([e.tau_kh[at], left[at]]), axis=0, return_inverse=True)
    groups = [at[number.ravel() == k] for k in range(int(number.max()) + 1)]
    first = at[0]
    columns = [history.readings[name].to_numpy() for name in (*PLACE, "half", "date", "state")]
    told = [by_clearance.get(tuple(column[rows[0]] for column in columns)) for rows in groups]
    return _Openings(
        tau_kh=np.array([e.tau_kh[rows[0]] for rows in groups]),
        wear_um=np.array([e.wear_um[rows].mean() for rows in groups]),
        error_var=np.array([e.error_var[rows].mean() for rows in groups]),
        common_um=np.array([common[rows].mean() for rows in groups]),
        rows=tuple(groups),
        level=(float(e.level_um[first]), float(e.level_var[first])),
        rate=(float(e.rate_um_per_kh[first]), float(e.rate_var[first])),
        uneven_var=float(e.uneven_var[first]),
        by_clearance=tuple(told),
    )


def _largest_step(of_life: _Openings) -> _Step | None:
    """The step that stands furthest from 0, if it stands far enough and is no slip of one opening."""
    n = len(of_life.rows)
    best: _Step | None = None
    for k in range(1, n):
        alone_before, alone_after = k == 1, k == n - 1
        wear = of_life.wear_um.copy()
        for end, alone in ((0, alone_before), (n - 1, alone_after)):
            if alone:
                wear[end] -= of_life.common_um[end]
        step = (np.arange(n) >= k).astype(np.float64)
        growth, u, gain = _change(of_life, wear, step)
        if growth < BEYOND_U * u or (best is not None and growth / u <= best.growth_um / best.u_um):
            continue
        slips = [j for j, alone in ((k - 1, alone_before), (k, alone_after)) if not alone]
        pulses = [
            _change(of_life, wear, (np.arange(n) == j).astype(np.float64), clearance=False)[2] for j in slips
        ]
        if any(gain - pulse < BETTER_THAN_A_SLIP for pulse in pulses):
            continue
        best = _Step(k, growth, u, stayed=not alone_after)
    return best


def _change(
    of_life: _Openings, wear_um: NDArray[np.float64], shape: NDArray[np.float64], clearance: bool = True
) -> tuple[float, float, float]:
    """Size of a change of that shape [µm] (a growing wall positive), its uncertainty, and the gain it brings.

    The gain is half the fall of χ²: (size / u)² / 2, the size having no prior. With `clearance` the change is one of
    the wall itself, which clearance and the other half see as well; without, one of the wall's readings.
    """
    told = [k for k, one in enumerate(of_life.by_clearance) if one is not None]
    which = np.concatenate([np.arange(len(wear_um)), told]).astype(np.intp)
    tau, n = of_life.tau_kh[which], len(wear_um)
    of_walls = np.arange(len(which)) < n
    other = [one for one in of_life.by_clearance if one is not None]
    grinding = np.array([-1] * n + [one[2] for one in other])
    read = np.concatenate([wear_um, [one[0] for one in other]])
    error_var = np.concatenate([of_life.error_var, [one[1] for one in other]])
    expected = of_life.level[0] + of_life.rate[0] * tau
    for k in set(grinding[n:].tolist()):  # the unknown constant, taken off and given back as variance
        read[grinding == k] -= np.mean(read[grinding == k] - expected[grinding == k])
    V = np.diag(error_var) + of_life.uneven_var * np.minimum.outer(tau, tau)
    V += of_life.level[1] + of_life.rate[1] * np.multiply.outer(tau, tau)
    V += UNKNOWN_UM**2 * (np.equal.outer(grinding, grinding) & ~of_walls[:, None])
    shapes = shape[which] * (of_walls | clearance)
    solved = np.linalg.solve(V, np.column_stack([read - expected, shapes]))
    precision = float(shapes @ solved[:, 1])
    size = float(shapes @ solved[:, 0]) / precision
    return -size, precision**-0.5, size**2 * precision / 2


def _query(history: History, of_life: _Openings, step: _Step) -> Query:
    after = of_life.rows[step.at]
    first = next(rows_of(history.readings.iloc[after[:1]]))
    earlier = next(rows_of(history.readings.iloc[of_life.rows[step.at - 1][:1]]))
    since = earlier.date.date() if earlier.date == earlier.date else "its fitting"
    text = (
        f"the wall of {place_of(first)} stands {step.growth_um:.0f} µm thicker on {first.date.date()} than its "
        f"readings up to {since} lead to expect ({step.growth_um / step.u_um:.1f} u), and no renewal is recorded "
        "between."
    )
    if step.stayed:
        ask = "If the shell was renewed, add the event; until then the readings before it do not count."
    else:
        ask = (
            "If the shell was renewed, add the event; or the reading is wrong. Until it is settled the thicker "
            "reading does not count."
        )
    return query_of_set(history, after, "unrecorded_renewal", text, ask, step.growth_um / step.u_um)
