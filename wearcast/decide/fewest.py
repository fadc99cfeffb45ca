"""The fewest openings over a horizon that keep every shell under the accepted risk: a small integer program.

For each place the windows form a path from now to the end of the horizon; a step from one node to a later one
says that the place is not opened between. The chance that the limit is reached before a node is that of the shell
in service where nothing was opened yet, and that of a new shell since the last opening elsewhere, for an opened
shell is put back only where what was read lets it pass the same test.

Where the windows and the openings allowed cannot keep every place under the risk, the excess over it is made as
small as can be, the soonest interval first: what lies further off can still be planned anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LATER_SHARE = (
    1e-3  # of an opening: of equally few, the later ones, for a shell opened early is life thrown away
)
_SLACK = 1e-7  # of the sums of excess, for the solver's rounding
_ROUNDING = 1e-9  # of a chance exactly at the accepted risk


@dataclass(frozen=True, eq=False)
class Openings:
    """When to open.

    Attributes
    ----------
    opened : ndarray of bool, shape (places, windows)
    worst : ndarray, shape (places,)
        The largest chance of any step taken.
    over : ndarray of bool, shape (places,)
        The place is not kept under the accepted risk.
    """

    opened: Bools
    worst: Floats
    over: Bools

    @property
    def count(self) -> int:
        """How many openings."""
        return int(self.opened.sum())


def excess_of_steps(chance: Floats, risk: float) -> Floats:
    """Excess over the accepted risk by interval, array (w + 1, places, w + 1, w + 2).

    Parameters
    ----------
    chance : array (places, w + 1, w + 2)
        Chance that the limit is reached from node i (0: now, then the windows) to node k (the last: the end of
        the horizon); NaN counts as 0, where nothing can be said.
    risk : float

    Returns
    -------
    array
        ``[m, place, i, k]`` is what the step from i to k adds to the excess of the interval that ends at node
        m + 1; 0 where the step does not run through it.
    """
    over = np.maximum(np.nan_to_num(chance) - risk - _ROUNDING, 0.0)
    n = chance.shape[2]
    start, stop = np.arange(n - 1)[:, None], np.arange(n)[None, :]
    return np.stack([np.where((start < m) & (m <= stop), over[:, :, m, None], 0.0) for m in range(1, n)])


def fewest_openings(chance: Floats, risk: float, most: Floats) -> Openings:
    """Solve the integer program of one engine with SciPy's `milp`.

    Parameters
    ----------
    chance : array (places, w + 1, w + 2)
        As for `excess_of_steps`.
    risk : float
        Accepted chance.
    most : array (w,)
        Openings allowed at each window; inf where not limited.

    Returns
    -------
    Openings

    Raises
    ------
    RuntimeError
        If the solver does not end at an optimum.
    """
    from scipy.optimize import LinearConstraint

    n_places, n_windows = chance.shape[0], chance.shape[2] - 2
    if not n_places or not n_windows:
        over_all = np.nan_to_num(chance[:, 0, -1]) if n_places else np.zeros(0)
        return Openings(np.zeros((n_places, n_windows), dtype=bool), over_all, over_all > risk + _ROUNDING)
    start, stop = np.triu_indices(n_windows + 1, 1, n_windows + 2)
    place = np.repeat(np.arange(n_places), len(start))
    start, stop = np.tile(start, n_places), np.tile(stop, n_places)
    constraints = _paths(place, start, stop, n_places, n_windows, most)
    for excess in excess_of_steps(chance, risk):
        cost = excess[place, start, stop]
        if not cost.any():
            continue
        least = float(cost @ _solved(cost, constraints))
        constraints.append(LinearConstraint(cost[None], -np.inf, least + _SLACK))
    opening = np.where(stop <= n_windows, 1.0 - LATER_SHARE * (stop - 1) / n_windows, 0.0)
    taken = _solved(opening, constraints) > 0.5
    opened = np.zeros((n_places, n_windows + 1), dtype=bool)
    opened[place[taken], stop[taken] - 1] = True
    worst = np.zeros(n_places)
    np.maximum.at(worst, place[taken], np.nan_to_num(chance)[place[taken], start[taken], stop[taken]])
    return Openings(opened[:, :-1], worst, worst > risk + _ROUNDING)


def _paths(
    place: NDArray[np.intp],
    start: NDArray[np.intp],
    stop: NDArray[np.intp],
    n_places: int,
    n_windows: int,
    most: Floats,
) -> list[Any]:
    """One path a place: it leaves now, arrives at the end, and leaves every window it comes to."""
    from scipy.optimize import LinearConstraint
    from scipy.sparse import coo_array

    n_nodes, n_steps = n_windows + 2, len(place)
    steps, ones = np.arange(n_steps), np.ones(n_steps)
    shape = (n_places * n_nodes, n_steps)
    leaves = coo_array((ones, (place * n_nodes + start, steps)), shape)
    comes = coo_array((ones, (place * n_nodes + stop, steps)), shape)
    ends = np.zeros((n_places, n_nodes))
    ends[:, 0], ends[:, -1] = 1.0, -1.0
    opens = np.flatnonzero(stop <= n_windows)
    allowed = coo_array((np.ones(len(opens)), (stop[opens] - 1, opens)), (n_windows, n_steps))
    return [
        LinearConstraint((leaves - comes).tocsr(), ends.ravel(), ends.ravel()),
        LinearConstraint(allowed.tocsr(), -np.inf, most),
    ]


def _solved(cost: Floats, constraints: list[Any]) -> Floats:
    from scipy.optimize import Bounds, milp

    found = milp(
        cost,
        integrality=np.ones(len(cost), dtype=np.intp),
        bounds=Bounds(0, 1),
        constraints=constraints,
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None or found.status != 0:
        raise RuntimeError(f"the plan of openings was not found: {found.message}")
    return np.asarray(np.round(found.x))
