"""The brief: what comes first, what it names, and that it stays on one screen."""

from __future__ import annotations

import demo_results
import pytest

from wearcast.cli.show import folded
from wearcast.decide.brief import Brief, Damaged, Reached, ToAsk, ToOpen, ToOrder, brief_of
from wearcast.decide.brief_words import said
from wearcast.forecasting.statements import MAY_BE_PAST, PAST
from wearcast.lives.only import Only


def made(only: Only) -> Brief:
    decided = demo_results.demo_planned(), demo_results.demo_ordered(), demo_results.demo_compared()
    return brief_of(*decided, only)


@pytest.fixture(scope="module")
def demo_brief() -> Brief:
    return made(Only())


def test_the_demo_fits_one_screen(demo_brief: Brief) -> None:
    lines = [line for _, text in said(demo_brief) for line in folded(text, 100, "", "  ").splitlines()]
    assert len(lines) <= 22  # and two lines above them
    assert max(map(len, lines)) <= 100


def test_damage_comes_first_with_no_hours_date_or_chance(demo_brief: Brief) -> None:
    first, text = said(demo_brief)[0]
    assert isinstance(first, Damaged)
    assert first.spots == (("Merrow Dain", "ME", "main", "2"),)
    assert "bond failure" in text
    assert "%" not in text
    assert " h" not in text.replace(" hours", "")


def test_no_place_past_its_limit_is_left_out(demo_brief: Brief) -> None:
    past = {row.key for row in demo_brief.stand.forecast.rows if row.statement in (PAST, MAY_BE_PAST)}
    told = {row.key for line in demo_brief.lines if isinstance(line, Reached) for row in line.rows}
    assert past
    assert told == past


def test_every_vessel_hears_of_its_next_window_and_of_nothing_later(demo_brief: Brief) -> None:
    told = {line.vessel: line for line in demo_brief.lines if isinstance(line, ToOpen)}
    windows = demo_brief.stand.forecast.windows
    assert {vessel: line.on for vessel, line in told.items()} == {
        key[0]: ahead[0].on for key, ahead in windows.items()
    }
    plan = demo_results.demo_planned()
    for vessel, line in told.items():
        mine = {one for one in plan.planned if one.key[0] == vessel and one.window.on == line.on}
        assert {str(one) for one in line.openings} == {str(one) for one in mine}


def test_orders_of_today_are_those_of_the_order(demo_brief: Brief) -> None:
    told = [line.line for line in demo_brief.lines if isinstance(line, ToOrder)]
    order = demo_results.demo_ordered()
    assert told == [line for line in order.lines if line.quantity and line.now]
    text = " ".join(text for line, text in said(demo_brief) if isinstance(line, ToOrder))
    assert all(f" {line.quantity} " in text for line in told)


def test_what_is_asked_changes_what_is_said_of_a_place(demo_brief: Brief) -> None:
    asked = [line for line in demo_brief.lines if isinstance(line, ToAsk)]
    assert asked
    assert len({(line.key, line.on) for line in asked}) == len(asked)  # one an opening
    for line in asked:
        assert line.row.hours_p10_with_doubted != line.row.hours_p10_without_doubted


def test_the_brief_of_a_vessel_names_no_place_of_another(demo_brief: Brief) -> None:
    one = made(Only("merrow dain"))
    spots = {spot for line in one.lines if not isinstance(line, ToOrder) for spot in line.spots}
    assert spots
    assert {spot[0] for spot in spots} == {"Merrow Dain"}
    assert len(one.lines) < len(demo_brief.lines)
