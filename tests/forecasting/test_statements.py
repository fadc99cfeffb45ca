"""What a row says of its limit and how well that is known: the order is the data contract's."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from wearcast.forecasting.statements import RESTS_ON, STATEMENTS, Facts, beside, rests_on, statement

CLEAR = Facts(
    damage=False,
    past=False,
    may_be_past=False,
    dated=True,
    date_p10=date(2040, 1, 1),
    next_window=date(2027, 1, 1),
    following_window=date(2028, 1, 1),
    within_a_year=False,
    governed=True,
    disagree=False,
    changed_rate=False,
    openings=3,
)
BEFORE_NEXT = date(2026, 12, 1)
BEFORE_FOLLOWING = date(2027, 6, 1)
NO_WINDOW = {"next_window": None, "following_window": None}
WINDOWS = {"next_window": CLEAR.next_window, "following_window": CLEAR.following_window}

CASES = [
    ("damage noted", {"damage": True}),
    ("past limit", {"past": True}),
    ("limit may be passed", {"may_be_past": True}),
    ("limit falls before next window", {"date_p10": BEFORE_NEXT}),
    ("limit falls before following window", {"date_p10": BEFORE_FOLLOWING, **WINDOWS}),
    ("limit falls within a year", {"within_a_year": True, **NO_WINDOW}),
    ("no limit given", {"governed": False, "date_p10": None}),
    ("limit falls later", {}),
]
UNDER = [
    ("readings disagree", {"disagree": True}),
    ("changed rate", {"changed_rate": True}),
    ("sisters alone", {"openings": 0}),
    ("few own readings", {"openings": 1}),
    ("own readings", {}),
]


@pytest.mark.parametrize(("said", "changes"), CASES)
def test_each_statement_is_made_when_only_its_fact_holds(said, changes) -> None:
    assert statement(replace(CLEAR, **changes)) == said


@pytest.mark.parametrize(("weightier", "lighter"), list(pairwise(CASES)))
def test_the_weightier_of_two_neighbours_is_said_first(weightier, lighter) -> None:
    assert statement(replace(CLEAR, **{**lighter[1], **weightier[1]})) == weightier[0]


def test_every_statement_has_a_case() -> None:
    assert [name for name, _ in STATEMENTS] == [said for said, _ in CASES]
    assert [name for name, _ in RESTS_ON] == [said for said, _ in UNDER]


@pytest.mark.parametrize(("known", "changes"), UNDER)
@pytest.mark.parametrize(("said", "facts"), CASES)
def test_how_well_it_is_known_hides_nothing_of_what_the_limit_does(said, facts, known, changes) -> None:
    made = replace(CLEAR, **facts, **changes)
    assert (statement(made), rests_on(made)) == (said, known)


@pytest.mark.parametrize(("said", "changes"), CASES[1:-1])
def test_behind_damage_stands_what_the_limit_does(said, changes) -> None:
    assert beside(replace(CLEAR, **changes)) == ()
    assert beside(replace(CLEAR, damage=True, **changes)) == (said,)


def test_what_else_lies_under_a_row_stands_beside() -> None:
    made = replace(CLEAR, disagree=True, changed_rate=True, openings=1)
    assert (rests_on(made), beside(made)) == ("readings disagree", ("changed rate", "few own readings"))


def test_a_limit_on_the_day_of_the_window_does_not_fall_before_it() -> None:
    assert statement(replace(CLEAR, date_p10=CLEAR.next_window)) == "limit falls before following window"
    assert statement(replace(CLEAR, date_p10=CLEAR.following_window)) == "limit falls later"


def test_a_year_counts_where_no_window_can_be_compared_and_not_where_one_can() -> None:
    undated = replace(CLEAR, dated=False, date_p10=None)
    assert statement(undated) == "limit falls later"
    assert statement(replace(undated, within_a_year=True)) == "limit falls within a year"
    assert statement(replace(CLEAR, within_a_year=True)) == "limit falls later"
