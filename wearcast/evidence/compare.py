"""What was recorded against what was worked out again, figure by figure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from wearcast.door.trees import json_of
from wearcast.evidence.leaves import Leaf
from wearcast.texts import csv_text

RELATIVE = 1e-6
"""Figures may differ by this share: another processor rounds the last digits otherwise."""
NOTHING = 1e-9
"""And by this much whatever their size: µm, hours and chances below it say nothing."""
_LONG = 60
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Difference:
    """One figure or text that does not come out again.

    Attributes
    ----------
    row : str
        What names its row, in words; empty where the file has no rows.
    column : str
        Empty where a whole row is there on one side only.
    about : str
        Of what place and date the row is, where its name does not say so.
    """

    file: str
    row: str
    column: str
    recorded: str
    recomputed: str
    about: str = ""

    def __str__(self) -> str:
        """One line."""
        where = ", ".join(filter(None, (self.file, self.row, self.column)))
        return f"{where}: recorded {self.recorded or 'empty'}, worked out again {self.recomputed or 'empty'}"


def differences(recorded: str, made: Leaf) -> list[Difference]:
    """Where a recorded file differs from the same file worked out again."""
    if recorded == made.text:
        return []
    if made.kind == "csv":
        try:
            return _rows_apart(made, _csv_rows(recorded), _csv_rows(made.text))
        except csv.Error as problem:
            return [Difference(made.path, "", "", f"not understood ({problem})", "a table")]
    if made.kind == "json":
        rows = _json_rows(recorded)
        if rows is None:
            return [Difference(made.path, "", "", "not understood", "a list of rows")]
        return _rows_apart(made, rows, _json_rows(made.text) or [])
    return _texts_apart(made.path, recorded, made.text)


def same(recorded: Any, made: Any) -> bool:
    """Whether two cells say the same: numbers within `RELATIVE`, all else exactly.

    >>> same("7.9612345", "7.9612346"), same("7.961", "7.962"), same("", "0")
    (True, False, False)
    """
    if recorded == made:
        return True
    if isinstance(recorded, list) and isinstance(made, list):
        return len(recorded) == len(made) and all(map(same, recorded, made))
    one, other = _number(recorded), _number(made)
    if one is None or other is None:
        return False
    return abs(one - other) <= max(RELATIVE * max(abs(one), abs(other)), NOTHING)


def _number(cell: Any) -> float | None:
    if isinstance(cell, bool):
        return None
    if isinstance(cell, int | float):
        return float(cell)
    if isinstance(cell, str) and _NUMBER.fullmatch(cell):
        found = float(cell)
        return found if isfinite(found) else None
    return None


def _csv_rows(text: str) -> list[Row]:
    return list(csv.DictReader(io.StringIO(text, newline=""), restkey="more cells", restval=""))


def _json_rows(text: str) -> list[Row] | None:
    try:
        rows = json_of(text)
    except ValueError:
        return None
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        return None
    return rows


def _rows_apart(made: Leaf, recorded: Sequence[Row], again: Sequence[Row]) -> list[Difference]:
    then, now = dict(_named(recorded, made.keys)), dict(_named(again, made.keys))
    found = []
    for name in dict.fromkeys((*then, *now)):
        words = " ".join(filter(None, (str(part).replace("_", " ") for part in name[:-1])))
        words += f" (no. {name[-1]})" if name[-1] > 1 else ""
        if name not in then or name not in now:
            there = ("there", "no such row") if name in then else ("no such row", "there")
            found.append(
                Difference(made.path, words, "", *there, _about(then.get(name) or now[name], made.keys))
            )
            continue
        one, other = then[name], now[name]
        found += [
            Difference(
                made.path,
                words,
                column,
                *_shown(one.get(column), other.get(column)),
                _about(other, made.keys),
            )
            for column in dict.fromkeys((*one, *other))
            if not same(one.get(column), other.get(column))
        ]
    if not found and [*then] != [*now]:
        found.append(Difference(made.path, "", "", "the same rows", "in another order"))
    return found


_PLACED = ("vessel", "engine", "bearing", "position", "half", "quantity", "date")


def _about(row: Row, keys: Sequence[str]) -> str:
    return " ".join(
        str(row[name]).replace("_", " ") for name in _PLACED if name not in keys and row.get(name)
    )


def _named(rows: Sequence[Row], keys: Sequence[str]) -> Iterator[tuple[tuple[Any, ...], Row]]:
    """Rows by their key; of rows that share one, the second, third … are told apart by their number."""
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        name = tuple(_key(key, row.get(key)) for key in keys)
        seen[name] = seen.get(name, 0) + 1
        yield (*name, seen[name]), row


def _key(column: str, cell: Any) -> str:
    if isinstance(cell, list):
        return f"{column} {', '.join(map(str, cell))}"
    if cell is None or cell == "":
        return ""
    return f"{column} {cell}" if column in ("row", "own_row") else str(cell)


def _shown(recorded: Any, made: Any) -> tuple[str, str]:
    """Two cells as text; of long ones only where they part."""
    one, other = ("" if cell is None else str(cell) for cell in (recorded, made))
    if max(len(one), len(other)) <= _LONG:
        return one, other
    at = _parts_at(one, other)
    return f"“{_around(one, at)}”", f"“{_around(other, at)}”"


def _parts_at(one: str, other: str) -> int:
    """Where two texts part."""
    shorter = min(len(one), len(other))
    return next((k for k in range(shorter) if one[k] != other[k]), shorter)


def _texts_apart(path: str, recorded: str, made: str) -> list[Difference]:
    """Where two texts part: by their words exactly, by the numbers between them as figures."""
    if _NUMBER.sub("#", recorded) == _NUMBER.sub("#", made):
        pairs = zip(_NUMBER.finditer(recorded), _NUMBER.finditer(made), strict=True)
        return [
            Difference(path, _around(recorded, one.start()), "", one.group(), other.group())
            for one, other in pairs
            if not same(one.group(), other.group())
        ]
    at = _parts_at(recorded, made)
    return [
        Difference(path, "", "", f"“{_around(recorded, at)}”", f"“{_around(made, at)}”"),
    ]


def _around(text: str, at: int) -> str:
    return " ".join(text[max(at - 30, 0) : at + 30].split())


def differences_csv(found: Sequence[Difference]) -> str:
    """All of them as CSV."""
    import pandas as pd

    columns = ["file", "row", "column", "recorded", "recomputed"]
    rows = [(one.file, one.row, one.column, one.recorded, one.recomputed) for one in found]
    return csv_text(pd.DataFrame(rows, columns=columns))
