"""All doubts that need no fitted model, gathered, and which readings count until they are settled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.duplicates import find_duplicates
from wearcast.doubts.family import Found
from wearcast.doubts.journals import find_journal_queries
from wearcast.doubts.plausibility import find_implausible
from wearcast.lives.history import History
from wearcast.queries import Query

FAMILIES: tuple[Callable[[History], Found], ...] = (
    find_implausible,
    find_duplicates,
    find_journal_queries,
)
"""A new family of slips is one file and one line here."""


@dataclass(frozen=True)
class Doubts:
    """Queries and what they take out of the fits.

    Attributes
    ----------
    queries : tuple of Query
        In the order of the families.
    counted : ndarray of bool, shape (n,)
        Readings of the history that go into the fits.
    """

    queries: tuple[Query, ...]
    counted: NDArray[np.bool_]


def doubt(history: History) -> Doubts:
    """Look at every reading of a history with every family of slips that needs no fitted model.

    A reading that was measured again and confirmed is not taken out, whatever the family says.
    """
    n = len(history.readings)
    counted = np.ones(n, dtype=bool)
    queries: list[Query] = []
    for family in FAMILIES:
        found = family(history)
        queries += found.queries
        counted[list(found.not_counted)] = False
    return Doubts(tuple(queries), counted)
