"""Pages printed to PDF by a Chromium that is on the machine: A4, tagged, with bookmarks."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from wearcast.errors import OutputFailed

VARIABLE = "WEARCAST_CHROMIUM"
"""Environment variable that names the program to print with."""

NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "chrome",
    "microsoft-edge-stable",
    "microsoft-edge",
    "msedge",
)
"""Programs of this family as they are called on a search path."""

PLACES = {
    "win32": (
        r"%ProgramFiles%\Google\Chrome\Application\chrome.exe",
        r"%ProgramFiles(x86)%\Google\Chrome\Application\chrome.exe",
        r"%LocalAppData%\Google\Chrome\Application\chrome.exe",
        r"%LocalAppData%\Chromium\Application\chrome.exe",
        r"%ProgramFiles(x86)%\Microsoft\Edge\Application\msedge.exe",
        r"%ProgramFiles%\Microsoft\Edge\Application\msedge.exe",
    ),
    "darwin": (
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    ),
}
"""Where they are installed on systems that put no programs on the search path."""

DRAWING_MS = 2_000
"""Time of the page's own clock before it is printed: for the scripts that unfold places."""

PATIENCE_S = 300.0
"""Longest time one page may take to print (judgement)."""

HOW_TO = (
    f"Install Chromium or a browser made from it, or name one in the environment variable {VARIABLE}; "
    "or leave out --pdf and print the pages from any browser."
)


def find_chromium() -> str:
    """The program to print with.

    Raises
    ------
    OutputFailed
        If there is none on this machine.
    """
    named = os.environ.get(VARIABLE, "")
    if named:
        found = shutil.which(named)
        if found is None:
            raise OutputFailed(f"{VARIABLE} is {named!r}: no program is there. Nothing was written. {HOW_TO}")
        return found
    for found in _candidates():
        return found
    raise OutputFailed(f"No Chromium was found to print the PDF with. Nothing was written. {HOW_TO}")


def _candidates() -> Iterator[str]:
    for name in NAMES:
        if (found := shutil.which(name)) is not None:
            yield found
    for place in PLACES.get(sys.platform, ()):
        path = os.path.expandvars(place)
        if Path(path).is_file():
            yield path


def print_page(chromium: str, page: Path, pdf: Path, on: date, fragment: str = "") -> None:
    """Print one page.

    Parameters
    ----------
    chromium : str
        From `find_chromium`.
    page, pdf : Path
        What is printed, and the file it becomes.
    on : date
        The date of the run, which the file is dated by: the same page gives the same bytes.
    fragment : str
        Of the address, where the page is to stand otherwise than at first.

    Raises
    ------
    OutputFailed
        If the program ends without a whole PDF.
    """
    with tempfile.TemporaryDirectory(prefix="wearcast.", ignore_cleanup_errors=True) as profile:
        command = [chromium, *_options(Path(profile), pdf), page.resolve().as_uri() + fragment]
        try:
            done = subprocess.run(
                command, capture_output=True, timeout=PATIENCE_S, check=False, stdin=subprocess.DEVNULL
            )
        except subprocess.TimeoutExpired:
            raise _failed(page, f"it took longer than {PATIENCE_S:.0f} s") from None
        except OSError as problem:
            raise _failed(page, f"{chromium}: {problem.strerror or problem}") from None
    content = pdf.read_bytes() if pdf.is_file() else b""
    if not content.startswith(b"%PDF-") or b"%%EOF" not in content[-64:]:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise _failed(page, said[-1] if said else f"the program ended with {done.returncode}")
    pdf.write_bytes(dated(content, on))


def _options(profile: Path, pdf: Path) -> list[str]:
    options = [
        "--headless",
        "--disable-gpu",
        "--disable-extensions",
        "--disable-background-networking",
        "--no-first-run",
        "--no-default-browser-check",
        "--hide-scrollbars",
        f"--user-data-dir={profile}",
        f"--virtual-time-budget={DRAWING_MS}",
        "--no-pdf-header-footer",
        "--export-tagged-pdf",
        "--generate-pdf-document-outline",
        f"--print-to-pdf={pdf.resolve()}",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--no-sandbox")  # it refuses to start for root with one; the page is our own
    return options


def dated(content: bytes, on: date) -> bytes:
    """The PDF dated by a day instead of the moment it was printed, with no byte moved.

    >>> dated(b"/ModDate (D:20261125102806+00'00')", date(2026, 9, 28))
    b"/ModDate (D:20260928000000+00'00')"
    """
    stamp = f"{on:%Y%m%d}000000".encode()
    return re.sub(
        rb"(/(?:CreationDate|ModDate) \(D:)\d{14}([+-]\d\d'\d\d'\))", rb"\g<1>" + stamp + rb"\g<2>", content
    )


def _failed(page: Path, why: str) -> OutputFailed:
    return OutputFailed(f"{page.name} could not be printed to PDF: {why}. Nothing was written. {HOW_TO}")
