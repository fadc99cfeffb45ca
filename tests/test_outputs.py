"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from wearcast.errors import OutputFailed
from wearcast.outputs import staged, write_all, write_whole


def test_a_file_is_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "f.csv"
    write_whole(target, "one\n")
    write_whole(target, b"two\n")
    assert target.read_bytes() == b"two\n"
    assert [path.name for path in target.parent.iterdir()] == ["f.csv"]


def test_a_failed_write_leaves_no_part_behind(tmp_path: Path) -> None:
    (tmp_path / "f.csv").mkdir()
    with pytest.raises(OutputFailed, match=r"cannot be written .* Nothing was changed there"):
        write_whole(tmp_path / "f.csv", "x")
    assert [path.name for path in tmp_path.iterdir()] == ["f.csv"]


def test_of_several_files_none_is_moved_if_one_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "b.html").mkdir()
    (tmp_path / "a.html").write_text("old", encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"b\.html: cannot be written"):
        write_all({tmp_path / "a.html": "new", tmp_path / "b.html": "new"})
    assert (tmp_path / "a.html").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "b.html"]


def write_new(folder: Path, *names: str) -> None:
    with staged(folder) as stage:
        for name in names:
            (stage / name).write_text("new", encoding="utf-8")


def test_staged_files_are_moved_together(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    out.mkdir(parents=True)
    (out / "a.html").write_text("old", encoding="utf-8")
    (out / "other.txt").write_text("mine", encoding="utf-8")
    with staged(out) as stage:
        (stage / "a.html").write_text("new", encoding="utf-8")
        (stage / "b.html").write_text("new", encoding="utf-8")
        assert (out / "a.html").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in out.iterdir()) == ["a.html", "b.html", "other.txt"]
    assert (out / "a.html").read_text(encoding="utf-8") == "new"


def test_what_fails_half_way_leaves_nothing_not_even_the_folder(tmp_path: Path) -> None:
    def fails() -> None:
        with staged(tmp_path / "deep" / "out") as stage:
            (stage / "a.html").write_text("new", encoding="utf-8")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fails()
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_place_of_a_file_stops_all_of_them(tmp_path: Path) -> None:
    (tmp_path / "b.html").mkdir()
    (tmp_path / "a.html").write_text("old", encoding="utf-8")
    with pytest.raises(OutputFailed, match=r"b\.html is a folder there"):
        write_new(tmp_path, "a.html", "b.html")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "b.html"]
    assert (tmp_path / "a.html").read_text(encoding="utf-8") == "old"


def test_files_moved_before_one_that_cannot_be_are_put_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.html").write_text("old", encoding="utf-8")
    move = Path.replace

    def full(self: Path, target: Path) -> Path:
        if self.name == "c.html" and target.parent == tmp_path:
            raise OSError(28, "No space left on device")
        return move(self, target)

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputFailed, match="No space left"):
        write_new(tmp_path, "a.html", "b.html", "c.html")
    assert [path.name for path in tmp_path.iterdir()] == ["a.html"]
    assert (tmp_path / "a.html").read_text(encoding="utf-8") == "old"
