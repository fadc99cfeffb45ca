"""A limit eased under the same document leaves a trace: old, new, by whom, when, and that nobody is named."""

from __future__ import annotations

from pathlib import Path

import pytest
from books import engines, readings

from wearcast.book.add import add
from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build
from wearcast.sources import read

READINGS = [{}, {"date": "2022-05-04", "counter_h": "36000", "value": "7.976"}]


def limits(folder: Path, *changes: tuple[str, str], column: str = "", cell: str = "") -> Path:
    folder = engines(folder)
    text = (folder / "limits.csv").read_text(encoding="utf-8")
    for was, now in changes:
        assert was in text
        text = text.replace(was, now)
    if column:
        head, row = text.splitlines()
        text = f"{head},{column}\n{row},{cell}\n"
    (folder / "limits.csv").write_text(text, encoding="utf-8")
    return folder


def asked(book: str) -> list:
    return [one for one in doubt(build(read(book))).queries if one.kind == "limit_changed"]


@pytest.fixture
def begun(book: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")  # 2026-09-21
    add(book, readings(engines(tmp_path / "first"), READINGS), "A. Bell")
    return book


def test_a_limit_eased_under_the_same_revision_is_asked_about_with_who_and_when(begun, tmp_path) -> None:
    add(begun, limits(tmp_path / "eased", ("7.950", "7.940")), "B. Cole")
    (query,) = asked(begun)
    assert query.rows == (3,)
    assert (
        "limit of Bramble Six main lower wall standard is 7.940 mm and was 7.950 mm, both by “Manual B6, rev 2”: it is "
        "eased. Brought in by B. Cole on 2026-09-21; approved by: nobody named."
    ) in query.text


def test_who_approved_is_named_and_kept_by_the_book(begun, tmp_path, wearcast) -> None:
    add(
        begun, limits(tmp_path / "eased", ("7.950", "7.940"), column="approved_by", cell="C. Dunn"), "B. Cole"
    )
    assert asked(begun)[0].text.endswith("approved by: C. Dunn.")
    assert read(begun).limits["approved_by"].tolist() == ["C. Dunn"]
    assert wearcast("book", "verify", begun)[0] == 0


@pytest.mark.parametrize(
    "changes",
    [
        (("7.950", "7.940"), ("rev 2", "rev 3")),
        (("7.950,min,mm", "7950.0,min,um"), ("7.985", "7985"), ("8.000", "8000")),
    ],
    ids=["a new revision", "another unit"],
)
def test_what_changes_nothing_or_names_a_new_revision_is_not_asked_about(begun, tmp_path, changes) -> None:
    add(begun, limits(tmp_path / "other", *changes), "B. Cole")
    assert asked(begun) == []


def test_a_limit_made_stricter_is_asked_about_and_not_called_eased(begun, tmp_path) -> None:
    add(begun, limits(tmp_path / "strict", ("7.950", "7.955")), "B. Cole")
    (query,) = asked(begun)
    assert "eased" not in query.text


def test_a_limit_put_back_is_no_change_and_one_restated_keeps_the_name_of_who_changed_it(
    begun, tmp_path
) -> None:
    add(begun, limits(tmp_path / "eased", ("7.950", "7.940")), "B. Cole")
    add(begun, limits(tmp_path / "again", ("7.950", "7.940"), column="part_reference", cell="P 1"), "C. Dunn")
    assert "Brought in by B. Cole" in asked(begun)[0].text
    add(begun, limits(tmp_path / "back"), "A. Bell")
    (query,) = asked(begun)  # said once more, for between the two it was another
    assert "is 7.950 mm and was 7.940 mm" in query.text
    assert "eased" not in query.text
