"""What a pack says it was asked for is not trusted."""

from __future__ import annotations

import json

import pytest

from wearcast.evidence.asked import FORMAT, NotAPack, asked_from, asked_json
from wearcast.evidence.originals import read_list
from wearcast.evidence.theta import recorded_from
from wearcast.settings import Settings


def test_a_question_comes_back_as_it_was(asked):
    assert asked_from(json.dumps(asked_json(asked)), Settings()) == asked


@pytest.mark.parametrize(
    "change",
    [
        {"run_date": "tomorrow"},
        {"as_of": 5},
        {"vessel": None},
        {"horizon_years": 1e300},
        {"review_days": -1},
        {"horizon_years": "x"},
    ],
)
def test_a_question_that_makes_no_sense_is_told(asked, change):
    with pytest.raises(NotAPack, match=r"data/run\.json is not understood"):
        asked_from(json.dumps(asked_json(asked) | change), Settings())


@pytest.mark.parametrize("text", ["", "[]", "null", "[" * 100_000, "{}"])
def test_files_that_are_not_understood_are_told(text):
    with pytest.raises(NotAPack, match=r"run\.json is not understood"):
        asked_from(text, Settings())
    with pytest.raises(NotAPack, match=r"theta\.json is not understood"):
        recorded_from(text)


def test_a_pack_of_a_later_layout_is_told(asked):
    with pytest.raises(NotAPack, match=f"reads layouts up to {FORMAT}"):
        asked_from(json.dumps(asked_json(asked) | {"format": FORMAT + 1}), Settings())


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("input/../../x", "x"),
        ("../x", "x"),
        ("/etc/passwd", "x"),
        ("input/a.csv", "../a.csv"),
        ("input/a.csv", "/a.csv"),
        ("input/a.csv", "c:a.csv"),
        ("input/..", "a.csv"),
        ("other/a.csv", "a.csv"),
    ],
)
def test_names_that_lead_out_of_their_folder_are_refused(file, name):
    with pytest.raises(NotAPack, match="could lead out of its folder"):
        read_list(f"file,name_as_given,sha256,bytes\n{file},{name},00,1\n")


@pytest.mark.parametrize("text", ["", "file\n", "file,name_as_given,sha256,bytes\ninput/a,a,00,many\n"])
def test_a_list_that_is_not_understood_is_told(text):
    with pytest.raises(NotAPack, match="not understood"):
        read_list(text)
