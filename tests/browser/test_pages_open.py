"""Pages open without a network, say nothing on the console, and are quick: what the report promises of itself."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser


TIMES = """() => ({
  readable: performance.getEntriesByName("first-contentful-paint")[0].startTime,
  charts: document.querySelectorAll("[data-chart]").length,
})"""


def test_no_page_asks_for_anything_or_complains(demo_report: Path, open_page: Callable[..., Any]) -> None:
    for path in sorted(demo_report.glob("*.html")):
        opened = open_page(path)
        if opened.page.query_selector("[data-chart]"):
            opened.wait_until_drawn()
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


def test_a_sheet_of_14_positions_is_drawn_whole(wide_report: Path, open_page: Callable[..., Any]) -> None:
    """How long it takes belongs to a machine, and stands in the contributors' tables."""
    opened = open_page(wide_report / "vessel-01-me.html")
    opened.wait_until_drawn()
    times = opened.page.evaluate(TIMES)
    assert times["readable"] > 0
    assert times["charts"] >= 14


def test_a_chart_far_below_is_drawn_when_it_is_reached(
    wide_report: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(wide_report / "vessel-01-me.html")
    opened.page.evaluate(
        """() => {
          window.order = [];
          const seen = new MutationObserver((changes) => changes.forEach(({ target }) => {
            const chart = target.closest("[data-chart]");
            if (chart && !window.order.includes(chart.dataset.chart)) window.order.push(chart.dataset.chart);
          }));
          seen.observe(document.body, { childList: true, subtree: true });
          const charts = document.querySelectorAll("[data-chart]");
          window.last = charts[charts.length - 1].dataset.chart;
          charts[charts.length - 1].scrollIntoView();
        }"""
    )
    opened.wait_until_drawn()
    order, last = opened.page.evaluate("[window.order, window.last]")
    assert order.index(last) < len(order) / 2


def test_charts_follow_the_scheme_of_the_screen(engine_sheet: Path, open_page: Callable[..., Any]) -> None:
    opened = open_page(engine_sheet)
    opened.wait_until_drawn()
    paper = "() => getComputedStyle(document.querySelector('[data-chart] .main-svg')).backgroundColor"
    light = opened.page.evaluate(paper)
    opened.page.emulate_media(color_scheme="dark")
    for _ in range(300):
        if opened.page.evaluate(paper) != light:
            break
        opened.page.wait_for_timeout(100)
    assert opened.page.evaluate(paper) != light
    assert opened.said == []


def test_without_scripts_the_words_and_tables_stay(engine_sheet: Path, open_page: Callable[..., Any]) -> None:
    opened = open_page(engine_sheet, java_script_enabled=False)
    text = opened.page.inner_text("body")
    assert "The charts need scripts" in text
    assert opened.page.locator("figcaption").first.is_visible()
    assert opened.page.locator("table.readings").first.is_visible()
