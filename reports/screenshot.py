"""Shoot the shaft line of the example for the README: `python reports/screenshot.py CHROMIUM`."""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

EXAMPLE = Path(__file__).parent / "example"

with sync_playwright() as play:
    browser = play.chromium.launch(executable_path=sys.argv[1], args=["--no-sandbox", "--disable-gpu"])
    page = browser.new_page(viewport={"width": 1124, "height": 1000}, color_scheme="light")
    page.goto((EXAMPLE / "merrow-dain-me.html").as_uri())
    page.locator(".drawing").first.screenshot(path=EXAMPLE / "shaft-line.png")
    browser.close()
