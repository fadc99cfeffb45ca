"""A main that stands high and wears fast: the signs of the web deflections beside the wear rates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.shaft_line import MainHeight, heights_of_mains
from wearcast.doubts.family import Found, confirmed, query_of_set
from wearcast.lives.history import History
from wearcast.queries import Query


def find_alignment_queries(history: History, counted: NDArray[np.bool_]) -> Found:
    """Mains that the last deflections show high beyond the new range, and whose lower shell wears fast.

    A height alone is shown with the deflections and not asked about. All readings count.
    """
    sure = confirmed(history)
    queries = []
    for main in heights_of_mains(history, counted):
        at = _rows(history, main, counted) if main.overloaded else np.empty(0, dtype=np.intp)
        if len(at) and not sure[at].any():
            queries.append(_alignment_query(history, main, at))
    return Found(tuple(queries))


def _rows(history: History, main: MainHeight, counted: NDArray[np.bool_]) -> NDArray[np.intp]:
    readings = history.readings
    mine = (
        (readings["quantity"] == "web_deflection")
        & (readings["vessel"] == main.vessel)
        & (readings["engine"] == main.engine)
        & (readings["date"].dt.date == main.on)
        & readings["position"].isin(main.throws)
    )
    return np.flatnonzero(mine.to_numpy() & counted)


def _alignment_query(history: History, main: MainHeight, at: NDArray[np.intp]) -> Query:
    ask = "Compare with the maker's alignment sheet; look at this main and its neighbours together."
    made = query_of_set(history, at, "alignment_query", main.text, ask, main.vertical_mm / main.u_mm)
    return replace(made, bearing="main", position=str(main.main))
