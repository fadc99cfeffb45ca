"""What goes into a pack, from every kind of records, and that it is written whole or not at all."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.errors import InputRefused, OutputFailed, WrongUse
from wearcast.evidence import bag as bag_module
from wearcast.evidence.given import given_by
from wearcast.evidence.originals import plain_name
from wearcast.evidence.pack import pack
from wearcast.evidence.repeat import repeat
from wearcast.report.cautions import CAUTIONS


def files_of(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name.partition("/")[2]: archive.read(name) for name in archive.namelist()}


def rows_of(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(files[f"data/{name}"].decode())))


@pytest.fixture(scope="module")
def files(packed):
    return files_of(packed)


def test_bagit_validates_it(packed, tmp_path):
    """By the program of the bagit package itself, as a stranger would (RFC 8493)."""
    with zipfile.ZipFile(packed) as archive:
        archive.extractall(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "bagit", "--validate", tmp_path / "evidence-alder-2"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "evidence-alder-2 is valid" in done.stderr


def test_the_label_names_what_it_is_of(files):
    info = dict(line.split(": ", 1) for line in files["bag-info.txt"].decode().splitlines())
    payload = {name: text for name, text in files.items() if name.startswith("data/")}
    assert info["External-Identifier"] == "Alder / 2 / special survey"
    assert info["Source-Organization"] == "Invented Office"
    assert info["Bagging-Date"] == "2026-01-01"
    assert info["Payload-Oxum"] == f"{sum(map(len, payload.values()))}.{len(payload)}"


def test_the_input_stands_in_it_byte_for_byte(files, fleet):
    given = rows_of(files, "input-files.csv")
    assert [one["name_as_given"] for one in given] == sorted(path.name for path in fleet.iterdir())
    for one in given:
        assert files[f"data/{one['file']}"] == (fleet / one["name_as_given"]).read_bytes()


def test_readings_used_and_left_out_are_all_readings_and_say_why(files, tables):
    used, left_out = rows_of(files, "readings-used.csv"), rows_of(files, "readings-left-out.csv")
    assert len(used) + len(left_out) == len(tables["readings"])
    assert {one["engine"] for one in used} == {"1", "2"}, "the sisters carry the forecast, too"
    (slip,) = [one for one in left_out if one["row"] == "6"]
    assert slip["left_out"].startswith("unit slip: ")
    (bore,) = [one for one in left_out if one["quantity"] == "housing_bore"]
    assert bore["left_out"] == "no forecast is made of housing bore"
    (corrected,) = [one for one in used if one["row"] == "3"]
    assert corrected["value_text"] == "7.9700"
    assert "typing error" in corrected["old_text"]


def test_gauges_stand_with_their_certificate_and_what_was_read_after_it_ran_out(
    tmp_path, write_folder, asked, tables
):
    certificate = {"kind": "ball micrometer", "certificate": "C 12", "by": "Invented Metrology"}
    dates = {"calibrated_on": "2018-01-10", "due_on": "2020-01-10"}
    tables["gauges"] = [{"instrument": "ball micrometer 4", "u_um": "2"} | certificate | dates]
    out = tmp_path / "pack.zip"
    pack(given_by(write_folder(tmp_path / "records", **tables)), asked, out)
    found = rows_of(files_of(out), "gauges.csv")
    under = [one for one in found if one["certificate"] == "C 12"]
    assert {(one["kind"], one["calibrated_on"], one["due_on"], one["by"]) for one in under} == {
        ("ball micrometer", "2018-01-10", "2020-01-10", "Invented Metrology")
    }
    assert sum(int(one["after_due"]) for one in under) == 6, "two sisters, three mains, the opening of 2021"
    before = [one for one in found if one["quantity"] == "wall" and one["certificate"] == ""]
    assert [one["first"][:4] for one in before] == ["2017"], "the first opening was before the calibration"


def test_gauges_stand_with_their_uncertainty_and_limits_with_their_document(files):
    gauges = {(one["quantity"], one["u_is"]): one for one in rows_of(files, "gauges.csv")}
    assert gauges["wall", "stated"]["u_um"] == "3"
    assert gauges["wall", "assumed"]["u_um"] == "6", "the default of walls: common practice, no source"
    (limit,) = rows_of(files, "limits.csv")
    assert (limit["limit_mm"], limit["source"]) == ("7.95", "invented book, rev. 1, 2020-01-01")


def test_figures_are_those_of_the_engine_alone(files):
    forecast, plan = rows_of(files, "forecast.csv"), rows_of(files, "plan.csv")
    assert [one["position"] for one in forecast] == ["1", "2", "3"]
    assert {(one["vessel"], one["engine"]) for one in forecast + plan} == {("Alder", "2")}
    assert [one["part_reference"] for one in rows_of(files, "order.csv")] == [""]
    as_json = json.loads(files["data/forecast.json"])
    assert [float(one["hours_to_limit_p10"]) for one in forecast] == pytest.approx(
        [one["hours_to_limit_p10"] for one in as_json], rel=1e-7
    )


def test_the_own_line_of_each_shell_stands_in_it_as_statsmodels_tells_it(files):
    text = files["data/own-lines.txt"].decode()
    told = [one for one in rows_of(files, "forecast.csv") if int(one["own_readings"]) >= 3]
    assert told
    for one in told:
        assert f"Alder 2 main {one['position']} lower" in text
        assert f"own line {float(one['own_rate_um_per_kh']):.3f}" in text
    assert "OLS Regression Results" in text or "WLS Regression Results" in text


def test_the_readme_says_what_it_is_not_and_the_cautions(files):
    text = " ".join(files["readme.txt"].decode().split())
    assert "no class-approved scheme and earns no survey credit by itself" in text
    assert "rests on the readings of all its sisters" in text
    assert "not as PDF" in text
    for caution in CAUTIONS:
        for sentence in caution.sentences:
            assert " ".join(sentence.split()) in text


def test_the_method_stands_in_it_with_formulas_and_sources(files):
    text = files["data/method.txt"].decode()
    assert "z = a + b·τ" in text
    assert "Fieller (1954)" in text


def test_the_sheet_leads_nowhere_else(files):
    assert b"index.html" not in files["data/sheet.html"]


def test_a_printed_sheet_goes_in_and_the_readme_does_not_miss_it(fleet, asked, tmp_path):
    pages = []

    def print_page(page: str) -> bytes:
        pages.append(page)
        return b"%PDF-1.7 a print"

    pack(given_by(fleet), asked, tmp_path / "a.zip", print_page)
    found = files_of(tmp_path / "a.zip")
    assert found["data/sheet.pdf"] == b"%PDF-1.7 a print"
    assert pages == [found["data/sheet.html"].decode()]
    assert b"not as PDF" not in found["readme.txt"]
    again = repeat(tmp_path / "a.zip")
    assert again.came_out
    assert any("sheet.pdf is a print" in text for text in again.notes)


def test_a_workbook_under_any_name_comes_out_again(write_workbook, asked, tmp_path, tables):
    source = write_workbook(tmp_path / "Fleet Größe (2).XLSX", **tables)
    pack(given_by(source), asked, tmp_path / "a.zip")
    assert "data/input/fleet-groe-2.xlsx" in files_of(tmp_path / "a.zip")
    found = repeat(tmp_path / "a.zip")
    assert (found.faults, found.differences) == ([], [])


def test_a_record_book_goes_in_with_its_chain_and_comes_out_again(fleet, asked, tmp_path):
    book = tmp_path / "fleet.book"
    create(book)
    add(book, fleet, "A. Bell")
    pack(given_by(book), asked, tmp_path / "a.zip")
    found = files_of(tmp_path / "a.zip")
    assert found["data/originals/0001-readings.csv"] == (fleet / "readings.csv").read_bytes()
    (one,) = rows_of(found, "book-chain.csv")
    assert (one["by"], one["kind"], len(one["digest"])) == ("A. Bell", "records", 64)
    assert one["digest"].encode() in b"".join(found["data/assumptions.txt"].split())
    again = repeat(tmp_path / "a.zip")
    assert (again.faults, again.differences) == ([], [])
    assert any("record book verifies" in text for text in again.holds)


def test_rows_left_out_on_request_and_a_day_in_the_past_come_out_again(write_folder, asked, tmp_path, tables):
    given = tables
    given["readings"][10]["value"] = "OK"
    source = write_folder(tmp_path / "records", **given)
    with pytest.raises(InputRefused):
        pack(given_by(source), asked, tmp_path / "a.zip")
    assert not (tmp_path / "a.zip").exists()
    past = replace(asked, leave_out_faulty=True, as_of=dt.date(2020, 6, 30))
    pack(given_by(source), past, tmp_path / "a.zip")
    left_out = rows_of(files_of(tmp_path / "a.zip"), "readings-left-out.csv")
    (refused,) = [one for one in left_out if one["left_out"].startswith("refused")]
    assert refused["row"] == "12"
    found = repeat(tmp_path / "a.zip")
    assert (found.faults, found.differences) == ([], [])
    assert found.asked == past


def test_an_engine_that_is_not_there_is_told_with_those_that_are(fleet, asked, tmp_path):
    with pytest.raises(WrongUse, match=r"in these records\. They have: Alder 1, Alder 2"):
        pack(given_by(fleet), replace(asked, engine="3"), tmp_path / "a.zip")


def test_a_missing_table_is_told_by_the_folder_the_user_named(write_folder, tmp_path):
    source = write_folder(tmp_path / "records", limits=None)
    with pytest.raises(InputRefused, match=str(source)):
        given_by(source)


def test_a_pack_is_made_again_over_one_that_was_worked_out_again(fleet, asked, tmp_path):
    for _ in range(2):
        pack(given_by(fleet), asked, tmp_path / "a.zip")
        assert repeat(tmp_path / "a.zip").came_out


def test_what_stood_there_still_stands_where_writing_fails(fleet, asked, tmp_path, monkeypatch):
    (tmp_path / "a.zip").write_bytes(b"before")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("wearcast.evidence.pack.zip_bag", full)
    with pytest.raises(OutputFailed, match="No space left on device"):
        pack(given_by(fleet), asked, tmp_path / "a.zip")
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]
    assert (tmp_path / "a.zip").read_bytes() == b"before"


@pytest.mark.parametrize(
    ("vessel", "name"),
    [("../../etc", "evidence-etc-2"), ("船", "evidence-vessel-2"), ("A" * 300, "evidence-" + "a" * 31)],
)
def test_the_folder_of_the_bag_has_a_plain_name(asked, vessel, name):
    assert bag_module.bag_name(replace(asked, vessel=vessel)) == name


def test_labels_stay_on_one_line(asked):
    info = bag_module.bag_info(replace(asked, survey="special\nPayload-Oxum: 1.1", organization=" "))
    assert info["External-Identifier"] == "Alder / 2 / special Payload-Oxum: 1.1"
    assert all("\n" not in value for value in info.values())


@pytest.mark.parametrize("name", ["con.csv", "NUL", "…", ".csv", "a.tar.gz", "-rf"])
def test_names_hold_on_every_machine(name):
    found = plain_name(name, set())
    assert found.isascii()
    assert found.split(".")[0] not in ("con", "nul", "")
    assert not found.startswith(("-", "."))
