"""Files are written whole or not at all."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from wearcast.cli.main import run
from wearcast.door.files import bytes_of
from wearcast.errors import OutputFailed
from wearcast.outputs import staged, write_all, write_whole

PACKAGE = Path(sys.modules["wearcast"].__file__ or "").parent


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


LINERS = Path(__file__).parent / "record_sets" / "marine_liners"


@pytest.fixture
def records(tmp_path: Path) -> Path:
    return Path(shutil.copytree(LINERS, tmp_path / "sm"))


@pytest.fixture
def wearcast(monkeypatch: pytest.MonkeyPatch, capfdbinary) -> Callable[..., tuple[int, bytes, str]]:
    def call(*arguments: object) -> tuple[int, bytes, str]:
        monkeypatch.setattr(sys, "argv", ["wearcast", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capfdbinary.readouterr()
        return code, out, " ".join(err.decode().split())

    return call


@pytest.mark.parametrize("how", ["by name", "by another way", "by a link", "by a hard link"])
def test_an_input_of_the_run_is_never_written_over(records: Path, tmp_path: Path, wearcast, how: str) -> None:
    target = records / "readings.csv"
    before = target.read_bytes()
    match how:
        case "by another way":
            target = records / ".." / "sm" / "readings.csv"
        case "by a link":
            (tmp_path / "l.csv").symlink_to(target)
            target = tmp_path / "l.csv"
        case "by a hard link":
            os.link(target, tmp_path / "h.csv")
            target = tmp_path / "h.csv"
    for command in (
        ("forecast", records, "--csv"),
        ("check", records, "--json"),
        ("check", records, "--draft-corrections"),
    ):
        code, _, err = wearcast(*command, target)
        assert (code, "is an input of the same run and was not overwritten" in err) == (1, True), err
    assert (records / "readings.csv").read_bytes() == before


def test_settings_a_book_and_a_mapping_are_inputs_too(records: Path, tmp_path: Path, wearcast) -> None:
    settings = tmp_path / "s.toml"
    settings.write_text("risk = 0.2\n", encoding="utf-8")
    assert wearcast("forecast", records, "--settings", settings, "--csv", settings, "-q")[0] == 1
    assert settings.read_text(encoding="utf-8") == "risk = 0.2\n"
    book = tmp_path / "f.book"
    assert wearcast("book", "create", book, "-q")[0] == 0
    assert wearcast("book", "add", book, records, "--by", "A. Bell", "-q")[0] == 0
    before = book.read_bytes()
    assert wearcast("forecast", book, "--csv", book, "-q")[0] == 1
    assert wearcast("book", "add", book, records, "--by", "A. Bell", "-q")[0] == 0
    assert book.read_bytes() == before


def test_a_file_with_the_number_of_a_gone_input_is_no_input(tmp_path: Path) -> None:
    (tmp_path / "input").write_text("read", encoding="utf-8")
    bytes_of(tmp_path / "input")
    (tmp_path / "again").hardlink_to(tmp_path / "input")
    with pytest.raises(OutputFailed, match="input of the same run"):
        write_all({tmp_path / "again": "new"})
    (tmp_path / "input").unlink()  # another file may be given its number
    write_all({tmp_path / "again": "new"})
    assert (tmp_path / "again").read_text(encoding="utf-8") == "new"


def test_a_link_is_written_through(records: Path, tmp_path: Path, wearcast) -> None:
    (tmp_path / "real.csv").write_text("old", encoding="utf-8")
    (tmp_path / "l.csv").symlink_to("real.csv")
    assert wearcast("forecast", records, "--csv", tmp_path / "l.csv", "-q")[0] == 0
    assert (tmp_path / "l.csv").is_symlink()
    assert (tmp_path / "real.csv").read_text(encoding="utf-8").startswith("vessel,")


def test_a_pipe_and_a_device_are_written_into_and_stay(records: Path, tmp_path: Path, wearcast) -> None:
    os.mkfifo(tmp_path / "pipe")
    got: list[bytes] = []
    reader = threading.Thread(target=lambda: got.append((tmp_path / "pipe").read_bytes()))
    reader.start()
    assert wearcast("forecast", records, "--csv", tmp_path / "pipe", "-q")[0] == 0
    reader.join()
    assert got[0].startswith(b"vessel,")
    assert (tmp_path / "pipe").is_fifo()
    assert wearcast("forecast", records, "--csv", "/dev/null", "-q")[0] == 0
    assert Path("/dev/null").is_char_device()


def test_a_hyphen_is_the_standard_output(records: Path, tmp_path: Path, wearcast, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, _ = wearcast("forecast", records, "--csv", "-", "-q")
    assert (code, out.startswith(b"vessel,")) == (0, True)
    assert not (tmp_path / "-").exists()


def test_two_outputs_of_one_place_are_refused(records: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="two outputs go to one place"):
        write_all({tmp_path / "a": "1", tmp_path / "b" / ".." / "a": "2"})
    assert not (tmp_path / "a").exists()


def started(*arguments: str, **more) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-m", "wearcast", *arguments], stderr=subprocess.PIPE, **more)


@pytest.mark.parametrize("after_s", [0.15, 0.5, 1.0])
def test_a_run_broken_off_prints_no_traceback(after_s: float) -> None:
    with started("forecast", str(LINERS), stdout=subprocess.DEVNULL) as process:
        try:
            process.wait(after_s)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGINT)
        said = process.communicate()[1].decode()
    # Python itself may be broken off before it comes to the program: no file of ours is in that.
    assert "Traceback" not in said or str(PACKAGE) not in said, said


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full")
def test_a_full_output_is_told_as_that(records: Path, tmp_path: Path) -> None:
    with Path("/dev/full").open("wb") as full, started("forecast", str(records), stdout=full) as process:
        said = process.communicate()[1].decode()
    assert process.returncode == 1
    assert "No space left on device" in said
    assert "fault of the program" not in said
    assert "Traceback" not in said


def test_a_closed_output_is_told_as_that(records: Path) -> None:
    command = f"{sys.executable} -m wearcast forecast {records} >&-"
    done = subprocess.run(["/bin/sh", "-c", command], stderr=subprocess.PIPE, check=False)
    assert b"the standard output is closed" in done.stderr
    assert b"Traceback" not in done.stderr
