"""Mutated files of every kind: a refusal or a result, in words, within 10 s and 1 GB."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import mutated_files
import pytest

CORPUS = Path(__file__).parent / "corpus"
"""Files that once hung the program, filled the memory or were blamed on it; the end of a name tells the kind."""


def test_mutated_files_are_refused_or_read_and_never_blamed_on_the_program() -> None:
    script = Path(mutated_files.__file__)
    number = os.environ.get("WEARCAST_MUTATED", "120")
    with tempfile.TemporaryDirectory() as keep:
        done = subprocess.run(
            [sys.executable, str(script), "--files", number, "--seed", "7", "--keep", keep],
            capture_output=True, text=True, check=True, timeout=1800,
        )  # fmt: skip
    assert f"| all | {number} | 0 |" in done.stdout, done.stderr[-4000:]


@pytest.fixture(scope="module")
def kinds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, mutated_files.Kind]:
    return {kind.name: kind for kind in mutated_files.kinds(tmp_path_factory.mktemp("sound"))}


@pytest.mark.parametrize("path", sorted(CORPUS.iterdir()), ids=lambda path: path.name)
def test_every_file_of_the_corpus_is_refused_or_read(
    path: Path, kinds: dict[str, mutated_files.Kind]
) -> None:
    kind = kinds[path.name.rpartition("-")[2]]
    assert mutated_files.trouble_with(kind, path.read_bytes())[0] == ""


def test_the_study_finds_what_is_blamed_on_the_program(
    kinds: dict[str, mutated_files.Kind], monkeypatch: pytest.MonkeyPatch
) -> None:
    from wearcast.cli import check

    monkeypatch.setattr("wearcast.door.files.entries", lambda _: 1 / 0)
    monkeypatch.setattr("wearcast.records.folder.entries", lambda _: 1 / 0)
    kind = kinds["readings.csv"]
    assert mutated_files.BLAMED in mutated_files.trouble_with(kind, kind.sound)[0]
    assert check
