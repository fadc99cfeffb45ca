"""All doubts that need no fitted model, gathered, and which readings count until they are settled."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearcast.doubts.alignment import find_alignment_queries
from wearcast.doubts.axial import find_axial_too_small
from wearcast.doubts.certificates import find_gauges_due
from wearcast.doubts.clearances import find_clearances_against_walls
from wearcast.doubts.damage import find_damage
from wearcast.doubts.dates import find_date_mismatches
from wearcast.doubts.deflections import find_deflection_queries
from wearcast.doubts.duplicates import find_duplicates
from wearcast.doubts.family import Found
from wearcast.doubts.gauges import find_gauge_disagreements
from wearcast.doubts.halves import find_half_swaps
from wearcast.doubts.journals import find_journal_queries
from wearcast.doubts.limit_changes import find_limit_changes
from wearcast.doubts.missing_renewals import find_missing_renewals
from wearcast.doubts.plausibility import find_implausible
from wearcast.doubts.renewals import find_unrecorded_renewals
from wearcast.doubts.repeats import find_repeated_sets
from wearcast.doubts.store import find_sizes_not_in_store
from wearcast.doubts.typed import find_typed_figures
from wearcast.lives.history import History
from wearcast.queries import KINDS, Query


@dataclass(frozen=True)
class Family:
    """Slips looked for together: the function that finds them, and the kinds of query it raises.

    `takes_out` is False where they only ask: no reading is ever taken out for them.
    """

    find: Callable[[History, NDArray[np.bool_]], Found]
    kinds: tuple[str, ...]
    takes_out: bool = True

    @property
    def quick(self) -> bool:
        """Whether a look at the rows settles them all."""
        return all(KINDS[kind].quick for kind in self.kinds)


FAMILIES = (
    Family(find_implausible, ("unit_slip", "decimal_slip", "outlier")),
    Family(find_duplicates, ("duplicate",)),
    Family(find_missing_renewals, ("unrecorded_renewal",)),
    Family(find_gauge_disagreements, ("gauge_disagreement",)),
    Family(find_date_mismatches, ("date_mismatch",)),
    Family(find_repeated_sets, ("repeated_set",)),
    Family(find_deflection_queries, ("unit_slip", "decimal_slip", "outlier", "deflection_closure")),
    Family(find_axial_too_small, ("axial_minimum",), takes_out=False),
    Family(find_journal_queries, ("journal_query",)),
    Family(find_half_swaps, ("half_swap",)),
    Family(find_unrecorded_renewals, ("unrecorded_renewal",)),
    Family(find_clearances_against_walls, ("walls_clearance",), takes_out=False),
    Family(find_alignment_queries, ("alignment_query",), takes_out=False),
    Family(find_damage, ("damage_noted",), takes_out=False),
    Family(find_sizes_not_in_store, ("spares_size",), takes_out=False),
    Family(find_typed_figures, ("typed_figure",), takes_out=False),
    Family(find_gauges_due, ("gauge_due",), takes_out=False),
    Family(find_limit_changes, ("limit_changed",), takes_out=False),
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


def doubt(history: History, families: Sequence[Family] = FAMILIES) -> Doubts:
    """Look at every reading of a history with every family of slips that needs no fitted model.

    A reading that was measured again and confirmed is not taken out, whatever the family says.
    """
    n = len(history.readings)
    counted = np.ones(n, dtype=bool)
    queries: list[Query] = []
    for family in families:
        found = family.find(history, counted.copy())
        queries += found.queries
        if found.not_counted and not family.takes_out:
            raise AssertionError(f"{family.kinds} should only ask")
        counted[list(found.not_counted)] = False
    return Doubts(tuple(queries), counted)
