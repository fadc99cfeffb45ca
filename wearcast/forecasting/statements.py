"""The one sentence a row of the forecast table makes, and the others that hold beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

DAMAGE = "damage noted"
PAST = "past limit"
DISAGREE = "readings disagree"
BEFORE_NEXT = "limit falls before next window"
NOT_ENOUGH = "not enough readings"
NO_WINDOW = "no window given"
BEFORE_FOLLOWING = "limit falls before following window"
LATER = "limit falls later"

UNSETTLED = "the doubted last reading may be a slip or a fault coming on, and the chance holds both until it is settled"

NEEDED_OPENINGS = 2
"""Openings past the running-in that a shell needs before its forecast stands without that remark."""


@dataclass(frozen=True)
class Facts:
    """What a statement rests on.

    Attributes
    ----------
    date_p10 : date or None
        The early date; None where it is too far off or no dates can be given.
    dated : bool
        False where the engine has no yearly use, so that no window can be compared.
    openings : int
        Openings of this life past the running-in.
    governed : bool
        False where no point with a limit of its own was read, so that nothing is forecast.
    read_past : bool
        A reading of the last opening, not only the estimate, stands past the limit.
    """

    damage: bool
    past: bool
    disagree: bool
    dated: bool
    date_p10: date | None
    next_window: date | None
    following_window: date | None
    openings: int
    governed: bool = True
    read_past: bool = False


def _falls_before(window: date | None, facts: Facts) -> bool:
    return window is not None and facts.date_p10 is not None and facts.date_p10 < window


STATEMENTS: tuple[tuple[str, Callable[[Facts], bool]], ...] = (
    (DAMAGE, lambda facts: facts.damage),
    (PAST, lambda facts: facts.past),
    (DISAGREE, lambda facts: facts.disagree),
    (BEFORE_NEXT, lambda facts: _falls_before(facts.next_window, facts)),
    (NOT_ENOUGH, lambda facts: facts.openings < NEEDED_OPENINGS or not facts.governed),
    (NO_WINDOW, lambda facts: facts.next_window is None or not facts.dated),
    (BEFORE_FOLLOWING, lambda facts: _falls_before(facts.following_window, facts)),
    (LATER, lambda _: True),
)
"""In order of weight: the first that holds is the row's statement."""


def statements(facts: Facts) -> tuple[str, tuple[str, ...]]:
    """The row's statement, and the weightier-than-`LATER` others that hold as well.

    A limit before the next window is not said again as one before the following window, and that no window is given
    not where there is one that no date can be compared with.
    """
    holding = [name for name, holds in STATEMENTS if holds(facts)]
    others = [name for name in holding[1:] if name != LATER]
    if BEFORE_NEXT in holding and BEFORE_FOLLOWING in others:
        others.remove(BEFORE_FOLLOWING)
    if facts.next_window is not None and NO_WINDOW in others:
        others.remove(NO_WINDOW)
    return holding[0], tuple(others)
