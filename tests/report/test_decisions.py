"""Plan, order list and sisters as tables of the index: the same words as the commands print."""

from __future__ import annotations

import pytest
from demo_results import demo_compared, demo_ordered, demo_planned

from wearcast.report.decisions import decision_tables


@pytest.fixture(scope="module")
def tables():
    made = decision_tables(demo_planned(), demo_ordered(), demo_compared())
    return {table.anchor: table for table in made}


def test_every_row_has_a_cell_under_every_head(tables) -> None:
    assert list(tables) == ["plan", "order", "sisters"]
    for table in tables.values():
        assert table.rows
        assert {len(row) for row in table.rows} == {len(table.heads)}


def test_the_place_near_its_limit_is_opened_before_its_window(tables) -> None:
    """Ossel Brae big end 2: a window before and one after the likely date."""
    rows = [row for row in tables["plan"].rows if row[0] == "Ossel Brae ME" and row[2] == "big end 2"]
    assert rows[0][1].startswith("2027-03-15")
    assert rows[0][3] == "open"


def test_the_undersize_shell_is_ordered_now(tables) -> None:
    """Tarn Ivelle main 6 runs on a journal ground to U50; the store holds standard shells only."""
    (row,) = [row for row in tables["order"].rows if row[0] == "main lower U50"]
    assert row[5] == "1"
    assert row[6] == "order now"
    assert any("count zero here" in cell for cell in row)


def test_one_place_alone_is_out_of_line(tables) -> None:
    named = [row[:2] for row in tables["sisters"].rows if row[4] == "out of line"]
    assert named == [("Merrow Dain ME", "main 5 lower")]
