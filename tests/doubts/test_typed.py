"""What is typed beside the readings is checked against the rest (thresholds: judgement, as the module says)."""

from __future__ import annotations

import pytest

from wearcast.errors import InputRefused

DAYS = (("2016-05-17", "6000"), ("2018-05-17", "16000"), ("2020-05-17", "26000"), ("2022-05-17", "36000"))
ROWS = [{"position": str(p), "date": day, "counter_h": hours, "value": f"{7.99 - 0.004 * k:.3f}"}
        for k, (day, hours) in enumerate(DAYS) for p in range(1, 4)]  # fmt: skip


def asked(doubted, rows=ROWS, **more) -> list[str]:
    return [query.text for query in doubted(rows, **more).get("typed_figure", [])]


def test_plain_records_are_not_asked_about(doubted) -> None:
    assert asked(doubted) == []


@pytest.mark.parametrize(("stated", "found"), [("500", True), ("5100", False), ("", False)])
def test_a_stated_yearly_use_is_held_against_the_counter(doubted, stated: str, found: bool) -> None:
    said = asked(doubted, engine={"hours_per_year": stated})
    assert bool(said) == found
    assert all(
        "500 hours a year are stated" in text and "hours a year from the counter" in text for text in said
    ), said


def test_a_limit_that_leaves_ten_times_its_neighbours_is_asked_about(doubted) -> None:
    odd = {"half": "lower", "shell_size": "U25", "new_min": "8.110", "new_max": "8.125", "limit": "7.575"}
    (text,) = asked(doubted, more_limits=[odd])
    assert "the limit 7.575 mm of main lower U25 leaves 542 µm" in text


def test_an_uncertainty_typed_in_millimetres_is_asked_about(doubted) -> None:
    (text,) = asked(doubted, [row | {"u_um": "0.015"} for row in ROWS[:3]] + ROWS[3:])
    assert "15 µm, if it is in mm" in text
    with pytest.raises(
        InputRefused, match=r'u_um: found "0.004"'
    ):  # below what any gauge could have: not used
        asked(doubted, [row | {"u_um": "0.004"} for row in ROWS])


def test_a_dial_that_stood_still_is_asked_about(doubted) -> None:
    said = asked(doubted, [row | {"counter_h": "0"} for row in ROWS], engine={"hours_per_year": "5000"})
    assert any("shows 0 h from 2016-05-17 to 2022-05-17" in text for text in said)


def test_a_point_read_once_that_no_other_opening_reads_is_asked_about(doubted) -> None:
    (text,) = asked(doubted, [*ROWS[:-1], ROWS[-1] | {"point": "p45"}])
    assert "the point p45 is read at this one place and opening (2022-05-17)" in text
