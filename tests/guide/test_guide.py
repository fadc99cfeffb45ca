"""The guide is whole: every statement, kind of query and column stands in it, and its links lead somewhere."""

from __future__ import annotations

import ast
import re
import sys
from pathlib import Path

import pytest
from shown_commands import blocks

from wearcast.cli.main import run
from wearcast.door.bounds import BOUNDS
from wearcast.errors import WrongUse
from wearcast.forecasting.statements import RESTS_ON, STATEMENTS
from wearcast.guide.pages import ORDER, page, pages
from wearcast.queries import KINDS
from wearcast.records.mapping import read_mapping
from wearcast.records.tables import TABLES
from wearcast.settings import read_settings

ROOT = Path(__file__).parents[2]


def rows_of_table(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith("| `")]


def test_every_page_of_the_folder_is_in_the_order() -> None:
    assert sorted(ORDER) == sorted(path.stem for path in (ROOT / "wearcast" / "guide").glob("*.md"))
    assert all(one.title and one.text.startswith(f"# {one.title}\n") for one in pages())


def test_every_statement_is_explained_in_order_of_weight() -> None:
    told = [line.split("`")[1] for line in rows_of_table(page("statements").text)]
    assert told == [name for name, _ in (*STATEMENTS, *RESTS_ON)]


def test_every_kind_of_query_is_explained_under_what_it_does() -> None:
    refused, doubted = page("messages").text.split("## Doubted", 1)
    for section, stops in ((refused, True), (doubted, False)):
        told = {line.split("`")[1] for line in rows_of_table(section)}
        assert told == {name for name, kind in KINDS.items() if kind.stops_run == stops}
    for line in rows_of_table(refused):
        kind = KINDS[line.split("`")[1]]
        assert ("cannot be left out" in line.lower()) == (not kind.can_be_left_out), kind.name


def test_every_column_of_the_forecast_has_its_meaning() -> None:
    from wearcast.forecasting.table import COLUMNS

    told = {name for line in rows_of_table(page("glossary").text) for name in re.findall(r"`(\w+)`", line)}
    assert told == set(COLUMNS)


def test_every_range_of_a_number_is_told() -> None:
    lines = page("records").text.splitlines()
    for column in (
        column for table in TABLES.values() for column in table.columns if column.cell == "number"
    ):
        told = f"| {column.least:,.10g} to {column.most:,.10g} |"
        assert any(f"`{column.name}`" in line and line.endswith(told) for line in lines), column.name


def test_every_bound_of_what_is_let_in_is_told() -> None:
    told = re.findall(r"^\| ([\d,]+) \| (.*) \|$", page("records").text, re.MULTILINE)
    assert told == [(f"{number:,}", of) for _, number, of in BOUNDS.told()]


def test_tables_named_in_the_guide_exist() -> None:
    text = page("records").text
    for name in ("readings", "engines", "limits", "events", "windows", "spares", "corrections"):
        assert name in TABLES
        assert f"`{name}`" in text


def test_calibration_figures_are_those_measured() -> None:
    """The figures of the guide stand in the contributors' tables, which the study scripts print."""
    measured = re.sub(r" ± [\d.]+", "", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    measured_rows = [[cell.strip() for cell in line.split("|")] for line in measured.splitlines()]
    rows = [line for line in page("trust").text.splitlines() if re.match(r"\| \d", line)]
    assert len(rows) == 12
    for line in rows:
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        assert any(row[1:2] == cells[:1] and set(cells) <= set(row) for row in measured_rows), line


def test_the_page_asked_for_is_printed(capsys, monkeypatch) -> None:
    monkeypatch.setattr(sys, "argv", ["wearcast", "guide", "safety"])
    with pytest.raises(SystemExit) as stop:
        run()
    assert stop.value.code == 0
    out = capsys.readouterr().out
    assert "People die in crankcases" in out
    assert all(len(line) <= 100 and line == line.rstrip() for line in out.splitlines())


def test_an_unknown_page_names_those_there_are() -> None:
    with pytest.raises(WrongUse, match="statements"):
        page("nonsense")


def test_links_to_pages_lead_somewhere() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for link in re.findall(r"\]\((?!https?:|#)([^)#]+)", readme):
        assert (ROOT / link).exists(), link
    text = "\n".join(one.text for one in pages()) + readme
    for name in re.findall(r"wearcast guide ([a-z]+)\b", text):
        assert name in ORDER, name


@pytest.mark.usefixtures("forecast_once")
def test_the_notebook_page_runs_as_it_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every cell in turn; what a cell ends with is shown as a notebook shows it."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795600000")
    names: dict[str, object] = {}
    shown = 0
    for cell in blocks(page("notebook").text, "python"):
        *before, last = ast.parse(cell).body
        exec(compile(ast.Module(before, []), "notebook.md", "exec"), names)
        if isinstance(last, ast.Expr):
            value = eval(compile(ast.Expression(last.value), "notebook.md", "eval"), names)
            assert getattr(value, "_repr_html_", lambda: repr(value))()  # noqa: B023
            shown += 1
    assert shown >= 5


def test_toml_shown_is_read(tmp_path: Path) -> None:
    """Settings in the README, a mapping in the guide."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, text, read in (
        ("settings", readme, read_settings),
        ("mapping", page("own").text, read_mapping),
    ):
        (shown,) = blocks(text, "toml")
        (tmp_path / f"{name}.toml").write_text(shown, encoding="utf-8")
        read(tmp_path / f"{name}.toml")
