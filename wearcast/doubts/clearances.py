"""Clearances that do not fit the walls, journal and housing, place by place or a whole opening at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.walls_clearance import (
    Disagreement,
    compare_walls_with_clearance,
    disagreements,
)
from wearcast.doubts.family import DOUBTED_FROM_U, Found, confirmed, query_of_set
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.queries import Query

COMMON_U = 3.0
"""The same for the middle residual of an opening: one comparison instead of one a place."""

COMMON_PLACES = 3
"""Places that make a common residual."""


def find_clearances_against_walls(history: History, counted: NDArray[np.bool_]) -> Found:
    """Walls and clearance that contradict each other. Both count: which is wrong is not known."""
    table = compare_walls_with_clearance(history, counted)
    sure = confirmed(history)
    in_u = (table["judged_um"] / table["judged_u_um"]).to_numpy(dtype=np.float64)
    place = (table["bearing"] + "|" + table["position"]).to_numpy()
    settled = np.array([bool(sure[list(rows)].any()) for rows in table["rows"]], dtype=bool)
    queries: list[Query] = []
    for rows in row_numbers_of(table, ["vessel", "engine", "date"]).values():
        here = rows[np.isfinite(in_u[rows])]
        middle = float(np.median(in_u[here])) if len(set(place[here])) >= COMMON_PLACES else 0.0
        if abs(middle) > COMMON_U:
            alike = here[in_u[here] * middle > 0]
            if not settled[alike].any():
                queries.append(_common_query(history, disagreements(history, table.iloc[alike], 0.0)))
            continue
        far = here[(np.abs(in_u[here]) > DOUBTED_FROM_U) & ~settled[here]]
        if len(far):
            queries += [
                _clearance_query(history, one)
                for one in disagreements(history, table.iloc[far], DOUBTED_FROM_U)
            ]
    return Found(tuple(queries))


def _common_query(history: History, places: tuple[Disagreement, ...]) -> Query:
    at = np.array(sorted({row for one in places for row in one.rows}), dtype=np.intp)
    middle_um = float(np.median([one.residual_um for one in places]))
    middle_u = float(np.median([one.in_u for one in places]))
    likely = places[0].causes[0].name if places[0].causes else "none of the usual causes comes near"
    text = (
        f"at {len(places)} places opened on {places[0].on} the clearance is {abs(middle_um):.0f} µm "
        f"{'above' if middle_um > 0 else 'below'} what the walls lead to expect (the middle one {abs(middle_u):.1f} u)."
        f" What all places share is a gauge rather than wear; best fit: {likely}."
    )
    ask = "Check the gauges and how they were used; measure again if the bearings are still open."
    return query_of_set(history, at, "walls_clearance", text, ask, middle_u)


def _clearance_query(history: History, one: Disagreement) -> Query:
    causes = "; ".join(str(cause) for cause in one.causes[:3]) or "none of the usual causes comes near"
    ask = f"Usual causes, best fit first: {causes}. Measure journal, walls and clearance again."
    return query_of_set(
        history, np.array(one.rows, dtype=np.intp), "walls_clearance", f"{one.text}.", ask, one.in_u
    )
