"""A ship's name that is only nearly right is asked about by every command; any spelling of the right one will do."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from wearcast.book.add import add
from wearcast.book.create import create
from wearcast.cli.main import run
from wearcast.lives.only import Only

READINGS = [
    {"vessel": "Merrow Dain", "date": on, "counter_h": h, "value": value}
    for on, h, value in (("2016-05-01", 10_000, 7.985), ("2019-05-01", 25_000, 7.975))
]
ENGINES = [{"vessel": "Merrow Dain", "hours_per_year": 5000}]
NEARLY = ("--vessel", "Merow Dane")
COMMANDS = [
    ("forecast", "{records}", *NEARLY),
    ("check", "{records}", *NEARLY),
    ("brief", "{records}", *NEARLY),
    ("plan", "{records}", *NEARLY),
    ("report", "{records}", *NEARLY, "--out", "{out}"),
    ("form", "{records}", *NEARLY, "--engine", "1", "--opening", "2027-01-01", "--out", "{out}.xlsx"),
    ("evidence", "pack", "{records}", *NEARLY, "--engine", "1", "--out", "{out}.zip"),
    ("book", "history", "{book}", *NEARLY, "--engine", "1", "--bearing", "main", "--position", "1"),
    ("book", "hours", "{book}", *NEARLY, "--engine", "1", "--date", "2020-01-01", "--hours", "30000", "--by", "A"),
]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(command[:2]))
def test_a_vessel_nearly_named_is_asked_about(
    command: tuple[str, ...],
    record_folder: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    records, book, out = (
        record_folder(readings=READINGS, engines=ENGINES),
        tmp_path / "fleet.book",
        tmp_path / "out",
    )
    if command[0] == "book":
        create(book)
        add(book, records, "A. Bell")
    told = [part.format(records=records, book=book, out=out) for part in command]
    monkeypatch.setattr(sys, "argv", ["wearcast", *told])
    with pytest.raises(SystemExit) as stop:
        run()
    assert stop.value.code in (1, 2)
    assert "Did you mean Merrow Dain?" in " ".join(capsys.readouterr().err.split())
    assert not list(tmp_path.glob("out*"))


def test_the_name_that_nothing_has_is_the_one_asked_about() -> None:
    there = [("Merrow Dain", "ME", "main", "4"), ("Merrow Dain", "ME", "big_end", "2")]
    for only, meant in (
        (Only("Merrow Dain", "MME"), "ME"),
        (Only("merrow-dain", "me", "man 4"), "main 4"),
        (Only("merrow dain", bearing="big ent"), "big end"),
    ):
        with pytest.raises(Exception, match=f"Did you mean {meant}\\?"):
            only.among(there)
    assert Only("MERROW DAIN", "m-e", "Big-End 2").among(there)
