"""What stands first on the fleet page, and the tables behind it: the same words as the commands print."""

from __future__ import annotations

import pytest
from demo_results import demo_compared, demo_ordered, demo_planned

from wearcast.decide.brief import ToOpen
from wearcast.lives.only import Only
from wearcast.report.decided import Decided
from wearcast.report.decisions import decision_tables
from wearcast.report.first_lines import first_lines
from wearcast.report.fleet_first import decided_view
from wearcast.report.linked import Ways
from wearcast.report.query_lines import query_lines


@pytest.fixture(scope="module")
def decided() -> Decided:
    return Decided(demo_planned(), demo_ordered(), demo_compared())


@pytest.fixture(scope="module")
def ways(decided: Decided) -> Ways:
    keys = decided.plan.stand.forecast.history.engines
    return Ways({key: f"{key[0]}.html" for key in keys})


@pytest.fixture(scope="module")
def view(decided: Decided, ways: Ways):
    return decided_view(decided, ways)


@pytest.fixture(scope="module")
def tables(decided: Decided):
    return {table.anchor: table for table in decision_tables(decided)}


def test_every_row_has_a_cell_under_every_head(tables) -> None:
    assert list(tables) == ["plan", "to-read", "order", "sisters"]
    for table in tables.values():
        assert table.rows
        assert {len(row) for row in table.rows} == {len(table.heads)}
        assert not table.vessels or len(table.vessels) == len(table.rows)


def test_windows_come_by_date_across_vessels_with_all_that_the_plan_opens(view, decided: Decided) -> None:
    windows = [*view.windows.soon, *view.windows.later]
    assert [one.on for one in windows] == sorted(one.on for one in windows)
    assert len({one.vessel for one in view.windows.soon}) > 1
    shown = {
        (window.on, window.vessel, engine, one.place.text)
        for window in windows
        for engine, here in window.open
        for one in here
    }
    assert shown == {(str(one.window).partition(" ")[0], *one.key, str(one)) for one in decided.plan.planned}


def test_a_place_of_a_window_leads_to_its_page(view) -> None:
    (place,) = {
        one.place
        for window in view.windows.soon
        if (window.on, window.vessel) == ("2027-03-15", "Ossel Brae")
        for _, here in window.open
        for one in here
        if one.place.text == "big end 2"
    }
    assert place.href == "Ossel Brae.html#big-end-2"


def test_damage_stands_without_a_chance_that_says_nothing(view) -> None:
    damaged = [
        one
        for window in view.windows.soon
        for _, here in window.open
        for one in here
        if "damage" in one.because
    ]
    assert damaged
    assert {one.chance for one in damaged} == {""}
    assert "damage noted" in "".join(one.text for one in view.windows.warnings[0])


def test_what_to_read_is_said_once_a_window_where_it_is_the_same(tables) -> None:
    told = [(row[0], row[1], row[3]) for row in tables["to-read"].rows]
    assert len(told) == len(set(told))
    assert len(told) < len(tables["plan"].rows)


def test_every_place_of_the_brief_is_a_link_to_it(decided: Decided, ways: Ways) -> None:
    made = decided.brief(Only())
    lines = first_lines(made, ways, sections=True)
    linked = {one.href for line in lines for one in line.words}
    for line in made.lines:
        if isinstance(line, ToOpen):
            assert {ways.to(spot) for spot in line.spots} <= linked
    assert {"#orders", "#trust"} <= linked
    assert not any("wearcast " in one.text for line in lines for one in line.words)


def test_the_brief_of_an_engine_stays_on_its_page(decided: Decided) -> None:
    key = ("Merrow Dain", "ME")
    only = Only(*key)
    lines = first_lines(decided.narrowed(only).brief(only), Ways({key: "m.html"}, key), sections=False)
    linked = {one.href for line in lines for one in line.words} - {""}
    assert "#main-2" in linked
    assert all(href.startswith("#") for href in linked)


def test_the_undersize_shell_is_ordered_now(tables, view) -> None:
    """Tarn Ivelle main 6 runs on a journal ground to U50; the store holds standard shells only."""
    (row,) = [row for row in tables["order"].rows if row[0] == "main lower U50"]
    assert any("count zero here" in cell for cell in row)
    (line,) = [one for one in view.orders.to_order if one.part == "main lower U50"]
    assert (line.quantity, line.by) == ("1", "order now")
    assert line.vessels[0].startswith("1 for Tarn Ivelle")


def test_one_place_alone_is_out_of_line(tables, view) -> None:
    named = [row[:2] for row in tables["sisters"].rows if row[4] == "out of line"]
    assert named == [("Merrow Dain ME", "main 5 lower")]
    assert [one.text for one in view.out_of_line[0]][:2] == ["Merrow Dain ME ", "main 5"]


def test_queries_that_say_one_thing_are_one_line(decided: Decided, ways: Ways) -> None:
    """The opening of Ossel Brae counted from the other end: lower walls, upper walls and clearances."""
    made = decided.plan.stand.forecast
    several = [one for one in made.queries if one.kind == "end_swap" and one.vessel == "Ossel Brae"]
    assert len(several) == 3
    lines = [one for one in query_lines(made, made.queries, ways) if "other end" in one.what]
    assert len(lines) == 1
    assert lines[0].where.text == "Ossel Brae ME main"
    assert "21 rows, 2021-03-15" in lines[0].what
    assert "with it" in lines[0].effect
