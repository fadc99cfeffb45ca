"""Pages on paper: A4, tagged, with bookmarks and page heads, charts whole, nothing that only a screen can use."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from wearcast.cli.pdf import print_page

pytestmark = pytest.mark.browser

DAY = date(2026, 11, 25)
A4_PT = (595, 842)


@pytest.fixture(scope="module")
def printed(chromium: str, demo_report: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    pdf = tmp_path_factory.mktemp("pdf") / "sheet.pdf"
    print_page(chromium, demo_report / "merrow-dain-me.html", pdf, DAY)
    return pdf


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


def test_every_page_is_a4_and_the_file_is_tagged(reader: Any) -> None:
    for page in reader.pages:
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(A4_PT, abs=1)
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"


def test_bookmarks_lead_to_every_section_and_position(reader: Any) -> None:
    found = list(titles(reader.outline))
    assert found[0].startswith("Merrow Dain ME")
    for wanted in ("Main 1", "Main 7", "Thrust 7", "Queries", "Cautions", "Method in short"):
        assert wanted in found


def test_every_page_says_what_it_is_of_as_of_when_and_which_it_is(reader: Any) -> None:
    pages = len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        text = page.extract_text()
        assert "Merrow Dain ME (Bramble Six)" in text
        assert "as of 2026-09-28" in text
        assert f"page {number} of {pages}" in text
        assert "Readings suggest; they do not decide." in text


def test_every_chart_is_in_the_file(reader: Any, demo_report: Path) -> None:
    charts = (demo_report / "merrow-dain-me.html").read_text(encoding="utf-8").count('class="chart"')
    drawn = sum(page.extract_text().count("total h") for page in reader.pages)
    assert charts > 20
    assert drawn >= charts


def test_the_file_is_dated_by_the_run(reader: Any) -> None:
    assert reader.metadata.creation_date.date() == DAY
    assert reader.metadata.modification_date.date() == DAY


def test_the_same_page_gives_the_same_bytes(
    chromium: str, demo_report: Path, printed: Path, tmp_path: Path
) -> None:
    again = tmp_path / "again.pdf"
    print_page(chromium, demo_report / "merrow-dain-me.html", again, DAY)
    assert again.read_bytes() == printed.read_bytes()


def test_charts_are_drawn_whole_at_the_size_of_the_paper(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(engine_sheet, width=718)  # the printed width of A4 between the margins
    opened.page.emulate_media(media="print")
    opened.page.wait_for_timeout(200)
    opened.wait_until_drawn()
    boxes = opened.page.evaluate(
        """() => [...document.querySelectorAll("[data-chart]")].map((place) => {
          const outer = place.getBoundingClientRect();
          const inner = place.querySelector(".main-svg").getBoundingClientRect();
          return [place.dataset.chart, inner.right - outer.right, inner.bottom - outer.bottom, outer.right];
        })"""
    )
    assert len(boxes) > 20
    for name, beyond_right, beyond_bottom, right in boxes:
        assert beyond_right <= 1, name
        assert beyond_bottom <= 1, name
        assert right <= 719, name
    opened.page.emulate_media(media="screen")
    assert opened.said == []


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
