"""The drawing of the shaft line: order, ends, empties, and what is drawn at each place (all records invented)."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.gather import cut_by_engine
from wearcast.report.shaft_order import Spot, line_of
from wearcast.report.sheets import engine_sheet
from wearcast.report.view import ShaftView


def drawn(shaft: ShaftView) -> ElementTree.Element:
    """The drawing as a tree: it must be well-formed to be one."""
    assert shaft.drawing is not None
    return ElementTree.fromstring(str(shaft.drawing))


def texts(tree: ElementTree.Element, class_: str) -> list[tuple[float, str]]:
    """Texts of one class with their place from the left, as the drawing shifts them."""
    found = []

    def walk(element: ElementTree.Element, x: float) -> None:
        moved = re.match(r"translate\((\S+) (\S+)\)", element.get("transform", ""))
        x += float(moved[1]) if moved else 0.0
        if element.tag == "text" and element.get("class") == class_:
            found.append((x + float(element.get("x", "0")), "".join(element.itertext())))
        for child in element:
            walk(child, x)

    walk(tree, 0.0)
    return sorted(found)


@pytest.fixture(scope="module")
def shafts(fleet: Forecast) -> dict[str, ShaftView]:
    return {one.engine.vessel: engine_sheet(one, "x.html", "1").shaft for one in cut_by_engine(fleet)}


def engine_of(write_folder: Callable[..., Path], folder: Path, **facts: Any) -> ShaftView:
    rows = [{"bearing": "main", "position": "1", "counter_h": "9000", "value": "7.985"}]
    path = write_folder(folder, readings=rows, engines=[facts])
    made = forecast(read(path, run_date=dt.date(2026, 1, 1)))
    return engine_sheet(cut_by_engine(made)[0], "x.html", "1").shaft


@pytest.mark.parametrize(
    ("numbered_from", "ends"),
    [("free_end", ("free end", "flywheel end")), ("flywheel", ("flywheel end", "free end"))],
)
def test_no_1_stands_at_the_left_and_both_ends_are_named(
    write_folder: Callable[..., Path], tmp_path: Path, numbered_from: str, ends: tuple[str, str]
) -> None:
    tree = drawn(engine_of(write_folder, tmp_path / "one", numbered_from=numbered_from))
    named = [said for _, said in texts(tree, "end")]
    assert tuple(named) == ends
    mains = [said for _, said in texts(tree, "name") if said.startswith("main")]
    assert mains == [f"main {k}" for k in range(1, 8)]
    throws = [said for _, said in texts(tree, "quiet") if said.startswith("throw")]
    assert throws == [f"throw {k}" for k in range(1, 7)]


def test_each_throw_stands_between_its_mains(shafts: dict[str, ShaftView]) -> None:
    tree = drawn(shafts["Alder"])
    main = {said: x for x, said in texts(tree, "name") if said.startswith("main")}
    throw = {said: x for x, said in texts(tree, "quiet") if said.startswith("throw")}
    for k in range(1, 7):
        assert throw[f"throw {k}"] == pytest.approx((main[f"main {k}"] + main[f"main {k + 1}"]) / 2, abs=0.2)


def test_an_outboard_main_has_no_throw() -> None:
    line = line_of({"mains": 8.0, "throws": 6.0, "first_main": 0.0, "numbered_from": "flywheel"}, ())
    assert line.mains == tuple(range(8))
    assert [line.left_of(throw) for throw in line.throws] == [1, 2, 3, 4, 5, 6]


def test_a_line_is_drawn_from_what_was_read_where_the_engine_does_not_say() -> None:
    line = line_of({"numbered_from": "free_end"}, [Spot("big_end", "3A"), Spot("main", "2")])
    assert line.mains == (1, 2, 3, 4)
    assert line.throws == (3,)
    assert line_of({}, [Spot("camshaft", "1")]).mains == ()


def test_places_never_read_are_drawn_empty(shafts: dict[str, ShaftView]) -> None:
    tree = drawn(shafts["Alder"])
    links = [one.get("href") for one in tree.iter("a")]
    # Two walls, a clearance, the thrust, and a throw whose deflections are too few for a row of their own.
    assert links == ["#main-3", "#main-6", "#main-3", "#thrust-7", "#throw-2"]
    empty = [one for one in tree.iter("rect") if one.get("class") == "empty"]
    assert len(empty) == 5 + 6 + 6  # mains but 3 and 6, all big ends; clearances but that of main 3
    shells = [one.get("class") for one in tree.iter("path") if (one.get("class") or "").startswith("shell")]
    # Seven mains of which 3 and 6 were read, six big ends never, and the thrust, which was.
    assert (
        shells
        == ["shell never", "shell never", "shell", "shell never", "shell never", "shell"]
        + ["shell never"] * 7
    )
    assert "Never read and drawn empty: main 1" in shafts["Alder"].finding


def test_the_thrust_stands_where_the_engine_says(write_folder: Callable[..., Path], tmp_path: Path) -> None:
    tree = drawn(engine_of(write_folder, tmp_path / "one", thrust_at="4"))
    main = {said: x for x, said in texts(tree, "name")}
    assert [(x, said) for x, said in texts(tree, "quiet") if said == "thrust"] == [(main["main 4"], "thrust")]


def test_every_small_trend_leads_to_its_section_and_says_what_it_shows(
    fleet: Forecast, shafts: dict[str, ShaftView]
) -> None:
    tree = drawn(shafts["Alder"])
    by_row = {int(one.get("data-row", "-1")): one for one in tree.iter("g") if one.get("data-row")}
    assert by_row
    for number, group in by_row.items():
        row = fleet.table.iloc[number]
        link = group.find("a")
        assert link is not None
        assert row["statement"] in (link.get("aria-label") or "")
        on = [one.text for one in group.iter("tspan") if one.get("data-fact") == "date_p10"]
        assert on == ([] if row["statement"] == "damage noted" else [str(row["date_p10"])])


def test_no_shape_tells_a_statement(shafts: dict[str, ShaftView]) -> None:
    """Whatever is said of a place, its drawing is made of the same few shapes."""
    known = {
        "frame", "empty", "hatch", "limit", "fan", "way", "new", "asof", "ahead", "read", "past", "doubt", "leader",
        "steel", "steel-edge", "axis", "shell", "shell never", "zero", "line-1", "line-2", "dots-1", "open-1",
        "mark-1", "mark-2",
    }  # fmt: skip
    for shaft in shafts.values():
        if shaft.drawing is not None:
            shapes = [one for one in drawn(shaft).iter() if one.tag in ("path", "rect", "circle")]
            assert {one.get("class") for one in shapes} <= known
            assert not any(one.get("fill") or one.get("stroke") for one in shapes)


def test_text_of_users_is_text_in_the_drawing(shafts: dict[str, ShaftView]) -> None:
    for shaft in shafts.values():
        assert shaft.drawing is not None
        assert "<script" not in shaft.drawing
        drawn(shaft)


def test_banks_of_a_vee_engine_stand_in_rows_of_their_own(
    write_folder: Callable[..., Path], tmp_path: Path
) -> None:
    at = {"bearing": "big_end", "half": "upper", "value": "7.985", "counter_h": "9000"}
    readings = [{**at, "position": f"{k}{bank}"} for k in (1, 2) for bank in "AB"]
    path = write_folder(
        tmp_path / "one",
        readings=readings,
        engines=[{"mains": "3", "throws": "2"}],
        limits=[{"bearing": "big_end", "half": "upper"}],
    )
    made = forecast(read(path, run_date=dt.date(2026, 1, 1)))
    tree = drawn(engine_sheet(cut_by_engine(made)[0], "x.html", "1").shaft)
    lanes = [said for _, said in texts(tree, "lane")]
    assert lanes == ["Big ends, bank A", "Big ends, bank B", "Mains"]
    named = [(said, x) for x, said in texts(tree, "name") if said.startswith("Big end")]
    places = dict(named)
    assert set(places) == {"Big end 1A", "Big end 1B", "Big end 2A", "Big end 2B"}
    assert places["Big end 1A"] == places["Big end 1B"] < places["Big end 2A"]
    shells = [one.get("class") for one in tree.iter("path") if (one.get("class") or "").startswith("shell")]
    assert shells == ["shell never"] * 3 + ["shell"] * 2


def test_a_place_that_is_read_always_stands_in_the_drawing(
    write_folder: Callable[..., Path], tmp_path: Path
) -> None:
    """One without a number, and a main of which the upper shell alone was read."""
    at = {"value": "7.985", "counter_h": "9000"}
    readings = [
        {**at, "position": "1"},
        {**at, "position": "2", "half": "upper"},
        {**at, "position": "outboard"},
    ]
    path = write_folder(
        tmp_path / "one",
        readings=readings,
        engines=[{"mains": "3", "throws": "2"}],
        limits=[{}, {"half": "upper"}],
    )
    made = forecast(read(path, run_date=dt.date(2026, 1, 1)))
    tree = drawn(engine_sheet(cut_by_engine(made)[0], "x.html", "1").shaft)
    links = [one.get("href") for one in tree.iter("a")]
    assert {"#main-1", "#main-2", "#main-outboard"} <= set(links)
    assert "Other places" in [said for _, said in texts(tree, "lane")]
