"""Rounding that never carries a value across its limit, nor to a 0 that it is not."""

from __future__ import annotations

from decimal import Decimal
from math import inf, nan

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from wearcast.words import (
    MINUS,
    NO_UPPER_BOUND,
    NOT_KNOWN,
    NOT_SAID,
    SAME_WITHIN_MM,
    SPACE,
    chance,
    exact_mm,
    hours,
    hours_ahead,
    mm,
    plain,
    rate,
    significant,
    stated_share,
    whole,
)


def number(text: str) -> Decimal:
    return Decimal(text.replace(SPACE, "").replace(MINUS, "-"))


lengths = st.floats(-500.0, 500.0, allow_nan=False)
near = st.floats(-0.002, 0.002, allow_nan=False)


@given(limit=st.integers(-50_000, 500_000).map(lambda n: n / 1000), off=near)
@example(limit=7.95, off=-0.0004)
@example(limit=7.95, off=0.0004)
@example(limit=7.95, off=2e-9)
@example(limit=219.96, off=-2e-9)
def test_a_printed_length_stays_on_its_side_of_the_limit(limit: float, off: float) -> None:
    value = limit + off
    shown, edge = number(mm(value, limit)), number(exact_mm(limit))
    if abs(value - limit) <= SAME_WITHIN_MM:
        assert shown == edge
    else:
        assert (shown > edge) == (value > limit)
        assert shown != edge


@pytest.mark.parametrize(
    ("value", "limit", "text"),
    [
        (7.9496, 7.950, "7.9496"),
        (7.94951, 7.950, "7.9495"),
        (7.9504, 7.950, "7.9504"),
        (7.950, 7.950, "7.950"),
        (7.950 + 1e-15, 7.950, "7.950"),
        (7.961, 7.950, "7.961"),
        (0.32999, 0.330, "0.32999"),
        (0.33001, 0.330, "0.33001"),
        (7.9502, 7.95021, "7.950"),
        (7.95022, 7.95021, "7.95022"),
    ],
)
def test_decimals_grow_until_the_side_shows(value: float, limit: float, text: str) -> None:
    assert mm(value, limit) == text


@given(value=st.floats(-1e6, 1e6, allow_nan=False))
@example(value=4e-4)
@example(value=-4e-12)
@example(value=5e-324)
def test_only_zero_is_printed_as_zero(value: float) -> None:
    for text in (mm(value), rate(value), significant(value)):
        assert (number(text) == 0) == (value == 0)
    assert mm(0.0) == "0.000"
    assert "-" not in mm(value).replace("e-", "")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (0.4, "under 1"), (0.999, "under 1"), (1.0, "1"), (87.9, "87"), (999.9, "999"),
        (1_239.0, f"1{SPACE}230"), (12_399.0, f"12{SPACE}300"), (199_999.0, f"199{SPACE}000"),
        (nan, NOT_KNOWN), (inf, NOT_KNOWN),
    ],
)  # fmt: skip
def test_hours_are_rounded_down_to_three_figures(value: float, text: str) -> None:
    assert hours(value) == text


@given(one=st.floats(1, 200_000), other=st.floats(1, 200_000))
def test_rounded_hours_promise_no_more_and_keep_their_order(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert number(hours(low)) <= number(hours(high))
    assert number(hours(low)) <= Decimal(low)
    assert number(hours(low)) > Decimal(low) * Decimal("0.99") - 1


def test_open_ends_are_said_in_words() -> None:
    assert hours_ahead((870.0, 5_000.0, nan)) == ("870", f"5{SPACE}000", NO_UPPER_BOUND)
    assert hours_ahead((870.0, nan, nan)) == ("870", NO_UPPER_BOUND, NO_UPPER_BOUND)
    assert hours_ahead((nan, nan, nan)) == (NOT_SAID,) * 3
    assert hours_ahead((nan, 5_000.0, nan)) == (NOT_SAID, f"5{SPACE}000", NO_UPPER_BOUND)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (0.0946, "0.095"),
        (9.96, "10"),
        (0.996, "1.0"),
        (99.6, "100"),
        (-2.04, f"{MINUS}2.0"),
        (nan, NOT_KNOWN),
    ],
)  # fmt: skip
def test_two_significant_figures(value: float, text: str) -> None:
    assert significant(value) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "under 0.1 %"), (1e-9, "under 0.1 %"), (0.0012, "0.1 %"), (0.05, "5.0 %"), (0.0996, "10 %"),
        (0.5, "50 %"), (0.9994, "over 99.9 %"), (1.0, "over 99.9 %"), (nan, NOT_KNOWN),
    ],
)  # fmt: skip
def test_a_chance_is_never_shown_as_none_or_certain(share: float, text: str) -> None:
    assert chance(share) == text


def test_a_limit_keeps_all_its_decimals() -> None:
    assert exact_mm(7.95) == "7.950"
    assert exact_mm(7.9625) == "7.9625"
    assert exact_mm(0.313 * 25.4) == "7.9502"
    assert exact_mm(-0.08) == f"{MINUS}0.080"
    assert exact_mm(nan) == NOT_KNOWN


def test_plain_numbers_keep_their_digits() -> None:
    assert plain(200_000.0) == f"200{SPACE}000"
    assert plain(1 / 3) == "0.3333333333"
    assert whole(-1234.4) == f"{MINUS}1{SPACE}234"
    assert whole(nan) == NOT_KNOWN


@pytest.mark.parametrize("share", [0.0, 0.004, 0.0994, 0.0996, 0.0999, 0.1001, 0.5, 0.994, 0.9999, 1.0])
def test_a_chance_is_never_carried_to_certainty_or_over_the_risk(share: float) -> None:
    said = chance(share, 0.10)
    assert said not in ("0 %", "0.0 %", "100 %", "100.0 %")
    if said[0].isdigit():
        assert (Decimal(said.split()[0]) > 10) == (share > 0.10)


@given(share=st.floats(0.0, 1.0), apart=st.floats(1e-4, 0.5))
def test_two_chances_that_differ_are_never_told_as_one(share: float, apart: float) -> None:
    apart = round(apart, 4)
    if abs(share - apart) > 1e-9:
        assert chance(share, apart) != stated_share(apart)


def test_what_somebody_stated_is_repeated_as_stated() -> None:
    assert [stated_share(share) for share in (0.1, 0.025, 0.95, 0.999)] == ["10 %", "2.5 %", "95 %", "99.9 %"]
