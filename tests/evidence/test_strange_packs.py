"""A pack from a stranger: only what such a pack uses is read, and a book in it is looked at before its rows are."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing

import pytest

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.errors import OutputFailed
from wearcast.evidence.asked import NotAPack, asked_from
from wearcast.evidence.compare import differences
from wearcast.evidence.given import book_trouble
from wearcast.evidence.leaves import Leaf
from wearcast.evidence.repeat import repeat
from wearcast.evidence.theta import recorded_from
from wearcast.evidence.unpack import bag_faults
from wearcast.settings import Settings


@pytest.mark.parametrize(
    "name", ["manifest-md5.txt", "tagmanifest-sha512.txt", "manifest-shake_128.txt", "manifest-x.txt"]
)
def test_only_the_digest_of_these_packs_is_used(opened, name):
    (opened / name).write_text("d41d8cd98f00b204e9800998ecf8427e  data/run.json\n", encoding="utf-8")
    assert bag_faults(opened) == [
        f"This is no valid bag: it has {name}; packs use manifest-sha256.txt and tagmanifest-sha256.txt."
    ]


@pytest.mark.parametrize(
    "text",
    [b"", b"\xff\xfe", b"BagIt-Version: x\n", b"BagIt-Version: 1.0\nTag-File-Character-Encoding: no\n", b"\x00" * 99],
    ids=["empty", "other encoding", "no version", "no such encoding", "zeros"],
)  # fmt: skip
@pytest.mark.parametrize("name", ["bagit.txt", "manifest-sha256.txt", "bag-info.txt"])
def test_a_declaration_that_cannot_be_read_is_told(opened, name, text):
    (opened / name).write_bytes(text)
    assert bag_faults(opened)


ASKED = {
    "format": 1, "program": "wearcast 0", "run_date": "2026-01-01", "as_of": None, "vessel": "A", "engine": "1",
    "survey": "", "organization": "", "leave_out_faulty": False, "input": "", "horizon_years": 5,
    "review_days": 90, "pdf": False,
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "value"),
    [("horizon_years", "1e999"), ("horizon_years", "NaN"), ("review_days", "1" * 41), ("format", "1e999"),
     ("format", "Infinity"), ("vessel", '"\\ud800"'), ("run_date", '"9999-12-31"'),
     ("as_of", '"0001-01-01"'), ("engine", "[" * 5000)],
)  # fmt: skip
def test_what_was_asked_is_finite_and_in_range(name, value):
    text = json.dumps(ASKED).replace(f'"{name}": {json.dumps(ASKED[name])}', f'"{name}": {value}')
    assert value in text
    with pytest.raises(NotAPack, match="is not understood"):
        asked_from(text, Settings())


@pytest.mark.parametrize("value", ["1e999", "-1.0", "NaN", "1e300", '"x"', "[[[]]]"])
@pytest.mark.parametrize("name", ["at_the_mode", "averaged_over", "weights", "objective"])
def test_recorded_standard_deviations_are_finite_and_in_range(packed, opened, name, value):
    text = (opened / "data" / "theta.json").read_text(encoding="utf-8")
    changed = re.sub(rf'("{name}":[\s\[]*)[-\d.e]+', lambda found: found[1] + value, text, count=1)
    assert changed != text
    if name == "objective" and value in ("-1.0", "1e300"):
        return
    with pytest.raises(NotAPack, match="is not understood"):
        recorded_from(changed)


def test_recorded_tables_that_cannot_be_read_differ():
    csv_leaf, json_leaf = Leaf("a.csv", "a\n1\n", "csv", ("a",)), Leaf("a.json", "[]", "json", ())
    assert "not understood" in differences("a\n" + "x" * 200_000 + "\n", csv_leaf)[0].recorded
    assert "not understood" in differences('[{"a": ' + "9" * 5000 + "}]", json_leaf)[0].recorded


@pytest.fixture
def book(fleet, tmp_path):
    create(tmp_path / "records.book")
    add(tmp_path / "records.book", fleet, "A. Bell")
    return tmp_path / "records.book"


@pytest.mark.parametrize(
    ("statements", "words"),
    [
        ("CREATE TRIGGER t AFTER INSERT ON readings BEGIN SELECT load_extension('x'); END", "the guard t was put in"),
        ("ALTER TABLE spares RENAME TO s; CREATE VIEW spares AS "
         "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x FROM c) SELECT * FROM s, c",
         "is not as it was made|was put in|is missing"),
        ("CREATE TABLE more (a)", "the table more was put in"),
    ],
)  # fmt: skip
def test_a_book_of_another_schema_is_not_read(book, statements, words):
    assert book_trouble(book) == ""
    with closing(sqlite3.connect(book)) as connection:
        connection.executescript(statements)
    with pytest.raises(OutputFailed, match=words):
        book_trouble(book)


def test_a_damaged_book_is_told_before_it_is_read(book):
    data = bytearray(book.read_bytes())
    for page in range(1, len(data) // 4096):
        data[4096 * page : 4096 * page + 8] = b"\xff" * 8
    book.write_bytes(data)
    with pytest.raises(OutputFailed, match="the file is damaged"):
        book_trouble(book)


def test_settings_nested_too_deep_are_told(opened, closed):
    (opened / "data" / "settings.toml").write_text("a = " + "[" * 5000 + "]" * 5000 + "\n", encoding="utf-8")
    with pytest.raises(NotAPack, match="settings in the pack are not understood"):
        repeat(closed())
