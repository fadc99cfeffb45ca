"""Positions: spelled one way throughout, and within the engine as engines describes it."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from wearcast.records.cells import visible
from wearcast.records.drafts import Draft, combinations

_NUMBER = re.compile(r"\d{1,6}", re.ASCII)
_PLACE = ("vessel", "engine", "bearing", "position")


def check_spelling(drafts: Sequence[Draft]) -> None:
    """Refuse a position spelled otherwise than the same one elsewhere: ``03`` beside ``3``, ``a1`` beside ``A1``.

    A series would fall apart in silence, and a renewal would miss its shell. The spelling of most rows
    stands; where none has most, all are refused.
    """
    counts: defaultdict[tuple[str, ...], Counter[str]] = defaultdict(Counter)
    for made in drafts:
        for *place, position, rows in _positions(made):
            if position:
                counts[*place, _plain(position)][position] += rows
    for (*place, _), spellings in counts.items():
        if len(spellings) == 1:
            continue
        (most, rows), (_, next_rows) = spellings.most_common(2)
        for position in spellings:
            if position != most or rows == next_rows:
                others = [other for other in spellings if other != position]
                _refuse(drafts, (*place, position), others)


def _positions(made: Draft) -> list[tuple[str, str, str, str, int]]:
    """Vessel, engine, bearing, position and number of standing rows of every place."""
    codes, first = combinations(made, _PLACE)
    rows = np.bincount(codes[made.stands], minlength=len(first))
    labels = [made.values[name][first].tolist() for name in _PLACE]
    return [place for place in zip(*labels, rows.tolist(), strict=True) if place[-1]]


def _refuse(drafts: Sequence[Draft], place: tuple[str, ...], others: Sequence[str]) -> None:
    written = " and ".join(f'"{visible(other)}"' for other in others)
    for made in drafts:
        rows = made.stands.copy()
        for name, label in zip(_PLACE, place, strict=True):
            rows &= made.values[name] == label
        expected = f"one spelling of this position, which is also written {written}"
        made.refuse(rows, "position", expected, "Write it the same way everywhere.")


@lru_cache(maxsize=4096)
def _plain(position: str) -> str:
    """What two spellings of one position share.

    >>> _plain("03"), _plain("B 07"), _plain("b7")
    ('3', 'b7', 'b7')
    """
    return re.sub(r"0*(\d+)", r"\1", re.sub(r"[\s_.-]+", "", position.casefold()))


def beyond_the_engine(made: Draft, engines: Draft) -> list[str]:
    """Notes of mains and big ends with a number that the engine, by its row in engines, does not have."""
    ranges = {
        (engines.values["vessel"][at], engines.values["engine"][at], bearing): _range(engines, at, count)
        for at in np.flatnonzero(engines.stands).tolist()
        for bearing, count in (("main", "mains"), ("big_end", "throws"))
        if np.isfinite(engines.values[count][at])
    }
    notes = []
    for vessel, engine, bearing, position, _ in _positions(made):
        allowed = ranges.get((vessel, engine, bearing))
        if allowed and _NUMBER.fullmatch(position) and int(position) not in allowed:
            notes.append(
                f"{made.grid.file}: {bearing} {position} of {visible(vessel)} engine {visible(engine)}; "
                f"by {engines.grid.file} its numbers are {allowed.start} to {allowed.stop - 1}."
            )
    return notes


def _range(engines: Draft, at: int, count: str) -> range:
    first = engines.values["first_main"][at] if count == "mains" else 1
    return range(int(first), int(first) + int(engines.values[count][at]))
