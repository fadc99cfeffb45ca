"""The order of statements, as the data contract lists them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from wearcast.forecasting.statements import STATEMENTS, Facts, statements

CLEAR = Facts(
    damage=False,
    past=False,
    disagree=False,
    dated=True,
    date_p10=date(2040, 1, 1),
    next_window=date(2027, 1, 1),
    following_window=date(2028, 1, 1),
    openings=3,
)
BEFORE_NEXT = date(2026, 12, 1)
BEFORE_FOLLOWING = date(2027, 6, 1)

CASES = [
    ("damage noted", {"damage": True}),
    ("past limit", {"past": True}),
    ("readings disagree", {"disagree": True}),
    ("limit falls before next window", {"date_p10": BEFORE_NEXT}),
    ("not enough readings", {"openings": 1}),
    ("no window given", {"next_window": None, "following_window": None}),
    ("limit falls before following window", {"date_p10": BEFORE_FOLLOWING}),
    ("limit falls later", {}),
]


@pytest.mark.parametrize(("said", "changes"), CASES)
def test_each_statement_is_made_when_only_its_fact_holds(said, changes) -> None:
    assert statements(replace(CLEAR, **changes))[0] == said


@pytest.mark.parametrize(("weightier", "lighter"), list(pairwise(CASES)))
def test_the_weightier_of_two_neighbours_is_said_first_and_the_other_beside_it(weightier, lighter) -> None:
    both = {**lighter[1], **weightier[1]}
    said, others = statements(replace(CLEAR, **both))
    assert said == weightier[0]
    if lighter[0] not in ("limit falls later", "limit falls before following window"):
        assert lighter[0] in others


def test_a_limit_on_the_day_of_the_window_does_not_fall_before_it() -> None:
    assert statements(replace(CLEAR, date_p10=CLEAR.next_window))[0] == "limit falls before following window"
    assert statements(replace(CLEAR, date_p10=CLEAR.following_window))[0] == "limit falls later"


def test_a_limit_before_the_next_window_is_not_said_twice() -> None:
    assert statements(replace(CLEAR, date_p10=BEFORE_NEXT)) == ("limit falls before next window", ())


def test_without_yearly_use_no_window_can_be_compared() -> None:
    assert statements(replace(CLEAR, dated=False, date_p10=None))[0] == "no window given"


def test_every_statement_has_a_case() -> None:
    assert [name for name, _ in STATEMENTS] == [said for said, _ in CASES]


def test_no_window_is_not_said_where_there_is_one_that_nothing_can_be_compared_with() -> None:
    undated = Facts(
        damage=False, past=True, disagree=False, dated=False, date_p10=None, next_window=date(2028, 1, 10),
        following_window=None, openings=3,
    )  # fmt: skip
    assert statements(undated) == ("past limit", ())
