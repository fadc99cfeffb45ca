"""A mapping file that says something else is refused in words that name the key."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from wearcast.errors import WrongUse
from wearcast.records.mapping import read_mapping
from wearcast.records.mapping.toml_file import KEYS
from wearcast.records.read import read
from wearcast.records.tables import TABLES

MORE = int(os.environ.get("WEARCAST_EXAMPLES", "0"))
QUICK = settings(
    max_examples=MORE or 60,
    deadline=None,
    derandomize=not MORE,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("mapping = ", "not TOML"),
        ("a = 1\na = 2", "not TOML"),
        ("", "mapping = 1"),
        ("mapping = 2", "mapping = 1"),
        ("mapping = true", "mapping = 1"),
        ("mapping = 1\ncolums = {}", "colums: no key of a mapping. Did you mean columns?"),
        ("mapping = 1\nsheet = 3", "sheet: found 3; expected a text"),
        ('mapping = 1\nheader_row = "A"', "header_row: found 'A'; expected a row number"),
        ("mapping = 1\nheader_row = 0", "expected a row number"),
        ("mapping = 1\nheader_row = []", "one to five"),
        ("mapping = 1\nheader_row = [3, 2]", "rising order"),
        ("mapping = 1\nheader_row = 4\nfirst_row = 4", "beyond header_row"),
        ('mapping = 1\nheader_row = 4\nfirst_column = "B"', "does not go with header_row"),
        ("mapping = 1\nheader_column = 1", "letter of a column"),
        ("mapping = 1\nskip_rows = 3", "expected a list"),
        ('mapping = 1\ntable = "corrections"', "table: found 'corrections'"),
        ('mapping = 1\ndecimal = "p"', "decimal: found 'p'; expected '.' or ','"),
        ("mapping = 1\nempty = 3", "list of texts"),
        ("mapping = 1\ncolumns = 3", "expected a section, [columns]"),
        ('mapping = 1\n[columns]\nvalu = "W"', "valu is no column of readings. Did you mean value?"),
        ("mapping = 1\n[columns]\nvalue = 3", "columns.value: found 3; expected a text"),
        ('mapping = 1\n[columns]\nunit = "U"\n[constants]\nunit = "mm"', "given by columns.unit as well"),
        ('mapping = 1\n[cells]\ndate = "second"', 'cells.date: found "second"; expected a cell such as "C2"'),
        ("mapping = 1\n[constants]\ndate = []", "expected a text in quotes, a number or a date"),
        ("mapping = 1\n[words]\nhalf = 3", "expected a section, [words.half]"),
        ('mapping = 1\n[words.haf]\na = "b"', "haf is no column"),
        ('mapping = 1\ncarry = ["date"]', "date has no heading"),
        ("mapping = 1\nvalues = 3", "expected sections [[values]]"),
        ('mapping = 1\n[[values]]\nunit = "mm"', "heading is missing"),
        ('mapping = 1\n[[values]]\nheading = "{place}"', "place is no column"),
        ('mapping = 1\n[[values]]\nheading = "{half}{point}"', "a text between the braces"),
        ('mapping = 1\n[columns]\nvalue = "W"\n[[values]]\nheading = "a"', "value is given by columns.value"),
        ('mapping = 1\n[columns]\nhalf = "H"\n[[values]]\nheading = "{half}"', "half is given by columns.half"),
        ('mapping = 1\n[[values]]\nheading = "{half}"\nhalf = "lower"', "given twice"),
        ('mapping = 1\ntable = "events"\n[[values]]\nheading = "a"', "events has no column value"),
        ("mapping = 1\n[block]\ntitle = 3", "block.title"),
        ('mapping = 1\n[block]\ntitle = "a"\ncolour = 3', "block.colour: no key"),
    ],
)  # fmt: skip
def test_what_is_no_mapping_is_refused_by_its_key(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "fleet.toml"
    path.write_text(text)
    with pytest.raises(WrongUse) as refused:
        read_mapping(path)
    assert words in str(refused.value)
    assert "fleet.toml" in str(refused.value)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="cannot be read as a mapping"):
        read_mapping(tmp_path / "none.toml")


@QUICK
@given(data=st.binary(max_size=200))
@example(data=b"a = " + b"[" * 100_000)
def test_any_bytes_are_a_mapping_or_refused_in_words(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "fleet.toml"
    path.write_bytes(data)
    with pytest.raises(WrongUse):
        read_mapping(path)


_words = st.sampled_from(
    ['"A"', '"Date"', '"{position}"', '"Wall {half}"', "1", "2", "[1, 2]", '["B"]', "true", '""', '"row 2"', '"B2"',
     '"readings"', "[]", "1.5", "2024-05-17"]
)  # fmt: skip
_names = st.sampled_from([column.name for column in TABLES["readings"].columns])
_line = st.one_of(
    st.builds("{} = {}".format, st.sampled_from(KEYS), _words),
    st.builds(
        "{}.{} = {}".format, st.sampled_from(["columns", "cells", "constants", "words"]), _names, _words
    ),
    st.builds("words.{}.a = {}".format, _names, _words),
    st.builds("block.{} = {}".format, st.sampled_from(["title", "column", "row"]), _words),
)


@QUICK
@given(lines=st.lists(_line, max_size=8), values=st.lists(_words, max_size=2))
def test_any_mapping_on_any_sheet_gives_rows_or_words(
    tmp_path: Path, shapes: Any, lines: list[str], values: list[str]
) -> None:
    path = tmp_path / "fleet.toml"
    melted = "".join(f"\n[[values]]\nheading = {heading}" for heading in values)
    path.write_text("mapping = 1\n" + "\n".join(lines) + melted)
    try:
        mapping = read_mapping(path)
    except WrongUse:
        return
    for shape in shapes.values():
        records = read(shape.write(tmp_path), date(2026, 1, 1), part=True, mapping=mapping)
        assert records.faults or len(records.readings)
        assert all(str(fault).isprintable() and fault.text.endswith(".") for fault in records.faults)
