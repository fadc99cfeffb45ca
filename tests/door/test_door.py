"""Files that hung the program, filled the memory or were blamed on it: each is refused at once, in words."""

from __future__ import annotations

import io
import os
import re
import time
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from wearcast.door import bounds
from wearcast.door.archives import Xml, opened
from wearcast.door.bounds import BOUNDS, TurnedAway
from wearcast.door.files import bytes_of, entries, kind_of
from wearcast.door.trees import json_of, toml_of
from wearcast.errors import WrongUse
from wearcast.lives.rounding import last_digit
from wearcast.records.mapping import read_mapping
from wearcast.records.mapping.patterns import matched
from wearcast.records.mapping.sheets import raw_file
from wearcast.records.read import read
from wearcast.settings import read_settings

Make = Callable[..., Path]


@pytest.fixture(autouse=True)
def at_once() -> Iterator[None]:
    """Each in a few seconds of processor, where it took minutes or for ever."""
    before = time.process_time()
    yield
    assert time.process_time() - before < 10


def faults(path: Path) -> str:
    return "\n".join(map(str, read(path).faults))


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    os.mkfifo(tmp_path / "pipe")
    return tmp_path / "pipe"


def test_a_pipe_is_never_waited_for(pipe: Path, record_folder: Make) -> None:
    with pytest.raises(TurnedAway, match="no regular file"):
        bytes_of(pipe)
    folder = record_folder()
    (folder / "readings.csv").unlink()
    pipe.rename(folder / "readings.csv")
    assert "a pipe, a device or a socket" in faults(folder)


@pytest.mark.parametrize(
    "reader", [read_settings, read_mapping, read], ids=["settings", "mapping", "records"]
)
def test_a_pipe_given_by_name_is_refused(pipe: Path, reader: Callable[[Path], object]) -> None:
    with pytest.raises(WrongUse):
        reader(pipe)


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/stdin"])
def test_a_device_behind_a_link_is_no_file(tmp_path: Path, device: str) -> None:
    (tmp_path / "readings.csv").symlink_to(device)
    (tmp_path / "x.xlsx").symlink_to("/dev/zero")
    assert "no regular file" in faults(tmp_path)
    assert "no regular file" in faults(tmp_path / "x.xlsx")


def test_a_file_larger_than_the_bound_is_not_read(tmp_path: Path) -> None:
    with (tmp_path / "large.csv").open("wb") as file:
        file.truncate(BOUNDS.file_bytes + 1)  # a hole: takes no room on the disk
    with pytest.raises(TurnedAway, match="larger than 2,000,000,000 bytes"):
        bytes_of(tmp_path / "large.csv")


def test_names_too_long_and_links_in_a_circle_are_told(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    for path in (tmp_path / ("x" * 5000), tmp_path / "a"):
        with pytest.raises(TurnedAway, match="cannot be opened"):
            kind_of(path)
        with pytest.raises(WrongUse, match="cannot be opened"):
            read(path)
    assert kind_of(tmp_path / "nul\0") == ""


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_folder_without_rights_is_told(tmp_path: Path) -> None:
    (tmp_path / "shut").mkdir(mode=0)
    with pytest.raises(WrongUse, match="Permission denied"):
        read(tmp_path / "shut")


def test_a_folder_that_cannot_be_listed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def shut(_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "scandir", shut)
    with pytest.raises(WrongUse, match=r"the folder cannot be opened \(Permission denied\)"):
        read(tmp_path)


def test_a_folder_of_more_files_than_any_record_set_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bounds, "BOUNDS", replace(BOUNDS, files=3))
    for name in "abcd":
        (tmp_path / name).touch()
    with pytest.raises(TurnedAway, match="over 3 files"):
        entries(tmp_path)


# --- CSV


@pytest.mark.parametrize("columns", [50_000, 900_000])
def test_very_many_columns_are_refused(record_folder: Make, columns: int) -> None:
    folder = record_folder()
    (folder / "readings.csv").write_text(f"{'a,' * columns}\n{'1,' * columns}\n", encoding="utf-8")
    assert "cells; at most 1,000 are read" in faults(folder)


def test_one_wide_row_is_refused(record_folder: Make) -> None:
    folder = record_folder()
    with (folder / "readings.csv").open("a", encoding="utf-8") as file:
        file.write("," * 900_000 + "\n")
    assert "row 3 has 900,001 cells" in faults(folder)


def test_a_line_without_end_is_refused_before_it_is_read(record_folder: Make) -> None:
    folder = record_folder()
    with (folder / "readings.csv").open("ab") as file:
        file.truncate(1_000_000_000)
    assert "a line is longer than 2,000,000 bytes" in faults(folder)


def test_more_lines_than_the_bound_are_refused(record_folder: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bounds, "BOUNDS", replace(BOUNDS, rows=100))
    folder = record_folder()
    (folder / "readings.csv").write_text("a\n" * 101, encoding="utf-8")
    assert "over 100 lines" in faults(folder)


def test_a_cell_of_very_many_characters_is_refused(record_folder: Make) -> None:
    folder = record_folder(readings=[{"remark": "x" * 100_001}])
    assert "row 2 has over 100,000 characters" in faults(folder)


@pytest.mark.parametrize("text", ["7.98" + "0" * 60, "1" * 400, "0e-9999", "7.98e-300"])
def test_a_number_of_very_many_digits_is_refused(record_folder: Make, text: str) -> None:
    assert "a number of at most 40 digits" in faults(record_folder(readings=[{"value": text}]))


def test_many_digits_have_a_last_one() -> None:
    assert last_digit("0." + "3" * 39) == pytest.approx(1e-39)


@pytest.mark.parametrize(
    ("bound", "rows", "words"),
    [
        ("lacking", "Alder\n" * 40, "over 100 cells fewer than the first line has"),
        ("lacking", "\n" * 40, "over 100 cells fewer than the first line has"),
        ("different", "".join(f"{k},{k + 9}\n" for k in range(60)), "over 100 different texts"),
    ],
)
def test_what_would_be_held_is_bounded_and_not_the_file_alone(
    record_folder: Make, monkeypatch: pytest.MonkeyPatch, bound: str, rows: str, words: str
) -> None:
    monkeypatch.setattr(bounds, "BOUNDS", replace(BOUNDS, **{bound: 100}))
    folder = record_folder()
    with (folder / "readings.csv").open("a", encoding="utf-8") as file:
        file.write(rows)
    assert words in faults(folder)


def test_a_large_file_is_gone_through_and_not_held(record_folder: Make) -> None:
    folder = record_folder()
    with (folder / "readings.csv").open("ab") as file:
        for _ in range(60):
            file.write(b"Alder,ME,main,1\r\n" * 50_000)
        file.write(b"x,\xff\n")
    tracemalloc.start()
    said = faults(folder)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert 'line 3000003 holds a byte that is no UTF-8 text (0xFF after "x,")' in said
    assert peak < 20_000_000


# --- workbooks


def rewritten(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    with zipfile.ZipFile(path) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    parts[part] = change(parts.get(part, b"<sst/>"))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


def last_row(cells: bytes) -> Callable[[bytes], bytes]:
    """One more row."""
    return lambda xml: xml.replace(b"</sheetData>", b'<row r="9">' + cells + b"</row></sheetData>")


SHEET = "xl/worksheets/sheet1.xml"
ENTITIES = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + b"".join(
    f'<!ENTITY {chr(98 + k)} "{f"&{chr(97 + k)};" * 10}">'.encode() for k in range(12)
) + b"]>"  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda xml: xml.replace(b'<row r="2"', b'<row r="2000000000"'), "2,000,000,000"),
        (lambda xml: xml.replace(b'<c r="A2"', b'<c r="ZZZZZZZ2"'), "no sheet has a cell"),
        (last_row(b'<c r="ALM9"><v>1</v></c>'), "a value in column 1,001; at most 1,000"),
        (lambda xml: xml.replace(b"<sheetData>", b"<sheetData>" + b"<x>" * 100), "nested more than 50"),
        (lambda xml: xml.replace(b"<worksheet", ENTITIES + b"<worksheet", 1), "document type declaration"),
        (last_row(b"<!--" + b"x" * 3_000_000 + b"-->"), "longer than 2,000,000"),
        (last_row(b'<c r="A9"><v>' + b"9" * 5000 + b"</v></c>"), "over 40 digits"),
        (last_row(b'<c r="A9" t="str"><v>' + b"x" * 100_001 + b"</v></c>"), "characters"),
        (last_row(b'<c r="A1048577"/>'), "no sheet has a cell"),
        (last_row(b'<c r="A9"><v>1</v></c></row><row r="9">'), "out of order"),
    ],
    ids=["row", "column", "wide", "nested", "entities", "text", "digits", "long", "low", "twice"],
)  # fmt: skip
def test_a_sheet_beyond_the_bounds_is_refused(
    record_workbook: Make, change: Callable[[bytes], bytes], words: str
) -> None:
    path = rewritten(record_workbook(), SHEET, change)
    found = read(path).faults
    assert len(found) == 1
    assert (found[0].table, found[0].sheet) == ("readings", "readings")
    assert words in found[0].text


def test_rows_padded_to_very_many_cells_are_refused(record_workbook: Make) -> None:
    rows = b"".join(b'<row r="%d"><c r="XFD%d"/></row>' % (k, k) for k in range(3, 2000))
    path = rewritten(
        record_workbook(), SHEET, lambda xml: xml.replace(b"</sheetData>", rows + b"</sheetData>")
    )
    assert "spreads over more than 20,000,000 cells" in faults(path)


@pytest.mark.parametrize(
    "part", ["xl/workbook.xml", "xl/sharedStrings.xml", "xl/styles.xml", "[Content_Types].xml"]
)
def test_entities_in_any_part_are_refused(record_workbook: Make, part: str) -> None:
    path = rewritten(record_workbook(), part, lambda xml: ENTITIES + re.sub(rb"^<\?.*?\?>", b"", xml))
    assert "document type declaration" in faults(path)


def test_a_workbook_that_grows_beyond_measure_is_refused(record_workbook: Make) -> None:
    path = rewritten(record_workbook(), "xl/sharedStrings.xml", lambda xml: xml + b" " * 300_000_000)
    assert "grow beyond measure" in faults(path)


@pytest.mark.parametrize(
    ("bound", "words"),
    [
        ("values", "the sheet holds more than 3 values"),
        ("shared_bytes", "its sheets share texts of over 3 bytes"),
    ],
)
def test_what_a_workbook_would_hold_is_bounded(
    record_workbook: Make, monkeypatch: pytest.MonkeyPatch, bound: str, words: str
) -> None:
    path = rewritten(record_workbook(), "xl/sharedStrings.xml", lambda xml: xml)
    monkeypatch.setattr(bounds, "BOUNDS", replace(BOUNDS, **{bound: 3}))
    assert words in faults(path)


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_a_sheet_of_another_layout_is_no_table_of_millions(
    record_folder: Make, record_workbook: Make, monkeypatch: pytest.MonkeyPatch, suffix: str
) -> None:
    path = record_workbook() if suffix == ".xlsx" else record_folder() / "readings.csv"
    monkeypatch.setattr(bounds, "BOUNDS", replace(BOUNDS, layout_cells=3))
    assert "over 3 cells have something in them" in str(raw_file(path).faults[0])


def test_two_sheets_of_one_name_are_refused(record_workbook: Make) -> None:
    twice: Callable[[bytes], bytes] = lambda xml: xml.replace(b'name="engines"', b'name="readings"')  # noqa: E731
    assert "2 sheets are the table readings" in faults(rewritten(record_workbook(), "xl/workbook.xml", twice))


def test_a_corrupted_stream_is_told(record_workbook: Make) -> None:
    path = record_workbook()
    with zipfile.ZipFile(path) as archive:
        at = archive.getinfo(SHEET).header_offset
    data = bytearray(path.read_bytes())
    data[at + 80 : at + 120] = bytes(40)
    path.write_bytes(data)
    assert "cannot be unpacked" in faults(path)


# --- TOML, JSON, XML


def toml(tmp_path: Path, text: str) -> Path:
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    return tmp_path / "a.toml"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a" + ".a" * 400_000 + " = 1", "a name of over 50 parts"),
        ("[" + "a." * 60 + "a]", "a name of over 50 parts"),
        ("a = " + "[" * 100_000, "not TOML"),
        ("a = 0x" + "f" * 100_000, "over 40 digits"),
        ("a = " + "9" * 5_000, "over 40 digits"),
        ("a = '" + "x" * 1_100_000 + "'", "larger than 1,000,000 bytes"),
        ("risk = 1\x00", "not TOML"),
        ('a = "b\\u0000c"', "a zero character"),
    ],
)  # fmt: skip
def test_a_toml_beyond_the_bounds_is_refused(tmp_path: Path, text: str, words: str) -> None:
    for reader in (read_settings, read_mapping):
        with pytest.raises(WrongUse, match=words):
            reader(toml(tmp_path, text))


def test_dots_in_texts_comments_and_lists_are_no_names(tmp_path: Path) -> None:
    dots = "." * 80
    text = f'# {dots}\na = "{dots}" # {dots}\nb = [{"1.5, " * 80}]\n' + f"c = '{dots}'\n"
    assert toml_of(toml(tmp_path, text))["a"] == dots


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        "[" * 60 + "]" * 60,
        "1" * 41,
        "1e999",
        "NaN",
        "[-Infinity]",
        '"\\ud800"',
        '{"\\u0000": 1}',
    ],
)
def test_json_beyond_the_bounds_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        json_of(text)


def test_sound_json_is_read() -> None:
    assert json_of('{"a": [1, 2.5, null, "\\ud83d\\ude00"]}') == {"a": [1, 2.5, None, "\N{GRINNING FACE}"]}


@pytest.mark.parametrize(
    "xml", [b"", b"<a>", b"no", b'<?xml version="1.0" encoding="utf-7"?><a/>', b"<a>\xff</a>"]
)
def test_what_is_no_xml_is_told(xml: bytes) -> None:
    with pytest.raises(TurnedAway, match="no sound XML"):
        Xml().through(iter([xml]))


def test_a_zip_of_very_many_files_is_refused() -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        for number in range(BOUNDS.files + 1):
            archive.writestr(str(number), b"")
    with pytest.raises(TurnedAway, match="holds 10001 files"), opened(data):
        pass


# --- patterns of a mapping


def test_a_text_that_fits_a_pattern_in_very_many_ways_is_answered_at_once() -> None:
    pattern = "{position} {date}{counter_h}!"
    assert matched(pattern, "1 " + "1" * 390) is None
    assert matched("1{date}1{position}1{counter_h}!", "1" * 30) is None
    assert matched(pattern, "1" * 1_000_000) is None
    assert matched("Main {position} of {date}", "MAIN  3 of 2020-01-01") == {
        "position": "3",
        "date": "2020-01-01",
    }
