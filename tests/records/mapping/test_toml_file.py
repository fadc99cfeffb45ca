"""A mapping file is read whole or refused in words, naming the key."""

from __future__ import annotations

from pathlib import Path

import pytest

from wearcast.errors import WrongUse
from wearcast.records.mapping import read_mapping
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.toml_file import written

WHOLE = Mapping(
    "shape.toml", decimal=",", date_order="day month year", sheets=("Wear",), marks=("n/m",), given={"engine": "1"},
    files={"may.xlsx": {"date": "2024-05-17"}},
    texts={'a "b" {position}': "main lower", "Uren": "counter_h", "gem.": "nothing"},
)  # fmt: skip


def test_what_is_written_is_what_is_read(tmp_path: Path) -> None:
    path = tmp_path / "shape.toml"
    path.write_text(written(WHOLE, {}, ["a comment"]), encoding="utf-8")
    assert read_mapping(path) == WHOLE


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("mapping = 1", "expected the line mapping = 2"),
        ("mapping = 2\ncolumns = {}", "columns: no key of a mapping"),
        ('mapping = 2\n[given]\ndate = "2024-05-17"', "another sheet is of another opening"),
        ('mapping = 2\n[given]\nvesel = "Alder"', "Did you mean vessel?"),
        ('mapping = 2\n[texts]\n"Onder" = "downer"', "found downer; expected words of the readings table"),
        ('mapping = 2\n[texts]\n"Main {number}" = "main"', "in braces stand position, date or counter_h"),
        ('mapping = 2\n[texts]\n"X" = "main big_end"', "found big_end"),
        ('mapping = 2\ndecimal = ";"', "expected '.', ',' or '?'"),
        ("mapping = 2\nmarks = 3", "expected a list of texts"),
        ("mapping = ", "cannot be read as a mapping"),
    ],
)
def test_a_mapping_that_is_none_is_refused_by_its_key(tmp_path: Path, line: str, words: str) -> None:
    path = tmp_path / "shape.toml"
    path.write_text(line + "\n", encoding="utf-8")
    with pytest.raises(WrongUse) as refused:
        read_mapping(path)
    assert words in str(refused.value)
