"""Two gauges at one opening that read the same thing differently."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wearcast.companions.uncertainty import reading_u_um
from wearcast.doubts.family import DOUBTED_FROM_U, Found, confirmed, place_of, query_of_set
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.history import History
from wearcast.queries import Query
from wearcast.units import UM_PER_MM

_KEY = ("vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state")


def find_gauge_disagreements(history: History, counted: NDArray[np.bool_]) -> Found:
    """Readings that share all but the instrument and differ beyond their uncertainty.

    One query for each pair of gauges at an opening, about every reading the two share: none of these counts until
    one gauge's are withdrawn or confirmed. The middle difference of a pair is judged like a single one, for what
    two gauges differ by is common to all their readings.
    """
    readings = history.readings
    again = readings.duplicated(list(_KEY), keep=False).to_numpy()
    at = np.flatnonzero(counted & again & (readings["table"] == "readings").to_numpy())
    sure = confirmed(history)
    value_um = readings["value_mm"].to_numpy(dtype=np.float64) * UM_PER_MM
    u_um = reading_u_um(readings)
    gauge = readings["instrument"].to_numpy()
    shared: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    for key, rows in row_numbers_of(readings.iloc[at], _KEY).items():
        ordered = sorted(at[rows].tolist(), key=lambda k: str(gauge[k]))
        for n, one in enumerate(ordered):
            for other in ordered[n + 1 :]:
                names: tuple[object, ...] = key[0], key[1], key[2], key[7], gauge[one], gauge[other]
                shared.setdefault(names, []).append((one, other))
    queries: list[Query] = []
    lost: list[int] = []
    for gauges, pairs in shared.items():
        both = np.array(pairs, dtype=np.intp)
        both = both[~sure[both].all(axis=1)]  # both confirmed: the two parts are said to differ
        if not len(both):
            continue
        apart_um = value_um[both[:, 0]] - value_um[both[:, 1]]
        in_u = apart_um / np.hypot(u_um[both[:, 0]], u_um[both[:, 1]])
        middle = float(np.median(in_u))
        far = np.abs(in_u) > DOUBTED_FROM_U
        if not far.any() and abs(middle) <= DOUBTED_FROM_U:
            continue
        chosen = both if abs(middle) > DOUBTED_FROM_U else both[far]
        apart = float(np.median(apart_um if abs(middle) > DOUBTED_FROM_U else apart_um[far]))
        evidence = float(np.max(np.abs(in_u)))
        rows = chosen.ravel()
        queries.append(_gauge_query(history, rows, gauges, apart, evidence))
        lost += [int(k) for k in rows if not sure[k]]
    return Found(tuple(queries), tuple(dict.fromkeys(lost)))


def _gauge_query(
    history: History, at: NDArray[np.intp], names: tuple[object, ...], apart_um: float, evidence: float
) -> Query:
    first = next(rows_of(history.readings.iloc[at[:1]]))
    count = len(at) // 2
    where = place_of(first) if count == 1 else f"{count} places"
    more, less = (names[4], names[5]) if apart_um > 0 else (names[5], names[4])
    text = (
        f"two gauges disagree at {where} on {first.date.date()}: {more or 'the unnamed gauge'} reads "
        f"{abs(apart_um):.0f} µm more than {less or 'the unnamed gauge'} ({evidence:.1f} u of their difference)."
    )
    ask = (
        "Neither counts until the wrong gauge's readings are withdrawn or the right one's confirmed. A flat anvil "
        "over-reads a concave wall."
    )
    return query_of_set(history, at, "gauge_disagreement", text, ask, evidence)
