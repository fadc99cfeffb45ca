"""Pages within reach: of narrow and wide screens, of a keyboard, and of what a program can check of WCAG 2.2."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.mark.parametrize("width", [360, 1280, 1920])
@pytest.mark.parametrize("name", ["index.html", "merrow-dain-me.html"])
def test_no_page_is_wider_than_its_screen(
    name: str, width: int, demo_report: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(demo_report / name, width=width, fragment="" if name == "index.html" else "#main-5")
    wide = opened.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    outside = opened.page.evaluate(
        """() => [...document.querySelectorAll("body *")].filter((one) => {
          const box = one.getBoundingClientRect();
          return box.right > innerWidth + 1 && box.width > 0 && !one.closest(".wide, svg, .along, .shaft, .trend")
            && getComputedStyle(one).position !== "absolute";
        }).map((one) => one.outerHTML.slice(0, 90)).slice(0, 5)"""
    )
    assert outside == []


@pytest.mark.parametrize(("width", "dark"), [(1280, False), (1280, True), (360, False), (1920, True)])
@pytest.mark.parametrize("name", ["index.html", "merrow-dain-me.html"])
def test_axe_finds_no_violation_of_level_a_or_aa(
    name: str, dark: bool, width: int, demo_report: Path, open_page: Callable[..., Any]
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    fragment = "#all-positions" if name == "index.html" else "#main-5"
    opened = open_page(demo_report / name, width=width, dark=dark, bypass_csp=True, fragment=fragment)
    options = {"runOnly": {"type": "tag", "values": LEVELS}, "resultTypes": ["violations"]}
    found = Axe().run(opened.page, options=options).response["violations"]
    told = [
        f"{one['id']}: {one['help']}: {node['target']} {node['html'][:120]}"
        for one in found
        for node in one["nodes"][:4]
    ]
    assert told == []


SCREEN = 900
SCREENS = {
    ("index.html", 1280): 6,
    ("index.html", 1920): 6,
    ("index.html", 360): 14,
    ("merrow-dain-me.html", 1280): 5,
}
"""Most screens of 900 px before anything is unfolded."""


@pytest.mark.parametrize(("name", "width"), list(SCREENS))
def test_a_page_is_a_few_screens_before_anything_is_unfolded(
    name: str, width: int, demo_report: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(demo_report / name, width=width).page
    assert page.evaluate("document.documentElement.scrollHeight") <= SCREENS[name, width] * SCREEN


def test_the_brief_stands_on_the_first_screen_and_leads_to_its_places(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(fleet_sheet).page
    assert page.locator("#brief").bounding_box()["y"] < SCREEN / 2
    page.locator(".brief a").first.click()
    page.locator("details.place[open]").wait_for(state="visible")


def test_on_a_telephone_the_drawing_shows_first_what_must_be_done_first(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    page = open_page(engine_sheet, width=360).page
    first = page.locator(".brief a[href^='#']").first.get_attribute("href")
    box = page.locator(f'svg.shaft a[href="{first}"]').first.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 360


REACHED = """() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const style = getComputedStyle(one);
  const box = one.getBoundingClientRect();
  return {
    index: [...document.querySelectorAll("*")].indexOf(one),
    seen: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0,
    what: one.outerHTML.slice(0, 80),
    inView: box.bottom > 0 && box.top < innerHeight,
  };
}"""

REACHABLE = """() => [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex='0']")]
  .filter((one) => !one.disabled && one.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }))
  .map((one) => [...document.querySelectorAll("*")].indexOf(one))"""


def test_tab_reaches_everything_in_the_order_of_the_page_and_shows_where_it_is(
    fleet_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(fleet_sheet)
    wanted = opened.page.evaluate(REACHABLE)
    assert len(wanted) > 10
    reached: list[int] = []
    for _ in range(len(wanted) + 5):
        opened.page.keyboard.press("Tab")
        at = opened.page.evaluate(REACHED)
        if at is None:
            break
        assert at["seen"], f"focus is not shown on {at['what']}"
        assert at["inView"], f"focus is out of sight on {at['what']}"
        reached.append(at["index"])
    assert set(wanted) <= set(reached)
    assert reached == sorted(reached)


def test_the_first_tab_leads_past_the_head_of_the_page(
    engine_sheet: Path, open_page: Callable[..., Any]
) -> None:
    opened = open_page(engine_sheet)
    opened.page.keyboard.press("Tab")
    opened.page.keyboard.press("Enter")
    assert opened.page.url.endswith("#content")


def test_a_table_is_sorted_by_keyboard_and_says_so(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    opened = open_page(fleet_sheet, fragment="#all-positions")  # which unfolds what it stands in
    head = opened.page.locator("table.forecast th[data-sort-by] button").first
    cell = "table.forecast tbody th"
    before = opened.page.locator(cell).all_text_contents()
    for said in ("ascending", "descending"):
        head.focus()
        opened.page.keyboard.press("Enter")
        assert opened.page.locator("table.forecast th[aria-sort]").get_attribute("aria-sort") == said
    after = opened.page.locator(cell).all_text_contents()
    assert after != before
    assert sorted(after) == sorted(before)


def test_rows_are_found_by_vessel_and_shown_again(fleet_sheet: Path, open_page: Callable[..., Any]) -> None:
    opened = open_page(fleet_sheet, fragment="#all-positions")
    rows = opened.page.locator(
        "table.forecast tbody[data-vessel]:visible, table.forecast tr[data-vessel]:visible"
    )
    everything = rows.count()
    form = opened.page.get_by_role("search")
    form.get_by_label("Vessel").select_option("Merrow Dain")
    assert rows.count() > 20 == everything  # all that match, not only the soonest
    assert {one.get_attribute("data-vessel") for one in rows.all()} == {"Merrow Dain"}
    form.get_by_role("button", name="Show all").click()
    assert rows.count() == opened.page.locator("table.forecast tr[data-vessel]").count()
