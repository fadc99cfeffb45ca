"""The door for notebooks: what is shown, accepted and refused."""

from __future__ import annotations

import pydoc
import re
from datetime import date, datetime
from pathlib import Path

import pytest
from demo_results import RUN, SAMPLE, demo_compared, demo_forecast, demo_ordered, demo_planned, demo_records

import wearcast
from wearcast.clock import day_of


@pytest.fixture(scope="module")
def results():
    return {
        "records": demo_records(), "forecast": demo_forecast(), "plan": demo_planned(), "order": demo_ordered(),
        "comparison": demo_compared(),
    }  # fmt: skip


@pytest.mark.parametrize("name", ["records", "forecast", "plan", "order", "comparison"])
def test_a_result_shows_itself_in_a_line_and_a_short_table(results, name) -> None:
    told, page = repr(results[name]), results[name]._repr_html_()
    assert len(told) < 250
    assert "\n" not in told
    assert len(page) < 20_000
    assert page.count("<tr") <= 22
    assert "<td>" in page


def test_the_line_says_what_matters_first(results) -> None:
    table = results["forecast"].table
    first = table.loc[table["date_p10"].dropna().sort_values(kind="stable").index[0]]
    assert f"{first['date_p10']}, {first['vessel']} {first['engine']}" in repr(results["forecast"])
    assert f"{len(results['plan'].planned)} openings" in repr(results["plan"])
    assert f"{len(results['comparison'].out_of_line)} out of line" in repr(results["comparison"])


def test_names_of_others_are_escaped(record_folder) -> None:
    folder = record_folder(readings=[{"vessel": "<b>x"}], engines=[{"vessel": "<b>x"}])
    shown = wearcast.forecast(folder)._repr_html_()
    assert "<b>x" not in shown
    assert "&lt;b&gt;x" in shown


def test_what_there_is_is_listed_before_it_is_imported() -> None:
    assert set(wearcast.__all__) <= set(dir(wearcast))
    text = pydoc.render_doc(wearcast, renderer=pydoc.plaintext)
    for name in set(wearcast.__all__) - {"__version__"}:
        assert re.search(rf"\b{name}\b", text), name


def test_a_path_and_a_written_date_do_for_records_and_date(results) -> None:
    made = wearcast.forecast(str(SAMPLE), "2026-12-01")
    assert set(made.table["as_of_date"]) == {date(2026, 12, 1)}
    assert wearcast.read(SAMPLE, "2026-11-01").run_date == RUN
    assert len(wearcast.compare(Path(SAMPLE)).rows) == len(results["comparison"].rows)


@pytest.mark.parametrize("wrong", [3, None, {"readings": []}, ["sample_data"]])
def test_anything_else_in_place_of_records_is_refused_in_words(wrong) -> None:
    with pytest.raises(wearcast.WrongUse, match="give a path"):
        wearcast.forecast(wrong)


@pytest.mark.parametrize("wrong", ["yesterday", "2026-13-01", 20261101, "01.11.2026"])
def test_what_is_no_date_is_refused_in_words(wrong) -> None:
    with pytest.raises(wearcast.WrongUse, match="is no date"):
        wearcast.read(SAMPLE, wrong)


def test_a_moment_stands_for_its_day() -> None:
    assert day_of(datetime(2026, 11, 1, 23, 59)) == RUN
    assert wearcast.WhatIf(as_of="2027-01-01") == wearcast.WhatIf(as_of=date(2027, 1, 1))
    assert wearcast.MovedWindow("", "2027-01-01", "2027-02-01").new == date(2027, 2, 1)


def test_a_plotted_trend_holds_the_readings_of_the_place(results) -> None:
    made = results["forecast"]
    drawn = made.plot("Merrow Dain", "ME", "main", "5", "lower", "wall")
    table = made.history.readings
    here = table.query(
        "vessel == 'Merrow Dain' and bearing == 'main' and position == '5' and half == 'lower'"
    )
    here = here[(here["quantity"] == "wall")]
    marked = sum(len(trace.x) for trace in drawn.data if isinstance(trace.marker.symbol, tuple))
    assert marked == len(here)
    assert "Merrow Dain ME" in drawn.layout.title.text


def test_the_likeliest_chart_of_a_place_comes_first(results) -> None:
    made = results["forecast"]
    here = made.table.query("vessel == 'Merrow Dain' and bearing == 'main' and position == '5'")
    first = here.loc[here["p_limit_before_next_window"].idxmax()]
    title = made.plot("Merrow Dain", "ME", "main", 5).layout.title.text
    assert (first["half"] or first["quantity"]) in title


def test_the_shaft_stands_alone_and_a_place_not_there_is_named(results) -> None:
    made = results["forecast"]
    shown = made.shaft("Merrow Dain", "ME")._repr_html_()
    assert "<svg" in shown
    assert 'id="hatch"' in shown
    assert "--series-1: #" in shown
    for call in (
        lambda: made.plot("Merrow Dain", "ME", "main", "99"),
        lambda: made.plot("Nobody", "ME", "main", "1"),
    ):
        with pytest.raises(wearcast.WrongUse, match=r"[Tt]here are"):
            call()
    with pytest.raises(wearcast.WrongUse, match="there are Ossel Brae ME"):
        made.shaft("Nobody", "ME")
