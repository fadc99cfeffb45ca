"""Mutated files of every kind: a refusal or a result, in words, within 10 s and 1 GB."""

from __future__ import annotations

import os
from pathlib import Path

import mutated_files
import pytest
from mutated_files import Kind

CORPUS = Path(__file__).parent / "corpus"
"""Files that once hung the program, filled the memory or were blamed on it; the end of a name tells the kind."""


@pytest.fixture(autouse=True)
def one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1735689600")
    monkeypatch.delenv("WEARCAST_TRACEBACK", raising=False)


@pytest.fixture(scope="module")
def kinds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Kind]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1735689600")
        patch.setenv("WEARCAST_CHROMIUM", "/nowhere")  # no PDF in the packs: nothing here reads one
        return {kind.name: kind for kind in mutated_files.kinds(tmp_path_factory.mktemp("sound"))}


def test_mutated_files_are_refused_or_read_and_never_blamed_on_the_program(kinds: dict[str, Kind]) -> None:
    files = int(os.environ.get("WEARCAST_MUTATED", "110"))
    found = mutated_files.study(list(kinds.values()), range(1, files + 1), seed=7)
    assert found.bad == []
    assert found.files.keys() == kinds.keys()


@pytest.mark.parametrize("name", ["readings.csv", "spares.csv", "settings.toml", "pack.zip", "book.zip"])
def test_a_sound_file_goes_through_the_whole_command(kinds: dict[str, Kind], name: str) -> None:
    assert mutated_files.trouble_with(kinds[name], kinds[name].sound)[0] == ""


@pytest.mark.parametrize("path", sorted(CORPUS.iterdir()), ids=lambda path: path.name)
def test_every_file_of_the_corpus_is_refused_or_read(path: Path, kinds: dict[str, Kind]) -> None:
    kind = kinds[path.name.rpartition("-")[2]]
    assert mutated_files.trouble_with(kind, path.read_bytes(), whole=False)[0] == ""


def test_the_study_finds_what_is_blamed_on_the_program(
    kinds: dict[str, Kind], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("wearcast.records.folder.entries", lambda _: 1 / 0)
    kind = kinds["readings.csv"]
    assert mutated_files.BLAMED in mutated_files.trouble_with(kind, kind.sound)[0]
