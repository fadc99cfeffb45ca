"""A small invented fleet, its form, and a form filled in by a script."""

from __future__ import annotations

import datetime as dt
import io
import os
import shutil
import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from wearcast.forecasting.run import Forecast, forecast
from wearcast.forms.asked import FormContent, form_content
from wearcast.forms.workbook import form_workbook
from wearcast.records.read import read

RUN_DATE = dt.date(2026, 1, 1)
OPENING = dt.date(2026, 3, 1)
NAME = '=HYPERLINK("http://alder.example","Alder & Sons")'
"""A vessel whose name a spreadsheet would run as a formula."""
U_UM = 2.0
"""What is stated of the gauge of the walls, k = 1."""

Fill = Callable[[Mapping[str, Mapping[str, Any]]], Path]


def _walls(vessel: str, position: str, half: str, wear: float) -> list[dict[str, Any]]:
    return [
        {"vessel": vessel, "position": position, "half": half, "value": f"{7.992 - wear * k:.3f}",
         "date": f"{2015 + 2 * k}-03-01", "counter_h": str(1000 + 10_000 * k), "instrument": "+M-1",
         "point": point, "u_um": U_UM}
        for k in range(1, 5) for point in ("crown", "p45")
    ]  # fmt: skip


def _others(vessel: str) -> list[dict[str, Any]]:
    day: dict[str, Any] = {"vessel": vessel, "date": "2023-03-01", "counter_h": "41000", "half": ""}
    return [
        day | {"quantity": "clearance", "value": "0.26", "position": "1", "state": "as_left"},
        day | {"bearing": "thrust", "quantity": "axial_clearance", "value": "0.35", "position": "3"},
        day | {"bearing": "big_end", "quantity": "web_deflection", "value": "12", "unit": "um", "position": "1",
               "point": "top", "state": "as_left"},
        day | {"quantity": "journal_diameter", "value": "219.99", "position": "2", "point": "v1"},
    ]  # fmt: skip


@pytest.fixture(scope="session")
def result(tmp_path_factory: pytest.TempPathFactory, write_folder: Callable[..., Path]) -> Forecast:
    """The forecast of two sisters."""
    readings = [
        row
        for vessel, more in ((NAME, 0.0), ("Birch", 0.001))
        for position in "123"
        for half, wear in (("upper", 0.002), ("lower", 0.006))
        for row in _walls(vessel, position, half, wear + more)
    ]
    limit = {"half": "", "new_min": "0.22", "new_max": "0.25", "limit": "0.33", "limit_side": "max"}
    limits = [
        {"half": "upper"},
        {"half": "lower"},
        limit | {"quantity": "clearance"},
        limit | {"quantity": "axial_clearance", "bearing": "thrust", "limit": "0.8", "new_max": "0.4"},
        {"half": "", "quantity": "journal_diameter", "new_min": "219.99", "new_max": "220.01", "limit": "219.96"},
    ]  # fmt: skip
    engines = [
        {"vessel": vessel, "thrust_at": "3", "mains": "3", "throws": "2"} for vessel in (NAME, "Birch")
    ]
    folder = write_folder(
        tmp_path_factory.mktemp("fleet") / "records",
        readings=readings + _others(NAME) + _others("Birch"),
        engines=engines,
        limits=limits,
    )
    return forecast(read(folder, RUN_DATE))


@pytest.fixture(scope="session")
def content(result: Forecast) -> FormContent:
    """What the form of the first sister asks for."""
    return form_content(result, NAME, "1", OPENING)


@pytest.fixture(scope="session")
def form(content: FormContent) -> bytes:
    """The form."""
    return form_workbook(content, RUN_DATE)


@pytest.fixture
def fill(form: bytes, tmp_path: Path) -> Fill:
    """``fill({"Readings": {"E4": 7.98}})`` writes into a copy of the form and gives its path."""

    def write(cells: Mapping[str, Mapping[str, Any]]) -> Path:
        book = openpyxl.load_workbook(io.BytesIO(form))
        for sheet, values in cells.items():
            for place, value in values.items():
                book[sheet][place] = value
        path = tmp_path / "filled.xlsx"
        book.save(path)
        return path

    return write


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path, str, Path], Path]:
    """``office(path, "xlsx", folder)`` lets LibreOffice open a workbook, calculate it and save it."""
    program = shutil.which("soffice")
    if program is None:
        if os.environ.get("WEARCAST_CI") == "1":
            pytest.fail("LibreOffice is not installed; install libreoffice-calc")
        pytest.skip("LibreOffice is not installed: forms are not tried in a second program")
    profile = tmp_path_factory.mktemp("office")

    def convert(path: Path, kind: str, folder: Path) -> Path:
        folder.mkdir(exist_ok=True)
        subprocess.run(
            [program, "--headless", f"-env:UserInstallation={profile.as_uri()}", "--convert-to", kind, "--outdir",
             str(folder), str(path)],
            check=True, capture_output=True, timeout=180,
        )  # fmt: skip
        return folder / path.with_suffix(f".{kind}").name

    return convert
