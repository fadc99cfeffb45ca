"""File names that no name of a vessel can turn into a path, and the order along the shaft."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from wearcast.report.positions import Spot, shaft
from wearcast.report.words import file_names
from wearcast.words import listed, point_words


@given(st.lists(st.tuples(st.text(max_size=200), st.text(max_size=20)), unique=True, max_size=8))
def test_file_names_are_plain_short_and_unlike_each_other(engines: list[tuple[str, str]]) -> None:
    names = list(file_names(engines).values())
    assert len(names) == len(engines)
    assert len({name.casefold() for name in names} | {"index.html"}) == len(names) + 1
    for name in names:
        assert name.endswith(".html")
        assert len(name) < 100
        assert set(name.removesuffix(".html")) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
        assert not name.startswith("-")


def test_no_name_leads_out_of_the_folder() -> None:
    names = file_names([("../../etc", "passwd"), ("..", ".."), ("C:\\", "NUL"), ("index", "")])
    assert list(names.values()) == [
        "etc-passwd.html",
        "vessel-engine.html",
        "c-nul.html",
        "index-engine.html",
    ]


def test_the_shaft_runs_from_number_one_with_positions_never_read() -> None:
    facts = {"mains": 4.0, "throws": 3.0, "first_main": "1"}
    found = [Spot("thrust", "4"), Spot("main", "2"), Spot("camshaft", "1"), Spot("big_end", "2")]
    order = [f"{spot.bearing} {spot.position}" for spot in shaft(facts, found)]
    assert order == [
        "main 1", "big_end 1", "main 2", "big_end 2", "main 3", "big_end 3", "main 4", "thrust 4", "camshaft 1",
    ]  # fmt: skip


def test_an_outboard_main_counts_from_zero_and_vee_banks_fill_their_throw() -> None:
    facts = {"mains": 3.0, "throws": 1.0, "first_main": 0.0}
    order = [
        f"{s.bearing} {s.position}" for s in shaft(facts, [Spot("big_end", "1B"), Spot("big_end", "1A")])
    ]
    assert order == ["main 0", "main 1", "big_end 1A", "big_end 1B", "main 2"]


def test_an_engine_of_unknown_layout_shows_what_was_read() -> None:
    facts = {"mains": float("nan"), "throws": float("nan"), "first_main": "1"}
    order = [
        spot.position for spot in shaft(facts, [Spot("main", "10"), Spot("main", "9"), Spot("main", "aft")])
    ]
    assert order == ["9", "10", "aft"]


def test_words() -> None:
    assert listed(["a", "b"]) == "a and b"
    assert listed([]) == ""
    assert point_words("crown_fore") == "crown, fore"
    assert point_words("s45_aft") == "45° starboard, aft"


def test_words_of_statisticians_stand_in_the_method_part_alone(pages: dict[str, str]) -> None:
    from wearcast.report.words import STATISTICIANS, spoken

    for theirs in STATISTICIANS:
        assert theirs not in spoken(f"found {theirs} here")
    for page in pages.values():
        before, _, method = re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL).partition('id="method"')
        assert not re.search(r"\b(PIT|pinball|Holm|log-likelihood|crown_fore)\b", before)
        assert "Holm" in method
