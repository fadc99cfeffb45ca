"""A small fleet packed once, and packs changed by a hand that also rewrites the manifests."""

from __future__ import annotations

import datetime as dt
import logging
import zipfile
from collections.abc import Callable
from pathlib import Path

import bagit
import pytest

from wearcast.evidence.asked import Asked
from wearcast.evidence.bag import zip_bag
from wearcast.evidence.given import given_by
from wearcast.evidence.pack import pack
from wearcast.settings import Settings

RUN = dt.date(2026, 1, 1)
logging.getLogger("bagit").setLevel(logging.CRITICAL + 1)


def readings() -> list[dict]:
    """Two sisters, three mains, three openings; one reading in the wrong unit, one without a limit."""
    rows = []
    for engine, ahead_um in (("1", 0.0), ("2", 2.0)):
        for position in range(1, 4):
            for k, hours in enumerate((9_000, 18_000, 27_000)):
                worn_um = (
                    3
                    + ahead_um
                    + hours / 1000 * (0.6 + 0.15 * position)
                    + (-1.5, 2.0, -0.5)[(k + position) % 3]
                )
                rows.append(
                    {
                        "engine": engine,
                        "position": str(position),
                        "value": f"{7.9925 - worn_um / 1000:.4f}",
                        "date": f"{2017 + 2 * k}-03-0{position}",
                        "counter_h": str(hours + 20 * position),
                        "instrument": "ball micrometer 4",
                        "u_um": "3" if k else "",
                    }
                )
    rows[4]["value"] = str(float(rows[4]["value"]) * 1000)
    rows.append({**rows[0], "quantity": "housing_bore", "half": "", "value": "236.22", "u_um": ""})
    return rows


@pytest.fixture
def tables() -> dict[str, list[dict]]:
    """The tables of the fleet, to be changed."""
    return fleet_tables()


def fleet_tables() -> dict[str, list[dict]]:
    return {
        "readings": readings(),
        "engines": [{"engine": "1"}, {"engine": "2"}],
        "limits": [{}],
        "windows": [
            {"engine": "", "date": "2026-09-01"},
            {"engine": "", "date": "2028-09-01", "kind": "survey"},
        ],
        "spares": [{}],
        "corrections": [
            {
                "row": "3",
                "old": readings()[1]["value"],
                "new": "7.9700",
                "action": "replace",
                "reason": "typing error",
            }
        ],
    }


@pytest.fixture(scope="session")
def fleet(tmp_path_factory: pytest.TempPathFactory, write_folder: Callable[..., Path]) -> Path:
    return write_folder(tmp_path_factory.mktemp("fleet") / "records", **fleet_tables())


@pytest.fixture(scope="session")
def asked() -> Asked:
    return Asked("Alder", "2", RUN, Settings(), survey="special survey", organization="Invented Office")


@pytest.fixture(scope="session")
def packed(fleet: Path, asked: Asked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pack of engine 2, without PDF."""
    out = tmp_path_factory.mktemp("packs") / "alder.zip"
    pack(given_by(fleet), asked, out)
    return out


@pytest.fixture
def opened(packed: Path, tmp_path: Path) -> Path:
    """The bag of the pack, to be changed."""
    with zipfile.ZipFile(packed) as archive:
        archive.extractall(tmp_path / "opened")
    return tmp_path / "opened" / "evidence-alder-2"


@pytest.fixture
def closed(opened: Path, tmp_path: Path) -> Callable[..., Path]:
    """``closed(manifests=True)``: the changed bag as a pack again, its manifests rewritten to match."""

    def close(manifests: bool = True) -> Path:
        if manifests:
            bagit.Bag(str(opened)).save(manifests=True)
            bagit.Bag(str(opened)).validate()
        zip_bag(opened, tmp_path / "changed.zip", RUN)
        return tmp_path / "changed.zip"

    return close


@pytest.fixture(scope="session")
def change() -> Callable[[Path, str, str], None]:
    """``change(path, old, new)``: replace a text that stands once in a file."""

    def replace(path: Path, old: str, new: str) -> None:
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        path.write_bytes(text.replace(old, new).encode())

    return replace
