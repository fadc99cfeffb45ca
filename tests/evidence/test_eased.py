"""Nothing is eased in silence: a pack says what was changed by hand, by whom, and what would be without it."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from wearcast.evidence.given import given_by
from wearcast.evidence.pack import pack
from wearcast.evidence.repeat import repeat
from wearcast.settings import Settings


def rows_of(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[f"data/{name}"].decode())))


@pytest.fixture
def eased_pack(tmp_path, write_folder, asked, tables) -> Path:
    """Engine 2, main 3 had lost 12 µm more at its last opening; that reading was taken out, nobody is named."""
    low = next(
        k for k, row in enumerate(tables["readings"])
        if (row["engine"], row["position"], row["counter_h"]) == ("2", "3", "27060")
    )  # fmt: skip
    value = f"{float(tables['readings'][low]['value']) - 0.012:.4f}"
    tables["readings"][low]["value"] = value
    tables["corrections"].append(
        {"row": str(low + 2), "old": value, "action": "withdraw", "reason": "felt wrong", "by": "B. Cole"}
    )
    folder = write_folder(tmp_path / "records", **tables)
    out = tmp_path / "pack.zip"
    pack(given_by(folder), replace(asked, settings=replace(Settings(), risk=0.2)), out)
    return out


def test_a_reading_taken_out_keeps_its_face_and_its_effect_is_told_in_the_pack(eased_pack) -> None:
    with zipfile.ZipFile(eased_pack) as archive:
        files = {name.partition("/")[2]: archive.read(name) for name in archive.namelist()}
    (gone,) = [
        one for one in rows_of(files, "readings-left-out.csv") if one["left_out"].startswith("withdrawn")
    ]
    face = ("vessel", "engine", "bearing", "position", "half", "quantity", "date", "instrument")
    assert tuple(gone[name] for name in face) == (
        "Alder", "2", "main", "3", "lower", "wall", "2021-03-03", "ball micrometer 4",
    )  # fmt: skip
    assert gone["left_out"] == "withdrawn: felt wrong (B. Cole, 2025-01-01)"
    (row,) = [one for one in rows_of(files, "eased.csv") if one["what"] == "reading withdrawn"]
    assert (row["position"], row["approved_by"]) == ("3", "")
    assert float(row["hours_to_limit_p10_without"]) < float(row["hours_to_limit_p10"])
    text = " ".join(files["readme.txt"].decode().split())
    assert "Reading withdrawn: Alder 2 main 3 lower wall thickness" in text
    assert "approved by: nobody named" in text
    assert "Setting changed: risk is 0.2, usual 0.1." in text
    assert text.index("What has been eased") < text.index("Working it out again")


def test_what_was_eased_is_worked_out_again(eased_pack) -> None:
    assert repeat(eased_pack).came_out
