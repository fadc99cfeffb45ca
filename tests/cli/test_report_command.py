"""`wearcast report` as a user calls it: whole or not at all, the same bytes always, PDF only by a Chromium."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest

from wearcast.cli import pdf
from wearcast.cli.main import run
from wearcast.cli.report import Printing, write_pages
from wearcast.errors import OutputFailed

LINERS = Path(__file__).parents[1] / "record_sets" / "marine_liners"
PAGES = ["index.html", "liner-study-e1.html"]
EPOCH = "1795564800"  # 2026-11-25


def called(*arguments: object) -> int:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        try:
            run()
        except SystemExit as stop:
            return int(stop.code or 0)
    return 0


def test_pages_stand_in_the_folder_and_the_way_to_open_them_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert called("report", LINERS, "--out", tmp_path / "new" / "out", "--no-backtest") == 0
    assert sorted(path.name for path in (tmp_path / "new" / "out").iterdir()) == PAGES
    said = capsys.readouterr().out
    assert said == f"Wrote 2 pages. Open {tmp_path / 'new' / 'out' / 'index.html'} in a browser.\n"


def test_pages_of_one_engine_alone_and_the_index_says_so(tmp_path: Path) -> None:
    fleet = Path(__file__).parents[2] / "sample_data"
    quick = ("--no-backtest", "--no-decisions", "--quiet")
    assert (
        called("report", fleet, "--out", tmp_path, "--vessel", "Merrow Dain", "--engine", "ME", *quick) == 0
    )
    assert sorted(path.name for path in tmp_path.iterdir()) == ["index.html", "merrow-dain-me.html"]
    index = (tmp_path / "index.html").read_text(encoding="utf-8")
    assert "1 of 4 engines, as asked for; the forecast rests on all of them" in index
    assert 'href="ossel-brae-me.html' not in index


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--vessel", "Nowhere"), "Nowhere: these records hold no such engine"),
        (("--engine", "E99"), "E99: these records hold no such engine"),
    ],
)
def test_an_engine_that_is_not_there_is_wrong_use(
    asked: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert called("report", LINERS, "--out", tmp_path / "out", *asked) == 2
    assert said in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_two_runs_give_the_same_bytes_whatever_the_hash_seed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once here, by whatever seed this process has, and once in another process by another."""
    other = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    assert called("report", LINERS, "--out", tmp_path / "here", "--quiet") == 0
    subprocess.run(
        [sys.executable, "-m", "wearcast", "report", LINERS, "--out", tmp_path / "there", "--quiet"],
        env={**os.environ, "PYTHONHASHSEED": other},
        check=True,
    )
    for name in PAGES:
        assert (tmp_path / "here" / name).read_bytes() == (tmp_path / "there" / name).read_bytes()


def test_a_page_that_cannot_be_made_leaves_what_stood_there(tmp_path: Path) -> None:
    def pages() -> Iterator[tuple[str, str]]:
        yield "index.html", "new"
        raise RuntimeError

    (tmp_path / "index.html").write_text("old", encoding="utf-8")
    with pytest.raises(RuntimeError):
        write_pages(tmp_path, pages(), Printing("", date(2026, 11, 25), whole=False, places=False))
    assert (tmp_path / "index.html").read_text(encoding="utf-8") == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_a_chromium_pdf_ends_with_1_a_sentence_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(pdf.VARIABLE, raising=False)
    monkeypatch.setattr(pdf.shutil, "which", lambda _: None)
    monkeypatch.setattr(pdf, "PLACES", {})
    assert called("report", LINERS, "--out", tmp_path / "out", "--pdf") == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("wearcast: No Chromium was found to print the PDF with. Nothing was written.")
    assert pdf.VARIABLE in said.err
    assert list(tmp_path.iterdir()) == []


def test_a_program_that_is_named_and_not_there_is_not_replaced_by_another(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(pdf.VARIABLE, str(tmp_path / "none"))
    with pytest.raises(OutputFailed, match="no program is there"):
        pdf.find_chromium()


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("echo 'out of memory' >&2; exit 3", "out of memory"),
        ("exit 4", "the program ended with 4"),
        (
            "for a; do case $a in --print-to-pdf=*) printf '%%PDF-1.4 half' >\"${a#*=}\";; esac; done",
            "ended with 0",
        ),
    ],
)
def test_a_print_that_fails_is_told_and_leaves_nothing(
    script: str, said: str, tmp_path: Path, stand_in: Callable[[str], str]
) -> None:
    printing = Printing(stand_in(script), date(2026, 11, 25), whole=True, places=False)
    with pytest.raises(OutputFailed, match=r"index\.html could not be printed to PDF: ") as failed:
        write_pages(tmp_path / "out", [("index.html", "<p>")], printing)
    assert said in str(failed.value)
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
def test_a_print_that_hangs_is_ended(
    tmp_path: Path, stand_in: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pdf, "PATIENCE_S", 0.2)
    with pytest.raises(OutputFailed, match=r"longer than 0 s"):
        pdf.print_page(stand_in("exec sleep 30"), tmp_path / "a.html", tmp_path / "a.pdf", date(2026, 11, 25))


@pytest.fixture
def stand_in(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    """A program that does what a line of shell says in place of a Chromium."""

    def make(script: str) -> str:
        path = tmp_path_factory.mktemp("bin") / "chromium"
        path.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
        path.chmod(path.stat().st_mode | stat.S_IXUSR)
        return str(path)

    return make
