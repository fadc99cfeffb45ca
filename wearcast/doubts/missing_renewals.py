"""Renewals that nobody recorded but the opening itself tells: asked about first, and once for each opening."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearcast.doubts.family import Found, query_of_set, usable
from wearcast.frames import row_numbers_of
from wearcast.lives.history import History
from wearcast.quantities import CROWN_POINTS, QUANTITIES
from wearcast.queries import Query
from wearcast.units import UM_PER_MM
from wearcast.words import place_words

GROWN_FROM_U, TOGETHER_U = 2.0, 6.0
"""Uncertainties of a difference from which a wall that now stands as new has grown, and what the places of one kind and
half that have grown at an opening must come to together (judgement): one alone may be weaker than the four from which
it is asked about anywhere, and two or three weak ones may be chance or places counted from the other end."""

OTHERS = 2
"""Places that tell what the gauge did at an opening (judgement)."""

SAID = re.compile(
    r"\b(?:new shells?|shells? (?:was |were )?(?:renewed|replaced|changed)|renewed|new bearings?|neue schalen?|"
    r"schalen? erneuert|nieuwe schaal|nieuwe schalen)\b",
    re.IGNORECASE,
)
NOT_SAID = re.compile(r"\b(?:no|not|without|nicht|geen|niet|before|order)\b", re.IGNORECASE)
"""Words in a remark that say a shell was renewed, and words that take it back."""


@dataclass(frozen=True, eq=False)
class _Signs:
    """Crown walls in order of life and hours: what each tells of a renewal at its opening.

    Attributes
    ----------
    at : ndarray of int
        Row numbers (from 0) in `History.readings`.
    grown_u : ndarray
        Growth since the opening before in uncertainties of the difference; NaN for the first of a life.
    left, jumped, said : ndarray of bool
        A wall left as of a new shell; a wall found as of one; a remark that says so.
    """

    at: NDArray[np.intp]
    grown_u: NDArray[np.float64]
    left: NDArray[np.bool_]
    jumped: NDArray[np.bool_]
    said: NDArray[np.bool_]


def find_missing_renewals(history: History, counted: NDArray[np.bool_]) -> Found:
    """Openings at which shells look renewed and no renewal is recorded.

    Signs are an as-left wall of a new shell, walls that jump to new at two places or more of one opening (and not
    everywhere alike, as a gauge would move them), and a remark that says so. Where a life was read after such an
    opening its readings before do not count until it is settled; else the thick readings do not.
    """
    signs = _signs(history, counted)
    if signs is None:
        return Found(())
    readings = history.readings.iloc[signs.at]
    queries: list[Query] = []
    lost: list[int] = []
    for (_, _, day), halves in sorted(_openings(readings).items()):
        chosen = np.concatenate([_renewed(signs, here) for here in halves])
        if len(chosen):
            queries.append(_query(history, signs, chosen, day))
            lost += _not_counted(readings, signs, chosen)
    return Found(tuple(queries), tuple(dict.fromkeys(lost)))


def _openings(readings: pd.DataFrame) -> dict[tuple[Any, ...], list[NDArray[np.int64]]]:
    """The readings of each opening, by kind and half: what moves a half alike moves all its places."""
    found: dict[tuple[Any, ...], list[NDArray[np.int64]]] = {}
    for (*opening, _, _), here in row_numbers_of(
        readings, ["vessel", "engine", "date", "bearing", "half"]
    ).items():
        found.setdefault(tuple(opening), []).append(here)
    return found


def _signs(history: History, counted: NDArray[np.bool_]) -> _Signs | None:
    readings = history.readings
    wall = (readings["quantity"] == "wall") & readings["point"].isin(CROWN_POINTS)
    at = np.flatnonzero(usable(history, counted) & wall.to_numpy())
    if not len(at):
        return None
    left = (readings["state"] == "as_left").to_numpy()
    at = at[np.lexsort((left[at], readings["total_h"].to_numpy()[at], readings["series"].to_numpy()[at]))]
    series = readings["series"].to_numpy()[at]
    value = readings["value_mm"].to_numpy(dtype=np.float64)[at]
    u_mm = (
        readings["u_um"].fillna(QUANTITIES["wall"].default_u_um or 0.0).to_numpy(dtype=np.float64)[at]
        / UM_PER_MM
    )
    band = [history.series[k].limit for k in series]
    low = np.array([one.new_min_mm if one else np.inf for one in band]) - 2.0 * u_mm
    high = np.array([one.new_max_mm if one else -np.inf for one in band]) + 2.0 * u_mm
    grown = np.full(len(at), np.nan)
    same = series[1:] == series[:-1]
    grown[1:][same] = (np.diff(value) / np.hypot(u_mm[1:], u_mm[:-1]))[same]
    as_new = (value >= low) & (value <= high) & (grown >= GROWN_FROM_U)
    life_began = [history.lives[k].fitted_on for k in readings["life"].to_numpy()[at]]
    days = readings["date"].to_numpy()[at]
    begun = np.array(
        [on is not None and pd.Timestamp(on) == day for on, day in zip(life_began, days, strict=True)]
    )
    remarks = readings["remark"].to_numpy()[at]
    said = np.array([bool(SAID.search(str(text))) and not NOT_SAID.search(str(text)) for text in remarks])
    some = np.flatnonzero(as_new | (grown <= -GROWN_FROM_U))
    as_new[some] &= ~_other_half_fell(readings.iloc[at[some]], grown[some])
    ended = _ended_that_day(history, readings["life"].to_numpy()[at], days)
    return _Signs(at, grown, as_new & left[at], as_new & ~left[at], said & ~begun & ~ended)


def _other_half_fell(readings: pd.DataFrame, grown_u: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether the other half of the place is that much thinner at the same opening: halves swapped, not renewed."""
    fell = np.zeros(len(readings), dtype=bool)
    half = readings["half"].to_numpy()
    for here in row_numbers_of(readings, ["vessel", "engine", "bearing", "position", "date"]).values():
        thin = here[grown_u[here] <= -GROWN_FROM_U]
        fell[here] = np.array([(half[thin] != half[k]).any() for k in here])
    return fell


def _ended_that_day(history: History, lives: NDArray[Any], days: NDArray[Any]) -> NDArray[np.bool_]:
    ends = [history.lives[k].ended_on for k in lives]
    return np.array([on is not None and pd.Timestamp(on) == day for on, day in zip(ends, days, strict=True)])


def _renewed(signs: _Signs, here: NDArray[np.intp]) -> NDArray[np.intp]:
    """Which readings of an opening are of shells that look renewed."""
    sure = here[signs.left[here] | signs.said[here]]
    jumped = here[signs.jumped[here]]
    moved = here[np.isfinite(signs.grown_u[here])]
    rest = np.setdiff1d(moved, [*jumped, *sure])
    if len(rest) >= OTHERS:  # what moved every place is the gauge
        jumped = jumped[signs.grown_u[jumped] - max(np.median(signs.grown_u[rest]), 0.0) >= GROWN_FROM_U]
    if not len(sure) and (len(jumped) < 2 or signs.grown_u[jumped].sum() < TOGETHER_U):
        return sure
    alike = len(jumped) >= 0.8 * max(len(moved), 1) and np.std(signs.grown_u[jumped]) < 1.0
    if alike and not len(sure):  # a gauge that reads high moves all places by the same
        return sure
    return np.unique(np.concatenate([sure, jumped]))


def _not_counted(readings: pd.DataFrame, signs: _Signs, chosen: NDArray[np.intp]) -> Iterator[int]:
    series = readings["series"].to_numpy()
    hours = readings["total_h"].to_numpy()
    for k in chosen:
        if not (signs.left[k] or signs.jumped[k]):
            continue
        mine = np.flatnonzero(series == series[k])
        later = mine[hours[mine] > hours[k]]
        yield from (signs.at[mine[mine < k]] if len(later) else signs.at[[k]]).tolist()


def _query(history: History, signs: _Signs, chosen: NDArray[np.intp], day: Any) -> Query:
    rows = history.readings.iloc[signs.at[chosen]]
    why = [
        text
        for text, which in (
            ("walls left as of new shells", signs.left),
            ("walls grown to those of new shells", signs.jumped),
            ("remarks that say so", signs.said),
        )
        if which[chosen].any()
    ]
    places = _places(rows)
    looks = "looks" if len(rows.drop_duplicates(["bearing", "position", "half"])) == 1 else "look"
    on = pd.Timestamp(day).date()
    text = (
        f"{places} of the opening of {on} {looks} renewed ({' and '.join(why)}), and no renewal is recorded."
    )
    ask = (
        "Add the events: wearcast check RECORDS --draft-events FILE drafts them. Until it is settled readings of "
        "the old and the new shell are not taken together."
    )
    evidence = float(np.nanmax(np.append(signs.grown_u[chosen], 0.0)))
    return query_of_set(history, signs.at[chosen], "unrecorded_renewal", text, ask, evidence)


def _places(rows: pd.DataFrame) -> str:
    """Places of one opening in words: ``main 2, 4 and 6 lower``."""
    return _listed(
        [
            place_words(bearing, _listed(list(dict.fromkeys(rows["position"].iloc[at]))), half, "")
            for (bearing, half), at in row_numbers_of(rows, ["bearing", "half"]).items()
        ]
    )


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
