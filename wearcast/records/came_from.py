"""Where the rows of a record book came from, so that a fault found in a row names its sheet as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class CameFrom:
    """The file, sheet and row that each row of one table came from.

    Attributes
    ----------
    ids : array of int, shape (n,)
        The rows by their ids in the book, rising.
    places : tuple of (str, str)
        Files and sheets.
    place_of : array of int, shape (n,)
        For each row the position of its file and sheet in `places`.
    rows : array of int, shape (n,)
        Its row there, as a spreadsheet shows it.
    """

    ids: NDArray[np.int64]
    places: tuple[tuple[str, str], ...]
    place_of: NDArray[np.int64]
    rows: NDArray[np.int64]

    def of(self, ids: Sequence[int]) -> dict[tuple[str, str], list[int]]:
        """The rows of each file and sheet that these ids came from; ids of no row are passed over."""
        found: dict[tuple[str, str], list[int]] = {}
        at = np.searchsorted(self.ids, np.asarray(ids, dtype=np.int64))
        for number, k in zip(ids, at.tolist(), strict=True):
            if k < len(self.ids) and self.ids[k] == number:
                rows = found.setdefault(self.places[int(self.place_of[k])], [])
                if int(self.rows[k]) not in rows:
                    rows.append(int(self.rows[k]))
        return found

    def words(self, ids: Sequence[int], most: int = 8) -> str:
        """The same in words: ``readings.csv, rows 4 and 9; more.xlsx, sheet readings, row 2``.

        >>> one = np.array([2, 3])
        >>> CameFrom(one, (("readings.csv", ""),), np.array([0, 0]), np.array([7, 9])).words([2, 3])
        'readings.csv, rows 7 and 9'
        """
        parts = []
        for (file, sheet), rows in self.of(ids).items():
            where = [file, f"sheet {sheet}" if sheet else "", _rows_in_words(rows, most)]
            parts.append(", ".join(word for word in where if word))
        more = f" and {len(parts) - most} more files" if len(parts) > most else ""
        return "; ".join(parts[:most]) + more


def _rows_in_words(rows: Sequence[int], most: int) -> str:
    texts = [str(row) for row in rows[:most]]
    if len(rows) == 1:
        return f"row {texts[0]}"
    if len(rows) > most:
        return f"rows {', '.join(texts)} and {len(rows) - most} more"
    return f"rows {', '.join(texts[:-1])} and {texts[-1]}"
