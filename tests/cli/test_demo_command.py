"""The demo is shipped data, copied whole and only where it may be."""

from __future__ import annotations

from pathlib import Path

import pytest

from wearcast.cli.demo import write_demo
from wearcast.errors import WrongUse

SAMPLE_DATA = Path(__file__).parents[2] / "sample_data"


def test_the_demo_command_makes_the_folder_and_copies_every_byte(tmp_path):
    place = tmp_path / "new" / "demo"
    write_demo(place)

    def held(folder: Path) -> dict[Path, bytes]:
        return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    assert held(place) == held(SAMPLE_DATA)


def test_the_demo_command_replaces_an_earlier_demo(tmp_path):
    write_demo(tmp_path)
    (tmp_path / "readings.csv").write_text("changed", encoding="utf-8")
    write_demo(tmp_path)
    assert (tmp_path / "readings.csv").read_bytes() == (SAMPLE_DATA / "readings.csv").read_bytes()


@pytest.mark.parametrize("name", ["readings.csv", "truth.json", "notes.txt"])
def test_the_demo_command_refuses_a_folder_with_other_work_in_it(tmp_path, name):
    (tmp_path / name).write_text('{"made_by": "somebody"}', encoding="utf-8")
    with pytest.raises(WrongUse, match="holds no earlier demo"):
        write_demo(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_the_demo_command_refuses_a_file_as_folder(tmp_path):
    (tmp_path / "demo").write_text("", encoding="utf-8")
    with pytest.raises(WrongUse, match="is a file"):
        write_demo(tmp_path / "demo")
