"""Where the rows of a record book came from, so that a fault found in a row names its sheet as well."""

from __future__ import annotations

from collections import Counter
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
    places : tuple of (str, str, int)
        File, sheet and number of the import.
    place_of : array of int, shape (n,)
        For each row the position of its file and sheet in `places`.
    rows : array of int, shape (n,)
        Its row there, as a spreadsheet shows it.
    """

    ids: NDArray[np.int64]
    places: tuple[tuple[str, str, int], ...]
    place_of: NDArray[np.int64]
    rows: NDArray[np.int64]

    def of(self, ids: Sequence[int]) -> dict[tuple[str, str, int], list[int]]:
        """The rows of each file and sheet that these ids came from; ids of no row are passed over."""
        found: dict[tuple[str, str, int], list[int]] = {}
        at = np.searchsorted(self.ids, np.asarray(ids, dtype=np.int64))
        for number, k in zip(ids, at.tolist(), strict=True):
            if k < len(self.ids) and self.ids[k] == number:
                rows = found.setdefault(self.places[int(self.place_of[k])], [])
                if int(self.rows[k]) not in rows:
                    rows.append(int(self.rows[k]))
        return found

    def words(self, ids: Sequence[int], most: int = 8) -> str:
        """The same in words; files of one name are told apart by their imports.

        >>> came = CameFrom(
        ...     np.array([2, 3, 4]),
        ...     (("readings.csv", "", 1), ("readings.csv", "", 2)),
        ...     np.array([0, 0, 1]),
        ...     np.array([7, 9, 7]),
        ... )
        >>> came.words([2, 3])
        'readings.csv, rows 7 and 9'
        >>> came.words([3, 4])
        'readings.csv, row 9, import 1; readings.csv, row 7, import 2'
        """
        found = self.of(ids)
        names = Counter(file for file, _ in {(file, number) for file, _, number in found})
        parts = []
        for (file, sheet, number), rows in found.items():
            where = [file, f"sheet {sheet}" if sheet else "", _rows_in_words(rows, most)]
            where.append(f"import {number}" if names[file] > 1 else "")
            parts.append(", ".join(word for word in where if word))
        more = f" and {len(parts) - most} more" if len(parts) > most else ""
        return "; ".join(parts[:most]) + more


def _rows_in_words(rows: Sequence[int], most: int) -> str:
    texts = [str(row) for row in rows[:most]]
    if len(rows) == 1:
        return f"row {texts[0]}"
    if len(rows) > most:
        return f"rows {', '.join(texts)} and {len(rows) - most} more"
    return f"rows {', '.join(texts[:-1])} and {texts[-1]}"
