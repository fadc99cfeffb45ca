"""One name for what people spell in several ways, and one reading for what several sheets tell."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.errors import WrongUse
from wearcast.records.cells import did_you_mean, visible
from wearcast.records.drafts import Draft
from wearcast.units import MM_PER_UNIT

SAME_WITHIN_MM = 1e-6
BESIDE = ("u_um", "temperature_c", "conditions", "measured_by", "remark")
_SCOPES: tuple[tuple[str, ...], ...] = (
    ("vessel",),
    ("vessel", "engine"),
    ("instrument",),
    ("vessel", "engine", "bearing", "position"),
)
"""Each name with the columns it is a name within."""
_BANK = re.compile(r"([A-Za-z])[ -]?(\d{1,3})|(\d{1,3})[ -]?([A-Za-z])", re.ASCII)


def folded(name: str) -> str:
    """What spellings of one name share: case, blanks and hyphens do not count.

    >>> folded("Ossel-Brae") == folded("OSSEL BRAE")
    True
    """
    return re.sub(r"[\s\u00a0-]+", "", name).casefold()


def bank_and_number(position: str) -> str:
    """A position of a vee engine, its bank before or after the number; any other as it stands.

    >>> bank_and_number("1A"), bank_and_number("a1"), bank_and_number("3")
    ('A1', 'A1', '3')
    """
    found = _BANK.fullmatch(position)
    if not found:
        return position
    return f"{(found[1] or found[4]).upper()}{found[2] or found[3]}"


def spellings(vessel: str, engine: str, known: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """The engine asked for under every spelling that the records have; without an engine all of the vessel.

    Raises
    ------
    WrongUse
        If there is none; with the nearest name as a question.
    """
    of_vessel = [pair for pair in known if folded(pair[0]) == folded(vessel)]
    found = [pair for pair in of_vessel if folded(pair[1]) == folded(engine) or not engine]
    if found:
        return found
    names = sorted({pair[0] for pair in known})
    hint = "" if of_vessel else f"{did_you_mean(vessel, names)} ".lstrip()
    listed = ", ".join(visible(" ".join(pair)) for pair in sorted(set(of_vessel or known))[:12])
    asked = visible(f"{vessel} {engine}".strip())
    raise WrongUse(f"{asked}: no such engine in these records. {hint}They have: {listed or 'none'}.")


def one_name(drafts: Mapping[str, Draft]) -> list[str]:
    """Write names that differ only in case, blanks or hyphens in one way: as in engines, else as most rows do."""
    notes = []
    for scope in _SCOPES:
        fold = bank_and_number if scope[-1] == "position" else folded
        made_of = [one for one in drafts.values() if all(name in one.values for name in scope) and one.whole]
        counts: dict[tuple[str, ...], Counter[str]] = {}
        for made in sorted(made_of, key=lambda one: one.table.name != "engines"):
            weight = 10**9 if made.table.name == "engines" else 1
            for names, rows in _counted(made, scope):
                counts.setdefault((*names[:-1], fold(names[-1])), Counter())[names[-1]] += rows * weight
        best = {
            key: max(found, key=lambda name: (found[name], name))
            for key, found in counts.items()
            if len(found) > 1
        }
        for made in made_of if best else ():
            notes += _rewritten(made, scope, best, fold)
    return notes


def _counted(made: Draft, scope: tuple[str, ...]) -> Iterable[tuple[tuple[str, ...], int]]:
    rows = made.stands & (made.values[scope[-1]] != "")
    frame = pd.DataFrame({name: made.values[name][rows] for name in scope})
    counts = frame.value_counts(sort=False)
    return [
        (tuple(map(str, key)), rows) for key, rows in zip(counts.index.tolist(), counts.tolist(), strict=True)
    ]


def _rewritten(
    made: Draft, scope: tuple[str, ...], best: Mapping[tuple[str, ...], str], fold: Callable[[str], str]
) -> list[str]:
    column = made.values[scope[-1]]
    said: dict[tuple[str, str], None] = {}
    for names, _ in _counted(made, scope):
        name = best.get((*names[:-1], fold(names[-1])), names[-1])
        if name != names[-1]:
            rows = np.ones(len(column), dtype=np.bool_)
            for key, value in zip(scope, names, strict=True):
                rows &= made.values[key] == value
            column[rows] = name
            said[names[-1], name] = None
    return [
        f"{made.grid.file}: {scope[-1]} {visible(was)} is taken as {visible(now)}; the two are one name."
        for was, now in said
    ]


def told_again(made: Draft) -> list[str]:
    """Let readings told by several sheets complete one another: the gauge, and what stands beside the value.

    A reading without a gauge is that of the one gauge named for the same place, date and state; which of them
    counts is judged later (`duplicate`).
    """
    keys = ["vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state"]
    if not made.whole or not len(made.stands):
        return []
    frame = pd.DataFrame({name: made.values[name] for name in keys})[made.stands]
    frame["state"] = frame["state"].where(frame["state"] != "", "as_found")
    frame = frame[frame.duplicated(keep=False)]
    if frame.empty:
        return []
    instrument = made.values["instrument"]
    mm = made.values["value"] * pd.Series(made.values["unit"]).map(dict(MM_PER_UNIT)).to_numpy(
        dtype=np.float64
    )
    completed = 0
    for rows in frame.groupby(keys, sort=False).indices.values():
        at = frame.index.to_numpy()[rows]
        named = {name for name in instrument[at] if name}
        for row in at[instrument[at] == ""] if named else ():
            of_value = {
                instrument[one] for one in at if instrument[one] and abs(mm[one] - mm[row]) <= SAME_WITHIN_MM
            }
            meant = named if len(named) == 1 else of_value
            if len(meant) == 1:
                instrument[row] = next(iter(meant))
                completed += 1
        for gauge in set(instrument[at]):
            same = at[instrument[at] == gauge]
            if len(same) > 1 and np.ptp(mm[same]) <= SAME_WITHIN_MM:
                _complete(made, same)
    if not completed:
        return []
    what = "reading is told" if completed == 1 else "readings are told"
    return [
        f"{made.grid.file}: {completed} {what} with and without a gauge; what one row says completes the other."
    ]


def _complete(made: Draft, rows: NDArray[np.int64]) -> None:
    for name in BESIDE:
        column = made.values[name]
        empty = np.array([value == "" or value != value for value in column[rows]])  # noqa: PLR0124
        if empty.any() and not empty.all():
            column[rows[empty]] = column[rows[~empty][0]]
