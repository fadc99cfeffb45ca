"""What the form shows: the engine as it was read before, ranges, limits, and nothing a spreadsheet would run."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import time
import zipfile
from typing import Any

import openpyxl
import pytest

from wearcast.errors import WrongUse
from wearcast.forecasting.run import Forecast
from wearcast.forms.asked import FormContent, _Lookup, form_content
from wearcast.forms.expected import ahead
from wearcast.forms.places import CLOSED, FOUND, RENEWED
from wearcast.forms.workbook import form_workbook


@pytest.fixture
def book(form: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(form))


def test_places_stand_along_the_shaft_and_parts_in_the_order_of_the_work(content: FormContent) -> None:
    found = [one for one in content.readings if one.part == FOUND]
    assert list(dict.fromkeys((one.bearing, one.position) for one in found)) == [
        ("main", "1"), ("main", "2"), ("main", "3"), ("thrust", "3"),
    ]  # fmt: skip
    first = [(one.quantity, one.half, one.point) for one in found if one.position == "1"]
    assert first == [
        ("wall", "upper", "crown"), ("wall", "upper", "p45"), ("wall", "lower", "crown"), ("wall", "lower", "p45"),
        ("clearance", "", ""),
    ]  # fmt: skip
    assert [one.part for one in content.readings] == sorted(
        (one.part for one in content.readings), key=[FOUND, CLOSED, RENEWED].index
    )


def test_closing_up_asks_for_clearances_and_deflections_as_left(content: FormContent) -> None:
    closed = {(one.bearing, one.quantity, one.state) for one in content.readings if one.part == CLOSED}
    assert closed == {
        ("main", "clearance", "as_left"), ("thrust", "axial_clearance", "as_left"),
        ("big_end", "web_deflection", "as_left"),
    }  # fmt: skip


def test_units_are_those_last_used(content: FormContent) -> None:
    assert {(one.quantity, one.unit) for one in content.readings} >= {
        ("wall", "mm"),
        ("web_deflection", "um"),
    }


def test_the_expected_range_lies_around_the_line_carried_on(content: FormContent) -> None:
    # The lower walls were planted at 7.992 - 0.006 mm per 10 000 h; the last reading is at 41 000 h, and three years
    # at 5000 h a year follow: 7.992 - 0.006 * 5.5 = 7.959 mm expected.
    assert content.far.hours_h == pytest.approx(5000 * 3.0, rel=0.01)
    lower = [
        one for one in content.readings
        if (one.part, one.quantity, one.half, one.point) == (FOUND, "wall", "lower", "crown")
    ]  # fmt: skip
    assert len(lower) == 3
    for one in lower:
        assert one.expected is not None
        middle = (one.expected.low_mm + one.expected.high_mm) / 2
        assert middle == pytest.approx(7.959, abs=0.004)
        # Three times what is stated of the gauge, on each side, before anything else that is not known.
        assert 6 * 0.002 < one.expected.high_mm - one.expected.low_mm < 0.08
        assert one.limit is not None
        assert one.limit.limit_mm == 7.95


def test_a_new_shell_is_expected_within_the_maker_s_range(content: FormContent) -> None:
    new = [
        one for one in content.readings if (one.part, one.quantity, one.point) == (RENEWED, "wall", "crown")
    ]
    assert {(one.expected.low_mm, one.expected.high_mm) for one in new if one.expected} == {(7.985, 8.0)}
    assert all(one.new for one in new)


def test_a_deflection_is_expected_where_it_was_last(content: FormContent) -> None:
    """12 um read, u = 8 um (common practice, no source), steps of 1 um: 3 √2 √(8² + 1/12) um a side."""
    (deflection,) = [one for one in content.readings if one.quantity == "web_deflection"]
    assert deflection.expected is not None
    reach_mm = 3 * (2 * (64 + 1 / 12)) ** 0.5 / 1000
    assert deflection.expected.low_mm == pytest.approx(0.012 - reach_mm)
    assert deflection.expected.high_mm == pytest.approx(0.012 + reach_mm)


def test_a_range_that_nothing_tells_is_not_made_up(content: FormContent, result: Forecast) -> None:
    known = _Lookup.of(result.history, content.engine.key, {}, {})
    (deflection,) = [one for one in content.readings if one.quantity == "web_deflection"]
    assert known.with_expected(deflection).expected is None


def test_a_counter_given_carries_the_forecast_to_it(result: Forecast, content: FormContent) -> None:
    vessel = content.engine.vessel
    soon = form_content(result, vessel, "1", dt.date(2026, 3, 1), counter_h=41_000.0)
    late = form_content(result, vessel, "1", dt.date(2026, 3, 1), counter_h=61_000.0)
    for near, far in zip(soon.readings, late.readings, strict=True):
        if (near.part, near.quantity) == (FOUND, "wall"):
            assert near.expected is not None
            assert far.expected is not None
            assert near.expected.low_mm > far.expected.low_mm


@pytest.mark.parametrize(
    ("vessel", "opening", "counter_h", "words"),
    [
        ("Brich", "2026-03-01", None, "Did you mean Birch?"),
        ("Birch", "2019-03-01", None, "the last counter reading of Birch 1 is of 2023-03-01"),
        ("Birch", "2026-03-01", 40_000.0, "the dial stood at 41000 on 2023-03-01; expected no less"),
    ],
)
def test_an_engine_or_opening_that_cannot_be_is_refused(
    result: Forecast, vessel: str, opening: str, counter_h: float | None, words: str
) -> None:
    with pytest.raises(WrongUse) as refused:
        form_content(result, vessel, "1", dt.date.fromisoformat(opening), counter_h)
    assert words in str(refused.value)


def test_without_known_use_the_range_stands_at_the_last_counter(result: Forecast) -> None:
    engine = next(iter(result.history.engines.values()))
    unknown = dataclasses.replace(engine, use=dataclasses.replace(engine.use, hours_per_year=float("nan")))
    far = ahead(unknown, dt.date(2026, 3, 1))
    assert far.hours_h == 0.0
    assert "yearly use is not known" in far.said


def test_no_text_of_the_records_is_a_formula(form: bytes, book: Any) -> None:
    formulas = [
        cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"
    ]
    assert formulas
    assert all(words.startswith(("=IF(ISBLANK(E", "=IF(AND(OR(D")) for words in formulas)
    assert book["Opening"]["C3"].value.startswith("=HYPERLINK")
    assert book["Opening"]["C3"].data_type == "s"
    assert book["Opening"]["C3"].quotePrefix
    with zipfile.ZipFile(io.BytesIO(form)) as archive:
        parts = b"".join(archive.read(name) for name in archive.namelist())
    assert b"<hyperlink" not in parts
    assert b"externalLink" not in parts


def test_only_the_cells_to_fill_in_are_unlocked(book: Any) -> None:
    unlocked = {
        sheet.title: {
            cell.column_letter for row in sheet.iter_rows() for cell in row if not cell.protection.locked
        }
        for sheet in book
    }
    assert unlocked == {
        "Opening": {"C"}, "Readings": {"E", "L", "M", "N"}, "Shells": {"D", "E", "G", "H"}, "lists": set(),
        "form facts": set(),
    }  # fmt: skip
    for sheet in ("Opening", "Readings", "Shells", "form facts"):
        assert book[sheet].protection.sheet
        assert not book[sheet].protection.password
    assert {book[name].sheet_state for name in ("lists", "form facts")} == {"hidden"}


def test_every_value_has_a_rule_and_a_message_in_words(content: FormContent, book: Any) -> None:
    sheet = book["Readings"]
    rules = [rule for rule in sheet.data_validations.dataValidation if rule.type == "decimal"]
    cells = [f"E{row}" for row in range(3, sheet.max_row + 1) if not sheet[f"E{row}"].protection.locked]
    assert len(cells) == len(content.readings)
    for place in cells:
        (rule,) = [rule for rule in rules if place in rule.sqref]
        assert rule.showErrorMessage
        assert "a number" in rule.error
    (wall,) = [rule for rule in rules if rule.error.startswith("Wall thickness in mm")]
    assert float(wall.formula2) < 7982


def test_paper_is_a4_with_titles_and_page_numbers(book: Any) -> None:
    for name in ("Opening", "Readings", "Shells"):
        sheet = book[name]
        assert sheet.page_setup.paperSize == 9
        assert sheet.oddFooter.right.text == "page &P of &N"
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert book["Readings"].print_title_rows == "$1:$2"


def test_what_was_read_last_stands_beside_each_box_and_is_never_made_up(
    content: FormContent, book: Any
) -> None:
    first = next(one for one in content.readings if (one.position, one.half) == ("1", "lower"))
    assert first.last == "7.968 mm, 2023-03-01"
    assert {one.last for one in content.readings if one.part == RENEWED} == {""}
    shown = {cell.value for cell in book["Readings"]["G"]}
    assert first.last in shown
    assert "never" in shown


def test_rows_to_write_in_are_8_mm_on_paper_and_every_sheet_has_its_head(book: Any) -> None:
    """Fitted to the width of A4 less its margins of 0.45 in; a character is 7 px wide at 96 px an inch."""
    for name, turned in (("Readings", True), ("Shells", True)):
        sheet = book[name]
        wide_in = sum(one.width * 7 + 5 for one in sheet.column_dimensions.values()) / 96
        scale = min(1.0, ((297 if turned else 210) / 25.4 - 0.9) / wide_in)
        row = max(sheet.row_dimensions)
        assert sheet.row_dimensions[row].height * scale / 72 * 25.4 >= 8
        assert "Alder & Sons" in sheet["A1"].value
        assert "2026-03-01" in sheet["A1"].value
        assert "initials" in {cell.value for cell in sheet[1]}


def test_points_are_in_words(content: FormContent, book: Any) -> None:
    assert any(one.point == "p45" for one in content.readings)
    points = {cell.value for cell in book["Readings"]["C"]}
    assert "45° port" in points
    assert not any("_" in str(point) or point == "p45" for point in points)


def test_without_ranges_nothing_says_what_is_expected(content: FormContent) -> None:
    sheet = openpyxl.load_workbook(io.BytesIO(form_workbook(content.without_ranges(), dt.date(2026, 1, 1))))[
        "Readings"
    ]
    told = [cell.value for column in "HI" for cell in sheet[column][2:]]
    assert set(told) == {None}
    assert not any("Outside" in str(cell.value) for cell in sheet["K"])
    assert any("limit" in str(cell.value) for cell in sheet["K"])
    assert any("mm, 2023-03-01" in str(cell.value) for cell in sheet["G"])


def test_no_colour_stands_for_a_verdict(book: Any) -> None:
    for sheet in book:
        assert not len(sheet.conditional_formatting)
        assert {cell.fill.fill_type for row in sheet.iter_rows() for cell in row} == {None}


def test_the_same_content_gives_the_same_bytes_at_any_time(content: FormContent, form: bytes) -> None:
    time.sleep(2.1)  # archives keep time in steps of two seconds
    assert form_workbook(content, dt.date(2026, 1, 1)) == form
    assert form_workbook(content, dt.date(2026, 1, 2)) != form
