"""Which readings are hidden, and from which day on nothing may be seen."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.lives.history import History
from wearcast.quantities import QUANTITIES

LAST_READING, LAST_TWO = 1, 2
"""The two runs: each shell's last opening hidden, and its last two."""


def hidden_readings(history: History) -> pd.DataFrame:
    """Readings of each shell's last opening (run 1) and of its last two (run 2).

    Every shell life counts, those taken out as well. A new wall measured at fitting is no reading of wear and
    is neither hidden nor scored.

    Returns
    -------
    DataFrame
        One row a hidden reading: ``at`` (row of `History.readings`, from 0), ``run``, ``ahead`` (1 for the first
        opening hidden, 2 for the second), ``origin`` (date of the first opening hidden: only rows dated before it
        may be used). In order of origin, then of run and ``at``.
    """
    at = np.flatnonzero(_scorable(history))
    life = history.readings["life"].to_numpy(dtype=np.intp)[at]
    day = history.readings["date"].to_numpy().astype("datetime64[D]")[at]
    from_end = _from_the_end(life, day)
    parts = []
    for run in (LAST_READING, LAST_TWO):
        openings = _openings_of(life, from_end)
        chosen = np.flatnonzero((from_end < run) & (openings >= run))
        origin = pd.Series(day[chosen]).groupby(life[chosen]).transform("min")
        parts.append(
            pd.DataFrame(
                {"at": at[chosen], "run": run, "ahead": run - from_end[chosen], "origin": origin.to_numpy()}
            )
        )
    return pd.concat(parts, ignore_index=True).sort_values(
        ["origin", "run", "at"], kind="stable", ignore_index=True
    )


def _scorable(history: History) -> NDArray[np.bool_]:
    """Readings of wear against a limit: what the forecast table speaks of."""
    table = history.readings
    speaks = np.array(
        [
            one.limit is not None and QUANTITIES[history.lives[one.life].quantity].forecast
            for one in history.series
        ],
        dtype=bool,
    )
    return np.asarray(
        (table["table"] == "readings").to_numpy(dtype=bool)
        & ~table["new_wall"].to_numpy(dtype=bool)
        & np.isfinite(table["wear_um"].to_numpy(dtype=np.float64))
        & speaks[table["series"].to_numpy(dtype=np.intp)]
    )


def _from_the_end(life: NDArray[np.intp], day: NDArray[np.datetime64]) -> NDArray[np.intp]:
    """How many openings of the same life came later."""
    rank = pd.Series(day).groupby(life).rank("dense", ascending=False)
    return rank.to_numpy(dtype=np.intp) - 1


def _openings_of(life: NDArray[np.intp], from_end: NDArray[np.intp]) -> NDArray[np.intp]:
    """Openings of the life each reading belongs to."""
    return pd.Series(from_end).groupby(life).transform("max").to_numpy(dtype=np.intp) + 1
