"""The two words a row of the forecast table says: what its limit does, and how well that is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

DAMAGE = "damage noted"
PAST = "past limit"
MAY_BE_PAST = "limit may be passed"
BEFORE_NEXT = "limit falls before next window"
BEFORE_FOLLOWING = "limit falls before following window"
WITHIN_A_YEAR = "limit falls within a year"
NO_LIMIT = "no limit given"
LATER = "limit falls later"

DISAGREE = "readings disagree"
CHANGED_RATE = "changed rate"
SISTERS_ALONE = "sisters alone"
FEW_READINGS = "few own readings"
OWN_READINGS = "own readings"

URGENT = (DAMAGE, PAST)
"""What is needed now, whatever the trend says."""

SOON = (*URGENT, MAY_BE_PAST, BEFORE_NEXT, BEFORE_FOLLOWING, WITHIN_A_YEAR)
"""What is listed whatever else there is."""

UNSETTLED = "the doubted last reading may be a slip or a fault coming on, and the chance holds both until it is settled"

NEEDED_OPENINGS = 2
"""Openings past the running-in that a shell needs before its forecast stands without that remark."""


@dataclass(frozen=True)
class Facts:
    """What a row rests on.

    Attributes
    ----------
    past : bool
        The estimate, or a reading of the last opening, stands at or past the limit.
    may_be_past : bool
        The chance that the limit is reached by now is not under the accepted risk, or cannot be given.
    dated : bool
        False where the engine has no yearly use, so that no window can be compared.
    date_p10 : date or None
        The early date; None where it is too far off or no dates can be given.
    within_a_year : bool
        It falls, or where there are no dates the early hours do, within a year.
    governed : bool
        False where no point with a limit of its own was read, so that nothing is forecast.
    disagree : bool
        Doubted readings in or out change the statement, or walls and clearance contradict each other.
    changed_rate : bool
        The clock of the class says that the rate has changed.
    openings : int
        Openings of this life past the running-in.
    read_past : bool
        A reading of the last opening, not only the estimate, stands past the limit.
    """

    damage: bool
    past: bool
    may_be_past: bool
    dated: bool
    date_p10: date | None
    next_window: date | None
    following_window: date | None
    within_a_year: bool
    governed: bool
    disagree: bool
    changed_rate: bool
    openings: int
    read_past: bool = False


def _falls_before(window: date | None, facts: Facts) -> bool:
    return window is not None and facts.date_p10 is not None and facts.date_p10 < window


Test = Callable[[Facts], bool]

STATEMENTS: tuple[tuple[str, Test], ...] = (
    (DAMAGE, lambda facts: facts.damage),
    (PAST, lambda facts: facts.past),
    (MAY_BE_PAST, lambda facts: facts.may_be_past),
    (BEFORE_NEXT, lambda facts: _falls_before(facts.next_window, facts)),
    (BEFORE_FOLLOWING, lambda facts: _falls_before(facts.following_window, facts)),
    (WITHIN_A_YEAR, lambda facts: facts.within_a_year and (facts.next_window is None or not facts.dated)),
    (NO_LIMIT, lambda facts: not facts.governed),
    (LATER, lambda _: True),
)
"""In order of weight: the first that holds is the row's statement."""

RESTS_ON: tuple[tuple[str, Test], ...] = (
    (DISAGREE, lambda facts: facts.disagree),
    (CHANGED_RATE, lambda facts: facts.changed_rate),
    (SISTERS_ALONE, lambda facts: not facts.openings),
    (FEW_READINGS, lambda facts: 0 < facts.openings < NEEDED_OPENINGS),
    (OWN_READINGS, lambda _: True),
)
"""In order of weight: the first that holds is what the row rests on."""


def statement(facts: Facts) -> str:
    """What the limit does."""
    return next(name for name, holds in STATEMENTS if holds(facts))


def rests_on(facts: Facts) -> str:
    """How well that is known."""
    return next(name for name, holds in RESTS_ON if holds(facts))


def beside(facts: Facts) -> tuple[str, ...]:
    """What else holds: behind damage what the limit does, and what else lies under the row.

    Of what the limit does the weightiest says the rest.
    """
    limit = next(name for name, holds in STATEMENTS[1:] if holds(facts))
    under = [name for name, holds in RESTS_ON if holds(facts)][1:]
    return (
        *([limit] if facts.damage and limit != LATER else []),
        *(name for name in under if name != OWN_READINGS),
    )
