"""A wall that has grown between two openings, and stayed: a renewal that nobody recorded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.parts import PLACE, parts_at_openings
from wearcast.doubts.expected import Expected, expected_walls
from wearcast.doubts.family import DOUBTED_FROM_U, Found, confirmed, place_of, query_of_set
from wearcast.doubts.steps import Lines, steps
from wearcast.frames import rows_of
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS, HALVES
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

BETTER_THAN_A_SLIP = 2.0
"""By how much the log-likelihood of a step must exceed that of one wrong opening (judgement)."""

UNKNOWN_UM = 1000.0
"""Spread given to the unknown constant between wall and clearance [µm]."""

COMMON_POSITIONS = 2
"""Other places that tell a common error of an opening from a renewal at one."""


@dataclass(frozen=True, eq=False)
class _Openings:
    """Shell lives in order of first appearance, their openings in order of hours, found before left.

    Attributes
    ----------
    rows : ndarray of int, shape (n readings,)
        Crown readings (row numbers from 0), opening by opening.
    starts : ndarray of int, shape (n openings + 1,)
        Where in `rows` each opening begins.
    life : ndarray of int, shape (n openings,)
        Which life, from 0.
    """

    rows: NDArray[np.intp]
    starts: NDArray[np.intp]
    life: NDArray[np.intp]

    @property
    def first(self) -> NDArray[np.intp]:
        """A reading of each opening."""
        return self.rows[self.starts[:-1]]

    def mean(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mean over the readings of each opening of a value of every reading."""
        sums = np.add.reduceat(values[self.rows], self.starts[:-1]) if len(self.rows) else np.empty(0)
        return np.asarray(sums / np.diff(self.starts))

    def readings(self, openings: NDArray[np.intp]) -> NDArray[np.intp]:
        """Readings of some openings that follow one another."""
        return self.rows[self.starts[openings[0]] : self.starts[openings[-1] + 1]]


@dataclass(frozen=True)
class _Step:
    """The wall grew before opening `at`, by `growth_um` with uncertainty `u_um`; `stayed`: more than once read."""

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
    openings = _openings(history, expected)
    sure = confirmed(history)
    queries: list[Query] = []
    lost: list[int] = []
    for here, step in _largest_steps(history, expected, openings, counted):
        after = openings.readings(here[[step.at]])
        if sure[after].any():
            continue
        queries.append(_renewal_query(history, after, openings.readings(here[[step.at - 1]]), step))
        # A step that has stayed belongs to a new shell; a single thick reading is not to be built on.
        lost += openings.readings(here[: step.at] if step.stayed else here[step.at :]).tolist()
    return Found(tuple(queries), tuple(k for k in lost if not sure[k]))


def _openings(history: History, expected: Expected) -> _Openings:
    """Openings of all shell lives whose crown was read."""
    readings = history.readings
    crown = readings["point"].isin(CROWN_POINTS).to_numpy()
    at = np.flatnonzero(np.isfinite(expected.mean_um) & crown)
    life = pd.factorize(readings["life"].to_numpy()[at])[0]
    left = (readings["state"] == "as_left").to_numpy()[at]
    tau = expected.tau_kh[at]
    # As found comes before as left: a shell may have been exchanged between the two.
    order = np.lexsort((left, tau, life))
    keys = np.stack([life, left, tau])[:, order]
    starts = np.flatnonzero(np.append(True, (np.diff(keys, axis=1) != 0).any(axis=0)))[: len(at)]
    return _Openings(at[order], np.append(starts, len(at)), life[order][starts])


def _largest_steps(
    history: History, e: Expected, openings: _Openings, counted: NDArray[np.bool_]
) -> Iterator[tuple[NDArray[np.intp], _Step]]:
    """Lives that have grown, as their openings, with the step that stands furthest from 0; in order of the lives."""
    read_um, error_var = openings.mean(e.wear_um), openings.mean(e.error_var)
    same = openings.life[1:] == openings.life[:-1]
    rise = same & (np.diff(read_um) < -np.sqrt(error_var[1:] + error_var[:-1]))
    lives = np.unique(openings.life[1:][rise])  # the others are not worth fitting
    if not lives.size:
        return iter(())
    begins = np.searchsorted(openings.life, lives)
    counts = np.searchsorted(openings.life, lives, side="right") - begins
    common_um = openings.mean(_common_errors(history, e))
    other_um, other_var, grinding = _walls_by_clearance(history, counted, openings.first)
    found: dict[int, tuple[NDArray[np.intp], _Step]] = {}
    for n in np.unique(counts).tolist():
        mine = np.flatnonzero(counts == n)
        here = begins[mine][:, None] + np.arange(n)
        row = openings.first[here]
        prior = row.min(axis=1)  # several crown points of a shell may have several limits: its first row's
        usual_um = e.level_um[prior][:, None] + e.rate_um_per_kh[prior][:, None] * e.tau_kh[row]
        fitted = steps(
            Lines(
                tau_kh=e.tau_kh[row],
                wear_um=read_um[here] - usual_um,
                error_var=error_var[here],
                other_um=_about_their_middle(other_um[here] - usual_um, grinding[here]),
                other_var=other_var[here],
                constant=grinding[here],
                level_var=e.level_var[prior],
                rate_var=e.rate_var[prior],
                uneven_var=e.uneven_var[prior],
            ),
            common_um[here[:, 0]],
            common_um[here[:, -1]],
            UNKNOWN_UM,
        )
        in_u = -fitted.size_um / fitted.u_um
        in_u[:, 0] = -np.inf
        in_u[fitted.gain - fitted.slip_gain < BETTER_THAN_A_SLIP] = -np.inf
        for k in np.flatnonzero(in_u.max(axis=1) >= DOUBTED_FROM_U).tolist():
            at = int(in_u[k].argmax())
            step = _Step(at, -float(fitted.size_um[k, at]), float(fitted.u_um[k, at]), stayed=at < n - 1)
            found[int(mine[k])] = here[k], step
    return (found[k] for k in sorted(found))


def _about_their_middle(um: NDArray[np.float64], constant: NDArray[np.int64]) -> NDArray[np.float64]:
    """Values less the mean of those with the same constant: it is unknown, and only its spread is given back."""
    known = np.isfinite(um)
    for k in range(int(constant.max(initial=-1)) + 1):
        mine = known & (constant == k)
        total = np.where(mine, um, 0.0).sum(axis=1) / np.maximum(mine.sum(axis=1), 1)
        um = np.where(mine, um - total[:, None], um)
    return um


def _common_errors(history: History, expected: Expected) -> NDArray[np.float64]:
    """Middle residual of the other places read with the same gauge at the same opening [µm]; 0 where too few."""
    readings = history.readings
    at = np.flatnonzero(np.isfinite(expected.mean_um) & (expected.others > 0))
    common = np.zeros(len(readings))
    place = pd.factorize(readings["bearing"].to_numpy()[at] + "|" + readings["position"].to_numpy()[at])[0]
    order = np.lexsort((place, readings["opening"].to_numpy()[at]))
    at, place = at[order], place[order]
    begins = np.append(True, np.diff(readings["opening"].to_numpy()[at]) != 0)
    starts = np.flatnonzero(begins)[: len(at)]
    # Places of an opening counted from 0.
    number = np.cumsum(np.append(False, np.diff(place) != 0) & ~begins)
    number -= number[starts][np.cumsum(begins) - 1] if len(at) else 0
    counts = np.diff(np.append(starts, len(at)))
    for n in np.unique(counts).tolist():
        here = starts[counts == n][:, None] + np.arange(n)
        places = number[here]
        here, places = here[places[:, -1] >= COMMON_POSITIONS], places[places[:, -1] >= COMMON_POSITIONS]
        for one in range(int(places.max(initial=-1)) + 1):
            mine = places == one
            residual = np.sort(np.where(mine, np.inf, expected.residual_um[at[here]]), axis=1)
            rest = (n - mine.sum(axis=1))[:, None]
            middle = np.take_along_axis(residual, np.hstack([(rest - 1) // 2, rest // 2]), axis=1).mean(
                axis=1
            )
            common[at[here][mine]] = np.broadcast_to(middle[:, None], mine.shape)[mine]
    return common


def _walls_by_clearance(
    history: History, counted: NDArray[np.bool_], rows: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Wear of each reading's wall as clearance and the other half tell it [µm], variance, and grinding.

    t = H - d - (c + t_other), and H - d stays until the journal is ground: the wear is known but for one constant a
    grinding. NaN where there is none.
    """
    parts = parts_at_openings(history, counted)
    keys = [*PLACE, "half", "date", "state"]
    told = [
        parts[[*PLACE, "date", "state", "grinding"]].assign(
            half=half,
            wear_um=(parts["clearance"] + parts[other]) * UM_PER_MM,
            var=parts["clearance_u_um"] ** 2 + parts[f"{other}_u_um"] ** 2,
        )
        for half, other in (HALVES, HALVES[::-1])
    ]
    asked = history.readings.iloc[rows][keys]
    both = asked.merge(pd.concat(told, ignore_index=True), how="left", on=keys)
    known = both["wear_um"].notna().to_numpy()
    return (
        both["wear_um"].to_numpy(dtype=np.float64),
        both["var"].to_numpy(dtype=np.float64),
        np.where(known, both["grinding"].fillna(-1), -1).astype(np.int64),
    )


def _renewal_query(history: History, after: NDArray[np.intp], before: NDArray[np.intp], step: _Step) -> Query:
    first, earlier = rows_of(history.readings.iloc[[after[0], before[0]]])
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
