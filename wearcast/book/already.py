"""What a book holds already of rows that are to be added."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.book.canonical import column_of, combination, texts_of, unknown_columns
from wearcast.records.cells import text_of
from wearcast.records.frames import in_mm
from wearcast.records.grids import Grid, GridColumn
from wearcast.records.names import BESIDE, bank_and_number, folded
from wearcast.records.tables import TABLES

READING_KEY = ("vessel", "engine", "date", "bearing", "position", "half", "point", "quantity", "state")
"""What makes two rows the same reading (the key of the record set), but for the gauge: an empty one matches any."""

TOLD = ("instrument", *BESIDE)
"""What a second telling of a reading may add to the first."""

SAME_WITHIN_MM = 1e-6

EVENT_KEY = ("vessel", "engine", "date", "bearing", "position", "half", "event")
EVENT_FACTS = ("counter_h", "shell_size", "new_value", "unit", "new_counter_h")

EMPTY_MEANS = {"state": "as_found"}

_SAME: Mapping[str, Callable[[str], str]] = {
    "vessel": folded, "engine": folded, "instrument": folded, "position": bank_and_number,
}  # fmt: skip
"""Names in the form that their spellings share."""


@dataclass(frozen=True)
class Already:
    """For each new row the id of the same row in the book (0: there is none), and whether another value stands.

    `contradicts`: the book tells it with other facts, of which only one can be. `completes`: the book tells it with the
    same value, without all that this row says beside it.
    """

    ids: NDArray[np.int64]
    differs: NDArray[np.bool_]
    rivals: NDArray[np.int64]
    contradicts: NDArray[np.bool_]
    completes: NDArray[np.bool_]


def same_readings(new: Grid, as_found: Grid, now: Grid) -> Already:
    """Which readings the book holds, as they came or as they were corrected since.

    Another telling of a reading it holds, with a gauge, dial, remark or the like of its own, is new: both stay. What
    was corrected or withdrawn since is settled, however it is told again.

    Parameters
    ----------
    new, as_found, now : Grid
        Canonical readings: those to be added, and those of the book before and after its corrections.
    """
    rows = len(new.numbers)
    if not len(as_found.numbers):
        none = np.zeros(rows, np.bool_)
        return Already(np.zeros(rows, np.int64), none, np.zeros(rows, np.int64), none, none)
    grids = (new, as_found, now)
    keys, told = _numbered(grids, READING_KEY), _numbered(grids, TOLD)
    asked, came, stands = (
        pd.DataFrame(
            {
                "key": key,
                "told": said,
                "mm": _values_mm(grid),
                "dial": _numbers(column_of(grid, "counter_h")),
                "gauge": _spread(column_of(grid, "instrument"), folded),
                "id": grid.numbers,
            }
        )
        for grid, key, said in zip(grids, keys, told, strict=True)
    )
    values = stands.set_index("id")["mm"]
    came["settled"] = (came["mm"] - came["id"].map(values)).abs().fillna(np.inf) > SAME_WITHIN_MM
    asked["at"], stands["settled"], stands["holds"], came["holds"] = np.arange(rows), False, True, False
    both = pd.concat([_met(asked, stands), _met(asked, came)])
    unread = both["dial"].isna() | both["dial_held"].isna()
    agrees = both["near"] & (unread | (both["dial"] == both["dial_held"]))
    ids, rivals = np.zeros(rows, np.int64), np.zeros(rows, np.int64)
    for same in (both[agrees & both["settled"]], _told_so(asked, came), _told_so(asked, stands)):
        once = same.drop_duplicates("at")
        ids[once["at"].to_numpy()] = once["id_held"].to_numpy()
    other = pd.concat([both[both["near"]], both[both["holds"]]]).drop_duplicates("at")
    rivals[other["at"].to_numpy()] = other["id_held"].to_numpy()
    alike, met = _any(both[agrees], rows), _any(both[both["near"]], rows)
    unheld = ids == 0
    return Already(ids, unheld & (rivals > 0) & ~alike, rivals, unheld & met & ~alike, unheld & alike)


def _met(asked: pd.DataFrame, held: pd.DataFrame) -> pd.DataFrame:
    """Each row asked for beside those of the book that are of the same reading; an empty gauge is any."""
    # each value of a key once: a file that repeats a reading a thousand times is not to be met a million times
    beside = asked.merge(
        held.drop_duplicates(["key", "mm", "dial", "gauge", "settled"]), on="key", suffixes=("", "_held")
    )
    beside["near"] = (beside["mm"] - beside["mm_held"]).abs() <= SAME_WITHIN_MM
    gauges = beside["gauge"], beside["gauge_held"]
    return beside[(gauges[0] == gauges[1]) | (gauges[0] == "") | (gauges[1] == "")]


def _told_so(asked: pd.DataFrame, held: pd.DataFrame) -> pd.DataFrame:
    """The rows that the book holds with all that is told beside the value."""
    once = held.drop_duplicates(["key", "told", "mm", "dial"])
    beside = asked.merge(once, on=["key", "told"], suffixes=("", "_held"))
    dials = beside["dial"], beside["dial_held"]
    same_dial = (dials[0] == dials[1]) | (dials[0].isna() & dials[1].isna())
    return beside[same_dial & ((beside["mm"] - beside["mm_held"]).abs() <= SAME_WITHIN_MM)]


def _spread(column: GridColumn, how: Callable[[str], str]) -> NDArray[np.object_]:
    return np.array([how(text_of(raw)) for raw in column.texts], dtype=object)[column.codes]


def _any(found: pd.DataFrame, rows: int) -> NDArray[np.bool_]:
    there = np.zeros(rows, np.bool_)
    there[found["at"].to_numpy()] = True
    return there


def same_events(new: Grid, as_found: Grid, now: Grid) -> Already:
    """Which events the book holds; `differs` where the same event stands there with other facts."""
    known: dict[tuple[str, ...], int] = {}
    standing: dict[tuple[str, ...], int] = {}
    for grid in (now, as_found):
        for number, key, facts in _events(grid):
            known.setdefault(key + facts, number)
            if grid is now:
                standing.setdefault(key, number)
    rows = len(new.numbers)
    ids, rivals = np.zeros(rows, np.int64), np.zeros(rows, np.int64)
    for at, (_, key, facts) in enumerate(_events(new)):
        ids[at] = known.get(key + facts, 0)
        rivals[at] = standing.get(key, 0)
    differs = (ids == 0) & (rivals > 0)
    return Already(ids, differs, rivals, differs, np.zeros(rows, np.bool_))


def restated(new: Grid, now: Grid | None, subject: Sequence[str]) -> tuple[NDArray[np.bool_], list[str]]:
    """Which rows say something else of their subject than what holds, and in words of which subjects."""
    held = _by_subject(now, subject) if now is not None else {}
    given = _by_subject(new, subject)
    changed = {
        name
        for name, (_, rows) in given.items()
        if name not in held or Counter(held[name][1]) != Counter(rows)  # their order says nothing
    }
    keep = np.zeros(len(new.numbers), dtype=np.bool_)
    for name in changed:
        keep[given[name][0]] = True
    words = [
        _restated_words(name, held[name][1], given[name][1])
        for name in given
        if name in changed & held.keys()
    ]
    return keep, words


def _restated_words(
    name: tuple[str, ...], before: list[tuple[str, ...]], after: list[tuple[str, ...]]
) -> str:
    words = " ".join(part.replace("_", " ") for part in name)
    gone, come = (
        len([one for one in before if one not in after]),
        len([one for one in after if one not in before]),
    )
    return f"{words}: {len(after)} {'row holds' if len(after) == 1 else 'rows hold'} now ({come} new, {gone} no longer)"


def _by_subject(
    grid: Grid, subject: Sequence[str]
) -> dict[tuple[str, ...], tuple[list[int], list[tuple[str, ...]]]]:
    """The rows of each subject: where they stand, and their filled cells with the names of the columns."""
    found: dict[tuple[str, ...], tuple[list[int], list[tuple[str, ...]]]] = {}
    numbers = {column.name for column in TABLES[grid.table].columns if column.cell == "number"}
    names = [column.name for column in TABLES[grid.table].columns]
    columns = [*(column_of(grid, name) for name in names), *unknown_columns(grid)]
    for row in range(len(grid.numbers)):
        key = tuple(text_of(column_of(grid, name)[row]) for name in subject)
        cells = tuple(
            f"{c.name}={_plain(text_of(c[row])) if c.name in numbers else text_of(c[row])}"
            for c in columns
            if text_of(c[row])
        )
        at, rows = found.setdefault(key, ([], []))
        at.append(row)
        rows.append(cells)
    return found


def _numbered(grids: Sequence[Grid], names: Sequence[str]) -> list[NDArray[np.int64]]:
    """A number for each row, the same in all grids where these columns say the same."""
    columns = []
    for name in names:
        parts = [column_of(grid, name) for grid in grids]
        if name == "point":
            parts = [
                _crown_if_empty(part, column_of(grid, "quantity"))
                for part, grid in zip(parts, grids, strict=True)
            ]
        columns.append(_together(parts, EMPTY_MEANS.get(name, "")))
    number, _ = combination(columns)
    ends = np.cumsum([len(grid.numbers) for grid in grids])[:-1]
    return list(np.split(number, ends))


def _crown_if_empty(point: GridColumn, quantity: GridColumn) -> GridColumn:
    walls = np.array([text_of(raw) == "wall" for raw in quantity.texts], dtype=np.bool_)[quantity.codes]
    codes = point.codes.copy()
    codes[walls & point.blank] = len(point.texts)
    return GridColumn(point.name, point.letter, [*point.texts, "crown"], codes)


def _together(parts: Sequence[GridColumn], empty: str) -> GridColumn:
    """One column after another, equal texts (spellings of a name, writings of a number) under one number."""
    numbers: dict[str, int] = {}
    codes = []
    same = _SAME.get(parts[0].name, _plain)
    for part in parts:
        own = [numbers.setdefault(same(text_of(raw)) or empty, len(numbers)) for raw in part.texts]
        codes.append(np.array(own, dtype=np.int32)[part.codes])
    return GridColumn(parts[0].name, "", list(numbers), np.concatenate(codes))


def _values_mm(grid: Grid) -> NDArray[np.float64]:
    return in_mm(_numbers(column_of(grid, "value")), texts_of(column_of(grid, "unit")))


def _numbers(column: GridColumn) -> NDArray[np.float64]:
    return np.array([_number(text_of(raw)) for raw in column.texts], dtype=np.float64)[column.codes]


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _events(grid: Grid) -> list[tuple[int, tuple[str, ...], tuple[str, ...]]]:
    """Number, key and facts of every event; two findings at one place are two events."""
    cells: Mapping[str, list[str]] = {
        name: texts_of(column_of(grid, name)).tolist() for name in (*EVENT_KEY, *EVENT_FACTS, "finding")
    }
    found = []
    for at, number in enumerate(grid.numbers.tolist()):
        finding = cells["finding"][at].casefold() if cells["event"][at] == "finding" else ""
        key = (*(_SAME.get(name, str)(cells[name][at]) for name in EVENT_KEY), finding)
        facts = tuple(_plain(cells[name][at]) for name in EVENT_FACTS)
        found.append((number, key, facts))
    return found


def _plain(text: str) -> str:
    """A number without the zeros that say nothing of its value."""
    value = _number(text)
    return text if value != value else repr(value)  # noqa: PLR0124
