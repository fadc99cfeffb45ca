"""ZIP files that would do harm are refused before anything is written."""

from __future__ import annotations

import io
import stat
import zipfile
from dataclasses import replace

import pytest

from wearcast.door import bounds
from wearcast.evidence.asked import NotAPack
from wearcast.evidence.unpack import unpack


def entry(name: str, mode: int = 0o100644) -> zipfile.ZipInfo:
    made = zipfile.ZipInfo(name)
    made.create_system = 3
    made.external_attr = mode << 16
    return made


@pytest.fixture
def zipped(tmp_path):
    def make(*entries, content=b"x"):
        with zipfile.ZipFile(tmp_path / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            for one in entries:
                archive.writestr(one, content)
        return tmp_path / "a.zip"

    return make


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt", "bag/../../evil.txt", "/evil.txt", "bag//evil.txt", "bag/data/..", "c:/evil.txt",
        "bag\\..\\evil", "bag/.hidden", "bag/Upper.txt", "bag/é.txt", "bag/" + "a" * 200, "evil.txt",
    ],
)  # fmt: skip
def test_names_that_lead_elsewhere_are_refused(zipped, folder, name):
    with pytest.raises(NotAPack, match="Nothing was opened"):
        unpack(zipped("bag/bagit.txt", name), folder)
    assert list(folder.iterdir()) == []
    assert not (folder.parent / "evil.txt").exists()


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR])
def test_links_and_devices_are_refused(zipped, folder, kind):
    with pytest.raises(NotAPack, match="a link"):
        unpack(zipped(entry("bag/link", kind | 0o777), content=b"/etc/passwd"), folder)
    assert list(folder.iterdir()) == []


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_files_of_one_name_are_refused(zipped, folder):
    with pytest.raises(NotAPack, match="second file of one name"):
        unpack(zipped(entry("bag/a"), entry("bag/a")), folder)


def test_two_folders_are_refused(zipped, folder):
    with pytest.raises(NotAPack, match="one folder"):
        unpack(zipped("bag/a", "other/a"), folder)


def test_a_file_that_grows_beyond_measure_is_refused_unopened(zipped, folder):
    with pytest.raises(NotAPack, match="beyond measure"):
        unpack(zipped("bag/zeros", content=bytes(20_000_000)), folder)
    assert list(folder.iterdir()) == []


def test_many_files_that_grow_beyond_measure_together_are_refused_unopened(zipped, folder, monkeypatch):
    monkeypatch.setattr(bounds, "BOUNDS", replace(bounds.BOUNDS, unpacked_bytes=25_000))
    with pytest.raises(NotAPack, match="unpacks to 30,000 bytes"):
        unpack(zipped("bag/a", "bag/b", "bag/c", content=bytes(range(250)) * 40), folder)


def test_more_files_than_a_pack_has_are_refused(zipped, folder, monkeypatch):
    monkeypatch.setattr(bounds, "BOUNDS", replace(bounds.BOUNDS, files=3))
    with pytest.raises(NotAPack, match="holds 4 files"):
        unpack(zipped(*(f"bag/{k}" for k in range(4))), folder)


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x03\x04 cut off"])
def test_what_is_no_zip_is_told(tmp_path, folder, content):
    (tmp_path / "a.zip").write_bytes(content)
    with pytest.raises(NotAPack, match="cannot be opened as a ZIP file"):
        unpack(tmp_path / "a.zip", folder)


def test_a_damaged_file_is_told(tmp_path, folder):
    text = io.BytesIO()
    with zipfile.ZipFile(text, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("bag/a", b"the very text")
    (tmp_path / "a.zip").write_bytes(text.getvalue().replace(b"the very text", b"the very tixt"))
    with pytest.raises(NotAPack, match=r"cannot be unpacked .*Bad CRC"):
        unpack(tmp_path / "a.zip", folder)


def test_a_harmless_file_is_opened(zipped, folder):
    bag = unpack(zipped("bag/", "bag/data/a.txt"), folder)
    assert bag == folder / "bag"
    assert (bag / "data" / "a.txt").read_bytes() == b"x"
