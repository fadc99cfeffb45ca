"""Pages on paper: A4, tagged, with bookmarks and page heads, whole drawings, nothing that only a screen can use."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from wearcast.cli.pdf import print_page
from wearcast.cli.report import PLACES_ON_PAPER

pytestmark = pytest.mark.browser

DAY = date(2026, 11, 25)
A4_PT = (595, 842)
PT_PER_MM = 72 / 25.4
MOST_SHEETS = 8
ENGINES = ("merrow-dain-me", "ossel-brae-me", "quillo-fen-me", "tarn-ivelle-me")


@pytest.fixture(scope="module")
def printer(
    chromium: str, demo_report: Path, tmp_path_factory: pytest.TempPathFactory
) -> Callable[..., Path]:
    """Pages of the demo as PDF, each printed once."""
    folder, made = tmp_path_factory.mktemp("pdf"), dict[str, Path]()

    def of(name: str, fragment: str = "") -> Path:
        pdf = folder / f"{name}{'-places' if fragment else ''}.pdf"
        if pdf.name not in made:
            print_page(chromium, demo_report / f"{name}.html", pdf, DAY, fragment)
            made[pdf.name] = pdf
        return made[pdf.name]

    return of


@pytest.fixture(scope="module")
def printed(printer: Callable[..., Path]) -> Path:
    return printer("merrow-dain-me")


@pytest.fixture(scope="module")
def reader(printed: Path) -> Any:
    from pypdf import PdfReader

    return PdfReader(printed)


def titles(outline: Any) -> Iterator[str]:
    for one in outline:
        if isinstance(one, list):
            yield from titles(one)
        else:
            yield one.title


Word = tuple[str, float, float, float, float]
"""Text, left, top, right and bottom [pt]."""


def words_of(pdf: Path) -> list[list[Word]]:
    """Words of every sheet, as poppler finds them."""
    done = subprocess.run(["pdftotext", "-bbox", pdf, "-"], capture_output=True, text=True, check=True)
    word = re.compile(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>')
    return [
        [(m[5], float(m[1]), float(m[2]), float(m[3]), float(m[4])) for m in word.finditer(sheet)]
        for sheet in done.stdout.split("<page ")[1:]
    ]


def filled(sheet: list[Word]) -> float:
    """Share of a sheet, between its head and its foot, that has words on it."""
    top, bottom = 16 * PT_PER_MM, A4_PT[1] - 15 * PT_PER_MM
    inside = [one[4] for one in sheet if top < one[2] and one[4] < bottom]
    return (max(inside, default=top) - top) / (bottom - top)


@pytest.mark.usefixtures("pdftotext")
def test_the_fleet_is_two_sheets_and_says_first_what_must_be_done(printer: Callable[..., Path]) -> None:
    sheets = words_of(printer("index"))
    assert len(sheets) == 2
    first, second = (" ".join(one[0] for one in sheet) for sheet in sheets)
    assert "What must be done first" in first
    for said in ("What to order", "Out of line", "Queries", "On the unsafe side", "Cautions"):
        assert said in first + second


@pytest.mark.usefixtures("pdftotext")
@pytest.mark.parametrize("name", ENGINES)
def test_an_engine_is_a_few_full_sheets_with_a_line_to_sign(name: str, printer: Callable[..., Path]) -> None:
    sheets = words_of(printer(name))
    assert len(sheets) <= MOST_SHEETS
    assert all(filled(sheet) > 0.5 for sheet in sheets[:-1])
    text = " ".join(one[0] for sheet in sheets for one in sheet)
    for said in (
        "What must be done first",
        "The shaft line",
        "Forecast, place by place",
        "Queries",
        "signature",
    ):
        assert said in text
    assert "One place at a time" not in text  # nothing stands under it


@pytest.mark.usefixtures("pdftotext")
def test_each_place_is_one_sheet_with_a_large_plot(printer: Callable[..., Path], demo_report: Path) -> None:
    page = (demo_report / "merrow-dain-me.html").read_text(encoding="utf-8")
    read = [place for place in page.split('<details class="place"')[1:] if "<figure" in place]
    sheets = words_of(printer("merrow-dain-me", PLACES_ON_PAPER))
    assert len(read) > 14
    assert len(sheets) == len(read)
    assert all(filled(sheet) > 0.5 for sheet in sheets[:-1])


@pytest.mark.usefixtures("pdftotext")
def test_words_on_the_sheet_of_a_place_are_legible_and_do_not_meet(printer: Callable[..., Path]) -> None:
    """A word of 7 pt is about 8 pt from its top to its foot as poppler measures it: 1.16 times its size."""
    for sheet in words_of(printer("merrow-dain-me", PLACES_ON_PAPER)):
        body = [one for one in sheet if 16 * PT_PER_MM < one[2] < A4_PT[1] - 15 * PT_PER_MM]
        flat = [one for one in body if one[3] - one[1] >= one[4] - one[2] and len(one[0]) > 2]
        assert min(one[4] - one[2] for one in flat) >= 1.16 * 7 - 0.4
        for k, one in enumerate(flat):
            for other in flat[k + 1 :]:
                across = min(one[3], other[3]) - max(one[1], other[1])
                down = min(one[4], other[4]) - max(one[2], other[2])
                assert across < 1.5 or down < 2.5, (one, other)


def test_the_plot_on_the_sheet_of_a_place_is_60_mm_high_and_as_wide_as_it_can(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(engine_sheet, width=703, fragment=PLACES_ON_PAPER)  # between the margins of A4
    opened.page.emulate_media(media="print")
    boxes = opened.page.evaluate(
        """() => [...document.querySelectorAll(".plot")].map((plot) => plot.getBoundingClientRect())
          .filter((box) => box.width).map((box) => [box.width, box.height])"""
    )
    assert len(boxes) > 14
    assert all(height >= 60 * 96 / 25.4 for _, height in boxes)
    assert all(width > 0.75 * 703 for width, _ in boxes)


@pytest.mark.usefixtures("pdftotext")
@pytest.mark.parametrize("name", ["index", *ENGINES])
def test_no_heading_stands_alone_at_the_foot_of_a_sheet(name: str, printer: Callable[..., Path]) -> None:
    for sheet in words_of(printer(name))[:-1]:
        inside = [one for one in sheet if one[4] < A4_PT[1] - 15 * PT_PER_MM]
        last = max(one[4] for one in inside)
        line = [one for one in inside if one[4] > last - 3]
        assert max(one[4] - one[2] for one in line) < 12.5, line  # headings are larger


def test_every_page_is_a4_and_the_file_is_tagged(reader: Any) -> None:
    for page in reader.pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(A4_PT, abs=1)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"


def test_bookmarks_lead_to_every_section(reader: Any) -> None:
    found = list(titles(reader.outline))
    assert found[0].startswith("Merrow Dain ME")
    for wanted in (
        "What must be done first",
        "The shaft line",
        "Forecast, place by place",
        "Queries",
        "Cautions",
    ):
        assert wanted in found


def test_every_page_says_what_it_is_of_as_of_when_and_which_it_is(reader: Any) -> None:
    pages = len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert "Merrow Dain ME (Bramble Six)" in text
        assert "as of 2026-09-28" in text
        assert f"page {number} of {pages}" in text
        assert "Readings suggest; they do not decide." in text


def test_the_file_is_dated_by_the_run(reader: Any) -> None:
    assert reader.metadata.creation_date.date() == DAY
    assert reader.metadata.modification_date.date() == DAY


def test_the_same_page_gives_the_same_bytes(
    chromium: str, demo_report: Path, printed: Path, tmp_path: Path
) -> None:
    again = tmp_path / "again.pdf"
    print_page(chromium, demo_report / "merrow-dain-me.html", again, DAY)
    assert again.read_bytes() == printed.read_bytes()


@pytest.mark.parametrize("name", ["index.html", "merrow-dain-me.html"])
def test_nothing_that_only_a_screen_can_use_is_printed(
    name: str, demo_report: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(demo_report / name)
    opened.page.emulate_media(media="print")
    shown = opened.page.evaluate(
        """() => [...document.querySelectorAll("button, input, select, textarea, form, .skip, noscript")]
          .filter((one) => one.getClientRects().length)
          .map((one) => one.outerHTML.slice(0, 80))"""
    )
    assert shown == []
