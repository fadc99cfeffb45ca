"""All doubts that need no fitted model, gathered, and which readings count until they are settled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.alignment import find_alignment_queries
from wearcast.doubts.axial import find_axial_too_small
from wearcast.doubts.clearances import find_clearances_against_walls
from wearcast.doubts.damage import find_damage
from wearcast.doubts.dates import find_date_mismatches
from wearcast.doubts.deflections import find_deflection_queries
from wearcast.doubts.duplicates import find_duplicates
from wearcast.doubts.family import Found
from wearcast.doubts.gauges import find_gauge_disagreements
from wearcast.doubts.halves import find_half_swaps
from wearcast.doubts.journals import find_journal_queries
from wearcast.doubts.plausibility import find_implausible
from wearcast.doubts.renewals import find_unrecorded_renewals
from wearcast.doubts.repeats import find_repeated_sets
from wearcast.doubts.store import find_sizes_not_in_store
from wearcast.lives.history import History
from wearcast.queries import Query

FAMILIES: tuple[Callable[[History, NDArray[np.bool_]], Found], ...] = (
    find_implausible,
    find_duplicates,
    find_gauge_disagreements,
    find_date_mismatches,
    find_repeated_sets,
    find_deflection_queries,
    find_axial_too_small,
    find_journal_queries,
    find_half_swaps,
    find_unrecorded_renewals,
    find_clearances_against_walls,
    find_alignment_queries,
    find_damage,
    find_sizes_not_in_store,
)
"""A new family of slips is one file and one line here. Each sees which readings the ones before it left to count,
so that a slip is not found again by what it does to others."""


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
        found = family(history, counted.copy())
        queries += found.queries
        counted[list(found.not_counted)] = False
    return Doubts(tuple(queries), counted)
