"""A Chromium of the machine, the report of the demo built once for all workers, and pages that tell what they do.

Without a Chromium these tests are skipped and say so; where ``WEARCAST_CI`` is 1 they fail instead, for there they
were to run.
"""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import pytest

from wearcast.cli.pdf import find_chromium
from wearcast.errors import OutputFailed

ROOT = Path(__file__).parents[2]
RUN_STAMP = "1795564800"  # 2026-11-25: the demo and the wide fleet are read on that day
VIOLATIONS = """
window.violations = [];
document.addEventListener("securitypolicyviolation", (event) =>
  window.violations.push(`${event.violatedDirective}: ${event.blockedURI}`));
"""


def without(what: str) -> NoReturn:
    """Skip, or fail where these tests were to run."""
    if os.environ.get("WEARCAST_CI") == "1":
        pytest.fail(f"{what}; with WEARCAST_CI=1 the browser tests must run", pytrace=False)
    pytest.skip(what)


@pytest.fixture(scope="session")
def pdftotext() -> None:
    """Of poppler: what the words of printed sheets are read with."""
    if shutil.which("pdftotext") is None:
        without("pdftotext (poppler) is not installed")


@pytest.fixture(scope="session")
def chromium() -> str:
    """The program that the pages are opened with."""
    try:
        return find_chromium()
    except OutputFailed as none:
        without(str(none))


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Any]:
    """A headless browser for all tests of a worker."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        without("Playwright is not installed")
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        opened = playwright.chromium.launch(executable_path=chromium, args=arguments)
        yield opened
        opened.close()


@dataclass
class Opened:
    """An open page, and what it said and asked for."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Opened]]:
    """``open_page(path, width=1280, dark=False, fragment="", **context)`` opens a page with the network off."""
    contexts = []

    def open_(
        path: Path, width: int = 1280, height: int = 900, dark: bool = False, fragment: str = "", **more: Any
    ) -> Opened:
        context = browser.new_context(
            offline=True,
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            **more,
        )
        contexts.append(context)
        context.add_init_script(VIOLATIONS)
        opened = Opened(context.new_page())
        opened.page.on("console", lambda message: opened.said.append(f"{message.type}: {message.text}"))
        opened.page.on("pageerror", lambda error: opened.said.append(f"error: {error}"))
        opened.page.on("request", lambda request: opened.asked.append(request.url))
        opened.page.goto(path.resolve().as_uri() + fragment)
        return opened

    yield open_
    for context in contexts:
        context.close()


def built_once(base: Path, name: str, build: Callable[[Path], None]) -> Path:
    """A folder that the first worker to ask builds and the others wait for."""
    done, failed = base / name, base / f"{name}.failed"
    try:
        (base / f"{name}.begun").mkdir()
    except FileExistsError:
        until = time.monotonic() + 900
        while not done.exists():
            assert not failed.exists(), f"{name} could not be built by another worker"
            assert time.monotonic() < until, f"{name} was not built in time by another worker"
            time.sleep(0.2)
        return done
    try:
        build(base / f"{name}.part")
    except BaseException:
        failed.touch()
        raise
    (base / f"{name}.part").rename(done)
    return done


@pytest.fixture(scope="session")
def shared_base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all workers of one run share."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base


def _reported(records: Path, out: Path, *more: str) -> None:
    from typer.testing import CliRunner

    from wearcast.cli.main import app

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", RUN_STAMP)
        done = CliRunner().invoke(app, ["report", str(records), "--out", str(out), "--quiet", *more])
    assert done.exit_code == 0, done.output


@pytest.fixture(scope="session")
def demo_report(chromium: str, shared_base: Path) -> Path:
    """The report of the demo record set, whole, as the README makes it."""
    return built_once(shared_base, "demo-report", lambda out: _reported(ROOT / "sample_data", out))


@pytest.fixture(scope="session")
def wide_report(chromium: str, shared_base: Path) -> Path:
    """The report of two engines with 14 positions each."""
    from wide_fleet import write_wide_fleet

    def build(out: Path) -> None:
        _reported(write_wide_fleet(shared_base / "wide-records", 2), out, "--no-backtest")

    return built_once(shared_base, "wide-report", build)


@pytest.fixture(scope="session")
def engine_sheet(demo_report: Path) -> Path:
    """The page of one engine of the demo."""
    return demo_report / "merrow-dain-me.html"


@pytest.fixture(scope="session")
def fleet_sheet(demo_report: Path) -> Path:
    """The index of the demo."""
    return demo_report / "index.html"
