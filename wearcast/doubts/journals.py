"""Journals in question: ground without a new shell, of another size than the shells, or out of round."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.companions.journal import journals_at_openings
from wearcast.companions.journal_parts import PLACE
from wearcast.doubts.family import DOUBTED_FROM_U, Found, confirmed, query_of_set
from wearcast.frames import row_numbers_of, rows_of
from wearcast.lives.about import query_of_event
from wearcast.lives.history import History
from wearcast.lives.journals import JOURNAL_STEP_MM
from wearcast.lives.shells import EPOCH, STANDARD, Event, bearing_key, same_size
from wearcast.queries import Query
from wearcast.units import UM_PER_MM


def find_journal_queries(history: History, counted: NDArray[np.bool_]) -> Found:
    """Regrinds without a shell, and measured journals that are of another size or out of round."""
    table = journals_at_openings(history, counted)
    sure = confirmed(history)
    table = table[np.array([not sure[list(rows)].any() for rows in table["rows"]], dtype=bool)]
    queries = _ground_without_shell(history) + _undersize_out_of_nowhere(history)
    told = {bearing_key(query) for query in queries}
    lost: list[int] = []
    for row in rows_of(table[table["matches"] == False]):  # noqa: E712  (None is no answer)
        if row.grinding and bearing_key(row) in told:
            continue  # the missing renewal is asked about already
        queries.append(_other_size(history, row))
        lost += row.rows
    for row in rows_of(_steps(table)):
        queries.append(_stepped(history, row))
        lost += row.rows
    rest = table[np.array([not set(rows) & set(lost) for rows in table["rows"]], dtype=bool)]
    queries += [_out_of_round(history, row) for row in rows_of(_oval(history, rest))]
    return Found(tuple(queries), tuple(lost))


def _bearing_of(event: Event) -> tuple[str, str, str, str]:
    place = event.place
    return bearing_key(place)


def _ground_without_shell(history: History) -> list[Query]:
    fitted = {
        (*_bearing_of(event), event.on) for event in history.events if event.kind in ("fitted", "renewal")
    }
    return [
        query_of_event(
            event,
            "journal_query",
            f"the journal at {event.place} was ground to {event.shell_size or 'an unstated size'} on {event.on}, "
            "and no new shell is recorded at that opening.",
            "Add the renewal, or correct the regrind.",
            "event",
            "regrind",
        )
        for event in history.events
        if event.kind == "regrind" and (*_bearing_of(event), event.on) not in fitted
    ]


def _undersize_out_of_nowhere(history: History) -> list[Query]:
    """Undersize shells put in where neither what ran before, nor a regrind, nor a diameter tells the journal's size."""
    journals = history.readings[history.readings["quantity"] == "journal_diameter"]
    measured = set(zip(*(journals[name] for name in PLACE), strict=True))
    confirmed_rows = set(history.records.events.loc[history.records.events["confirmed"] == True, "row"])  # noqa: E712
    dated = (event for event in history.events if event.kind in ("fitted", "renewal", "regrind"))
    first: dict[tuple[str, str, str, str], Event] = {}
    for event in sorted(dated, key=lambda event: (event.on or EPOCH, event.kind != "regrind", event.row)):
        first.setdefault(_bearing_of(event), event)
    return [
        query_of_event(
            event,
            "journal_query",
            f"a shell of size {event.shell_size} was put in at {event.place} on {event.on}; no regrind, no journal "
            "diameter and no earlier shell of that size is recorded there.",
            "Check journal and shell at the engine: a shell of the wrong size burns. Then add the regrind, the "
            "journal diameter or the earlier fitting, or confirm the event.",
            "shell_size",
            event.shell_size,
        )
        for at, event in first.items()
        if event.kind == "renewal"
        and not same_size(event.shell_size, STANDARD)
        and at not in measured
        and event.row not in confirmed_rows
    ]


def _where(row: object) -> str:
    bearing, position = row.bearing.replace("_", " "), row.position  # type: ignore[attr-defined]
    return f"{bearing} {position} on {row.date.date()}"  # type: ignore[attr-defined]


def _other_size(history: History, row: object) -> Query:
    get = row._asdict()  # type: ignore[attr-defined]
    nearest = f"nearest to the journals of size {get['size']}"
    if abs(get["off_size_um"]) > JOURNAL_STEP_MM * UM_PER_MM:
        nearest += f" but {abs(get['off_size_um']) / UM_PER_MM:.2f} mm outside them"
    text = (
        f"the journal at {_where(row)} measures {get['diameter_mm']:.3f} mm at 20 °C, {nearest}; the shells "
        f"recorded there are {get['shell_size']}."
    )
    ask = (
        "Check journal and shells before anything runs: a shell of the wrong size burns. Then correct the reading, or "
        "add the regrind and the renewal."
    )
    at = np.array(get["rows"], dtype=np.intp)
    return query_of_set(history, at, "journal_query", text, ask, get["off_size_um"] / get["diameter_u_um"])


def _steps(table: pd.DataFrame) -> pd.DataFrame:
    """Journals without limits that lost most of an undersize step since the opening before."""
    unknown = table[table["matches"].isna()].reset_index(drop=True)
    stepped = np.zeros(len(unknown), dtype=bool)
    diameter = unknown["diameter_mm"].to_numpy(dtype=np.float64)
    for rows in row_numbers_of(unknown, [*PLACE, "grinding"]).values():
        stepped[rows[1:]] = np.abs(np.diff(diameter[rows])) > JOURNAL_STEP_MM
    return unknown[stepped]


def _stepped(history: History, row: object) -> Query:
    get = row._asdict()  # type: ignore[attr-defined]
    text = (
        f"the journal at {_where(row)} measures {get['diameter_mm']:.3f} mm at 20 °C, more than "
        f"{JOURNAL_STEP_MM:.2f} mm away from the opening before, and no regrind is recorded."
    )
    ask = "Measure again; then correct the reading, or add the regrind and the renewal that went with it."
    at = np.array(get["rows"], dtype=np.intp)
    return query_of_set(history, at, "journal_query", text, ask, 0.0)


def _oval(history: History, table: pd.DataFrame) -> pd.DataFrame:
    """Journals out of round by more than they may wear, and more than the gauge explains."""
    allowance = np.array([_allowance_um(history, row) for row in rows_of(table)], dtype=np.float64)
    oval = table["ovality_um"].abs().to_numpy(dtype=np.float64)
    certain = oval > DOUBTED_FROM_U * table["shape_u_um"].to_numpy(dtype=np.float64)
    return table[certain & (oval > allowance)]


def _allowance_um(history: History, row: object) -> float:
    """How far a journal may wear [µm]; 0 without limits, so that the gauge alone decides."""
    get = row._asdict()  # type: ignore[attr-defined]
    engine_type = history.engines[(get["vessel"], get["engine"])].engine_type
    rows = history.limits.of_class(engine_type, get["bearing"], "", "journal_diameter")
    return max((limit.allowance_um for limit in rows), default=0.0)


def _out_of_round(history: History, row: object) -> Query:
    get = row._asdict()  # type: ignore[attr-defined]
    text = (
        f"the journal at {_where(row)} is {abs(get['ovality_um']):.0f} µm out of round at station {get['station']} "
        f"({abs(get['ovality_um']) / get['shape_u_um']:.1f} u of the difference)."
    )
    ask = "Measure again; the maker's book says what ovality a journal may have."
    at = np.array(get["rows"], dtype=np.intp)
    return query_of_set(history, at, "journal_query", text, ask, get["ovality_um"] / get["shape_u_um"])
