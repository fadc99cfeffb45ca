"""Pages open without a network, say nothing on the console, and are quick: what the report promises of itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser


def test_no_page_asks_for_anything_or_complains(demo_report: Path, open_page: Callable[..., Any]) -> None:
    for path in sorted(demo_report.glob("*.html")):
        opened = open_page(path)
        for summary in opened.page.locator("summary:visible").all()[:12]:
            summary.click()
        assert opened.said == [], path.name
        assert opened.asked == [path.resolve().as_uri()], path.name
        assert opened.page.evaluate("window.violations") == [], path.name


def test_the_policy_stops_a_script_that_is_not_ours(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(engine_sheet)
    opened.page.evaluate(
        """() => {
          const script = document.createElement("script");
          script.textContent = "window.smuggled = true";
          document.head.append(script);
          const image = document.createElement("img");
          image.src = "https://example.invalid/a.png";
          document.body.append(image);
        }"""
    )
    opened.page.wait_for_timeout(100)
    assert opened.page.evaluate("window.smuggled") is None
    stopped = {one.split(":")[0] for one in opened.page.evaluate("window.violations")}
    assert stopped == {"script-src-elem", "img-src"}


def test_a_place_asked_for_by_its_address_is_shown_alone(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(engine_sheet, fragment="#main-5")
    page = opened.page
    shown = page.locator("details.place:visible")
    assert shown.count() == 1
    assert page.locator("#main-5").is_visible()
    assert page.locator("#main-5 .trend").count() >= 3
    assert page.locator('.along [aria-current="true"]').inner_text() == "Main 5"
    page.locator("#main-5 .steps [rel=next]").click()
    assert page.url.endswith("#throw-5")
    assert not page.locator("#main-5").is_visible()
    page.locator("#throw-5 .steps a").first.focus()
    page.keyboard.press("ArrowLeft")
    assert page.locator("#main-5").is_visible()
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    assert opened.said == []


@pytest.mark.parametrize("of", ["svg.shaft a", "table.list tbody th a"])
def test_a_place_is_chosen_in_the_drawing_and_in_the_list(
    of: str, engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet).page
    assert page.locator("details.place:visible").count() == 0
    link = page.locator(of).locator("visible=true").first
    anchor = link.get_attribute("href")
    link.focus()
    page.keyboard.press("Enter")
    assert page.locator(anchor).is_visible()
    assert page.locator(anchor).evaluate("one => one.getBoundingClientRect().top") < 300


def test_a_chart_is_looked_into(engine_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(engine_sheet, fragment="#main-5").page
    chart = page.locator("#main-5 .trend").nth(1)
    bar = page.locator("#main-5 .looking").nth(1)
    in_view = """chart => {
      const box = chart.querySelector(".plot").getBoundingClientRect();
      return [...chart.querySelectorAll(".dot")].filter((dot) => {
        const at = dot.getBoundingClientRect();
        return at.x > box.x && at.right < box.right;
      }).length;
    }"""
    before = chart.evaluate(in_view)
    bar.get_by_role("button", name="All hours").click()
    assert chart.evaluate(in_view) > before  # lives before
    bar.get_by_role("button", name="As at first").click()
    assert chart.evaluate(in_view) == before
    bar.get_by_role("button", name="Closer").click()
    assert chart.evaluate(in_view) < before
    bar.get_by_role("button", name="As at first").click()
    dot = chart.locator(".dot:not(.past, .now)").last
    dot.scroll_into_view_if_needed()
    box = dot.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    said = chart.locator(".pointed").inner_text()
    assert "mm" in said
    assert "75\u202f160 h" in said
    assert "micrometer" in said


def test_readings_and_words_of_a_chart_stand_on_its_lines(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    """Points are placed by shares and lines stretched: the upright of as-of and the estimate must meet."""
    page = open_page(engine_sheet, fragment="#main-5").page
    off = page.evaluate(
        """() => [...document.querySelectorAll("#main-5 .trend")].map((chart) => {
          const line = chart.querySelector(".layer .asof").getBoundingClientRect();
          const dot = chart.querySelector(".dot.now").getBoundingClientRect();
          return Math.abs((line.x + line.width / 2) - (dot.x + dot.width / 2));
        })"""
    )
    assert max(off) < 1.5


def test_charts_follow_the_scheme_of_the_screen(engine_sheet: Path, open_page: Callable[..., Any]) -> None:
    page = open_page(engine_sheet, fragment="#main-5").page
    inks = """() => [".plot", ".dot"].map((one) => {
      const style = getComputedStyle(document.querySelector(`#main-5 ${one}`));
      return one === ".plot" ? style.backgroundColor : style.color;
    })"""
    light = page.evaluate(inks)
    page.emulate_media(color_scheme="dark")
    assert all(a != b for a, b in zip(light, page.evaluate(inks), strict=True))


def test_without_scripts_every_place_is_there_folded_with_its_charts(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet, java_script_enabled=False).page
    places = page.locator("details.place")
    assert places.count() > 14
    assert page.locator("details.place > summary:visible").count() == places.count()
    assert page.locator("table.list").is_visible()
    places.nth(0).locator("summary").first.click()
    assert places.nth(0).locator(".trend .dot").first.is_visible()
    assert places.nth(0).locator("table.readings").is_visible()


def test_without_scripts_the_address_of_a_place_unfolds_it(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet, fragment="#main-5", java_script_enabled=False).page
    assert page.locator("#main-5").is_visible()
    assert page.locator("details.place[open]").count() == 1
