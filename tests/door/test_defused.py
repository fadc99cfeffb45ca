"""What leaves runs nothing where a person opens it, and what must read back exactly does."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.book.export import export
from wearcast.book.read import read as read_book
from wearcast.queries import Query
from wearcast.records.csv_files import read_csv
from wearcast.records.read import read
from wearcast.records.tables import TABLES
from wearcast.report.words import file_names
from wearcast.texts import FORMULA_STARTS, MARKER, csv_text, exact_csv, is_formula

Make = Callable[..., Path]
CELL = st.one_of(
    st.sampled_from(["=1+1", "'=1+1", "''", "'x", "-0.012", "+7", "-", "@a", "-a", "\tx", "=", "7,98", "a\nb", 'a"b']),
    st.text(st.characters(codec="utf-8", exclude_characters="\r\x00"), max_size=6),
)  # fmt: skip


@settings(deadline=None, derandomize=True)
@given(
    rows=st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=5),
    names=st.sampled_from([("remark", "own"), ("=x", "'y")]),
)
def test_an_exact_export_reads_back_exactly_and_runs_nothing(
    rows: list[tuple[str, ...]], names: tuple[str, str]
) -> None:
    stripped = [tuple(cell.strip() for cell in row) for row in rows]
    text = exact_csv(["vessel", *names], stripped)
    for row in csv.reader(io.StringIO(text, newline="")):
        assert not any(map(is_formula, row))
    grid, faults = read_csv(io.BytesIO(text.encode()), "readings.csv", TABLES["readings"])
    assert not faults
    assert grid is not None
    back = [tuple(str(column[k]) for column in grid.columns) for k in range(len(grid.numbers))]
    assert [column.name for column in grid.columns] == ["vessel", *names]
    assert back == [row for row in stripped if any(row)]


def test_an_export_without_formulas_has_no_marker() -> None:
    assert exact_csv(["a", "b"], [["-0.012", "x"]]) == "a,b\n-0.012,x\n"
    assert MARKER not in exact_csv(["a"], [["'x"]])


def test_a_book_with_formulas_is_exported_defused_and_comes_back(tmp_path: Path, record_folder: Make) -> None:
    words = {"remark": '=HYPERLINK("x")', "vessel": "@Alder", "instrument": "'quoted"}
    folder = record_folder(readings=[words], engines=[{"vessel": "@Alder"}])
    create(tmp_path / "one.book")
    add(tmp_path / "one.book", folder, "A. Bell")
    out = tmp_path / "out"
    out.mkdir()
    for name, text in export(tmp_path / "one.book").items():
        (out / name).write_text(text, encoding="utf-8", newline="")
    assert "'=HYPERLINK" in (out / "readings.csv").read_text(encoding="utf-8")
    assert MARKER in (out / "about.txt").read_text(encoding="utf-8")
    create(tmp_path / "two.book")
    add(tmp_path / "two.book", out, "A. Bell")
    for name, text in words.items():
        assert read_book(tmp_path / "two.book").readings[name].tolist() == [text]
    assert export(tmp_path / "two.book")["readings.csv"] == (out / "readings.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("sign", FORMULA_STARTS)
def test_a_result_as_csv_runs_nothing(sign: str) -> None:
    text = csv_text(pd.DataFrame({f"{sign}name": [f"{sign}1+1"]}))
    assert [cell[0] for row in csv.reader(io.StringIO(text)) for cell in row] == ["'", "'"]


@pytest.mark.parametrize("sign", ["\x1b", "\x07", "\u202e", "\u2066", "\u200f", "\x9b"])
def test_signs_that_are_not_seen_are_written_out_in_names(record_folder: Make, sign: str) -> None:
    folder = record_folder(
        readings=[{"vessel": f"Al{sign}der", "remark": f"a{sign}b"}], engines=[{"vessel": f"Al{sign}der"}]
    )
    records = read(folder)
    assert records.faults == ()
    for text in (*records.readings["vessel"], *records.readings["remark"], *records.engines["vessel"]):
        assert sign not in text
        assert sign.encode("unicode_escape").decode() in text
    assert sign not in str(Query("outlier", "x.", file=f"a{sign}.xlsx", sheet=f"s{sign}"))


def test_file_names_of_vessels_are_safe_everywhere_and_unlike() -> None:
    vessels = [
        "CON",
        "nul",
        "../../etc",
        "a/b",
        "a\\b",
        "a:b",
        "A B",
        "a  b",
        "a.b",
        "船",
        "舟",
        "",
        " ",
        "x" * 300,
        "x" * 301,
        "é",
        "e",
    ]
    names = list(file_names([(vessel, "1") for vessel in vessels]).values())
    assert len({name.casefold() for name in names}) == len(vessels)
    for name in names:
        assert len(name) < 100
        assert name.removesuffix(".html").replace("-", "").isalnum()
        assert name.isascii()
