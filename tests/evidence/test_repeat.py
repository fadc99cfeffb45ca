"""A pack as it was made comes out again; a changed one does not, and says which figure."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from hashlib import sha256

import numpy as np
import pandas as pd
import pytest

from wearcast.evidence import run as run_module
from wearcast.evidence.given import given_by
from wearcast.evidence.pack import pack
from wearcast.evidence.repeat import repeat
from wearcast.version import __version__


def rows_of(found):
    return {(one.file, one.row, one.column) for one in found.differences}


def test_an_untouched_pack_comes_out_again(packed):
    found = repeat(packed)
    assert found.faults == []
    assert found.differences == []
    assert found.came_out
    assert found.asked.survey == "special survey"
    assert any("every checksum holds" in text for text in found.holds)
    assert any("comes out again" in text for text in found.holds)
    assert any("Estimated anew" in text for text in found.holds)
    assert not found.notes


@pytest.mark.parametrize("hash_too", [False, True])
def test_the_last_digit_of_a_used_value_is_found_though_every_manifest_matches(
    opened, closed, hash_too, change
):
    path = opened / "data" / "input" / "readings.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    value = lines[17].split(",")[6]
    other = value[:-1] + ("1" if value[-1] == "0" else str(int(value[-1]) - 1))
    lines[17] = lines[17].replace(value, other)
    if hash_too:
        change(
            opened / "data" / "input-files.csv",
            sha256(path.read_bytes()).hexdigest(),
            sha256("".join(lines).encode()).hexdigest(),
        )
    path.write_bytes("".join(lines).encode())
    found = repeat(closed())
    assert any("every checksum holds" in text for text in found.holds)
    assert any("data/input/readings.csv is not the file" in text for text in found.faults) != hash_too
    # The reading itself, and the figures of its shell that follow from it.
    assert ("data/readings-used.csv", "readings row 18", "value_text") in rows_of(found)
    here = [one for one in found.differences if one.row == "Alder 2 main 3 lower wall"]
    assert {"estimate_mm", "wear_rate_um_per_kh", "hours_to_limit_p10"} <= {
        one.column for one in here if one.file == "data/forecast.csv"
    }
    one = next(d for d in here if d.column == "estimate_mm")
    assert float(one.recorded) != float(one.recomputed)
    assert abs(float(one.recorded) - float(one.recomputed)) < 1e-4


def change_table(path, row, column, factor):
    """Multiply one figure of a table."""
    if path.suffix == ".csv":
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        table.loc[row, column] = f"{float(table.loc[row, column]) * factor:.9g}"
        path.write_text(table.to_csv(index=False, lineterminator="\n"), encoding="utf-8")
    else:
        rows = json.loads(path.read_text(encoding="utf-8"))
        rows[row][column] *= factor
        path.write_text(json.dumps(rows), encoding="utf-8")


def test_each_figure_changed_beyond_one_in_a_million_is_named_and_no_other(opened, closed, change):
    data = opened / "data"
    change_table(data / "forecast.csv", 1, "hours_to_limit_p10", 1 + 2e-6)
    change_table(data / "forecast.json", 1, "hours_to_limit_p10", 1 + 2e-6)
    change_table(data / "forecast.json", 0, "hours_to_limit_p50", 1 + 1e-8)
    change_table(data / "plan.json", 0, "p_limit_before_until", 1.001)
    change_table(data / "order.csv", 0, "on_hand", 2)
    change(data / "gauges.csv", "ball micrometer 4,wall,stated,3", "ball micrometer 4,wall,stated,2")
    change(data / "limits.csv", "rev. 1", "rev. 2")
    change(data / "corrections.csv", "typing error", "measured again")
    change(opened / "readme.txt", "earns no survey credit by itself. It", "earns survey credit. It")
    page = (data / "sheet.html").read_text(encoding="utf-8")
    assert "limit falls" in page
    (data / "sheet.html").write_text(page.replace("limit falls", "limit never falls", 1), encoding="utf-8")
    found = repeat(closed())
    assert found.faults == []
    main_1, main_2 = (f"Alder 2 main {k} lower wall" for k in (1, 2))
    assert {
        ("data/forecast.csv", main_2, "hours_to_limit_p10"),
        ("data/forecast.json", main_2, "hours_to_limit_p10"),
        ("data/plan.json", main_1.replace("2 main", "2 2026-09-01 main"), "p_limit_before_until"),
        ("data/order.csv", "Hexa main lower standard", "on_hand"),
        ("data/limits.csv", "row 2", "source"),
        ("data/corrections.csv", "corrections.csv own row 2", "reason"),
    } <= rows_of(found)
    files = [one.file for one in found.differences]
    assert sorted(set(files) - {"data/gauges.csv"}) == [
        "data/corrections.csv", "data/forecast.csv", "data/forecast.json", "data/limits.csv", "data/order.csv",
        "data/plan.json", "data/sheet.html", "readme.txt",
    ]  # fmt: skip
    assert files.count("data/gauges.csv") == 2, "u names a gauge's row: one is gone, another came"
    assert len(files) == 10


def test_files_changed_missing_and_added_are_named_by_the_bag(opened, closed, change):
    change(opened / "data" / "limits.csv", "rev. 1", "rev. 2")
    (opened / "data" / "plan.csv").unlink()
    (opened / "data" / "more.txt").write_text("more", encoding="utf-8")
    (opened / "beside.txt").write_text("more", encoding="utf-8")
    change(opened / "bag-info.txt", "Alder / 2 / special survey", "Alder / 2 / another survey")
    found = repeat(closed(manifests=False))
    for text in (
        "data/limits.csv was changed: its checksum is not the one in the manifest.",
        "data/plan.csv is missing; the manifest lists it.",
        "data/more.txt was added; no manifest lists it.",
        "beside.txt was added; no manifest lists it.",
        "bag-info.txt was changed: its checksum is not the one in the manifest.",
        "data/more.txt is no file of such a pack; it was added.",
        "data/plan.csv belongs into the pack and is missing.",
    ):
        assert text in found.faults
    assert any(text.startswith("bag-info.txt, External-Identifier: says") for text in found.faults)
    assert rows_of(found) == {("data/limits.csv", "row 2", "source")}


def test_a_missing_and_an_added_file_are_named_though_the_manifests_match(opened, closed):
    (opened / "data" / "plan.csv").unlink()
    (opened / "data" / "more.txt").write_text("more", encoding="utf-8")
    assert repeat(closed()).faults == [
        "data/plan.csv belongs into the pack and is missing.",
        "data/more.txt is no file of such a pack; it was added.",
    ]


@pytest.mark.parametrize("name", ["data/run.json", "data/theta.json", "data/input/limits.csv"])
def test_without_what_it_starts_from_nothing_is_worked_out(opened, closed, name):
    (opened / name).unlink()
    found = repeat(closed())
    assert any(name in text and "Nothing was worked out again" in text for text in found.faults)
    assert not found.came_out


def test_other_standard_deviations_give_other_figures_and_a_lower_objective(opened, closed):
    path = opened / "data" / "theta.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    for run in said.values():
        run[0]["at_the_mode"] = [1.2 * value for value in run[0]["at_the_mode"]]
        run[0]["averaged_over"] = [[1.2 * value for value in one] for one in run[0]["averaged_over"]]
    path.write_text(json.dumps(said), encoding="utf-8")
    found = repeat(closed())
    assert any("raise the objective from" in text for text in found.faults)
    assert ("data/forecast.csv", "Alder 2 main 1 lower wall", "hours_to_limit_p10") in rows_of(found)


@pytest.mark.parametrize("what", ["mode", "points"])
def test_a_pack_made_whole_at_other_standard_deviations_is_found(fleet, asked, tmp_path, monkeypatch, what):
    """Every figure follows from the recorded standard deviations; only they are not the estimate."""

    def moved(asked, records, anew=run_module.fitted_anew):
        fitted = anew(asked, records)
        classes = [
            replace(
                one,
                theta=replace(
                    one.theta,
                    sigma=one.theta.sigma * (1.3 if what == "mode" else 1.0),
                    sigma_points=one.theta.sigma_points * (1.0 if what == "mode" else 0.5),
                ),
            )
            for one in fitted.recorded.forecast
        ]
        return run_module.fitted_at(
            fitted, replace(fitted.recorded, forecast=tuple(classes), stand=tuple(classes))
        )

    with monkeypatch.context() as patch:
        patch.setattr("wearcast.evidence.pack.fitted_anew", moved)
        pack(given_by(fleet), asked, tmp_path / "other.zip")
    found = repeat(tmp_path / "other.zip")
    assert found.differences == []
    text = {"mode": "raise the objective from", "points": "are not the estimate of these readings"}[what]
    assert any(text in fault for fault in found.faults)


def test_a_reading_doubted_in_secret_is_named(opened, closed):
    path = opened / "data" / "theta.json"
    said = json.loads(path.read_text(encoding="utf-8"))
    said["forecast"][0]["left_out"] = [["readings", 15]]
    path.write_text(json.dumps(said), encoding="utf-8")
    found = repeat(closed())
    assert any("doubted then and not now: readings row 15" in text for text in found.faults)


def test_records_that_are_refused_are_told(opened, closed, change):
    change(opened / "data" / "input" / "limits.csv", "7.950", "7.9x0")
    found = repeat(closed())
    assert any("The records in the pack are refused" in text and '"7.9x0"' in text for text in found.faults)


def test_another_version_is_said_and_its_sheet_not_compared(opened, closed, change):
    environment, question = opened / "data" / "environment.txt", opened / "data" / "run.json"
    change(environment, f"numpy: {np.__version__}", "numpy: 1.0")
    change(environment, f"wearcast: {__version__}", "wearcast: 0.0.9")
    change(question, f"wearcast {__version__}", "wearcast 0.0.9")
    change(opened / "readme.txt", f"with wearcast {__version__}", "with wearcast 0.0.9")
    (opened / "data" / "sheet.html").write_text("another page", encoding="utf-8")
    found = repeat(closed())
    assert (found.faults, found.differences) == ([], [])
    assert f"numpy: the pack was made with 1.0, this is {np.__version__}." in found.notes
    assert f"wearcast: the pack was made with 0.0.9, this is {__version__}." in found.notes
    assert any(
        "sheet.html is said to be drawn by another version and was not compared" in text
        for text in found.notes
    )


def test_the_names_in_the_pack_are_plain(packed):
    with zipfile.ZipFile(packed) as archive:
        names = archive.namelist()
    assert all(name.isascii() and name == name.lower() and len(name) < 80 for name in names)
