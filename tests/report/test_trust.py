"""The backtest on the index: figures as the backtest words them, and nothing where there is none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wearcast.backtesting.run import Backtest, backtest_of
from wearcast.backtesting.words import figure_tables, more_worn, verdict
from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.sheets import render
from wearcast.report.trust import trust_section

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"


@pytest.fixture(scope="module")
def tested() -> Backtest:
    return backtest_of(forecast(read(LINERS)))


def test_every_figure_stands_in_the_section(tested: Backtest) -> None:
    section = trust_section(tested)
    assert section.verdict == verdict(tested)
    assert len(section.tables) == 3  # two runs and the classes
    for run, table in ((1, section.tables[0]), (2, section.tables[1])):
        lines = [line for group in figure_tables(tested, run) for line in group.lines]
        shown = [row for row in table.rows if not row.heading]
        assert [row.label.casefold() for row in shown[:-1]] == [line.label.casefold() for line in lines]
        assert [row.cells[0] for row in shown[:-1]] == [line.expected for line in lines]
        assert all(len(row.cells) == len(table.heads) for row in shown)


def test_the_index_says_it_before_the_positions_and_gives_the_figures_beneath(tested: Backtest) -> None:
    pages = render(tested.forecast, "1", backtest=tested)
    index = pages["index.html"]
    assert index.index('id="trust"') < index.index('id="all-positions"') < index.index('id="behind"')
    assert verdict(tested).split(":")[0] in index
    assert more_worn(tested).startswith("On the unsafe side")
    assert more_worn(tested) in index
    without = render(tested.forecast, "1")
    assert 'id="trust"' not in without["index.html"]
    assert {name: page for name, page in pages.items() if name != "index.html"} == {
        name: page for name, page in without.items() if name != "index.html"
    }


def test_where_nothing_can_be_scored_the_section_says_so(
    tmp_path: Path, write_folder: Callable[..., Path]
) -> None:
    one: Forecast = forecast(read(write_folder(tmp_path / "one")))
    section = trust_section(backtest_of(one))
    assert "Nothing could be scored" in section.verdict
    assert section.tables == section.notes == ()
    assert "Nothing could be scored" in render(one, "1", backtest=backtest_of(one))["index.html"]
