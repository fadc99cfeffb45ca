"""Renewals nobody recorded are asked about first, once for each opening (signs: common practice, no source)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from wearcast.doubts.event_drafts import COLUMNS, draft_events

DAYS = (("2016-05-17", "6000"), ("2019-05-17", "20000"), ("2022-05-17", "34000"))


def opening(number: int, walls: dict[str, float], **more: str) -> list[dict[str, str]]:
    day, hours = DAYS[number]
    return [
        {"position": p, "value": f"{v:.3f}", "date": day, "counter_h": hours, **more}
        for p, v in walls.items()
    ]


WORN = {str(n): 7.985 - 0.001 * n for n in range(1, 8)}


def test_places_that_jump_to_new_are_one_question_before_any_other(doubted) -> None:
    later = {p: v - 0.012 for p, v in WORN.items()} | {"2": 7.993, "4": 7.995, "6": 7.990}
    found = doubted(
        [*opening(0, WORN), *opening(1, {p: v - 0.010 for p, v in WORN.items()}), *opening(2, later)]
    )
    (query,) = found["unrecorded_renewal"]
    assert "main 2, 4 and 6 lower of the opening of 2022-05-17 look renewed" in query.text
    assert set(found) == {"unrecorded_renewal"}


def test_an_as_left_wall_of_a_new_shell_is_enough(doubted) -> None:
    left = opening(1, {"3": 7.994}, state="as_left")
    found = doubted(
        [*opening(0, WORN), *opening(1, {p: v - 0.012 for p, v in WORN.items()}, state="as_found"), *left]
    )
    (query,) = found["unrecorded_renewal"]
    assert (
        "main 3 lower of the opening of 2019-05-17 looks renewed (walls left as of new shells)" in query.text
    )


@pytest.mark.parametrize(
    ("remark", "asked"), [("new shell fitted", True), ("no new shell on board", False), ("polished", False)]
)
def test_a_remark_that_says_so_is_asked_about(doubted, remark: str, asked: bool) -> None:
    found = doubted([*opening(0, WORN), *opening(1, {"5": 7.975}, remark=remark)])
    assert ("unrecorded_renewal" in found) == asked


def test_a_gauge_that_reads_high_everywhere_is_no_renewal(doubted) -> None:
    found = doubted([*opening(0, WORN), *opening(1, {p: v + 0.012 for p, v in WORN.items()})])
    assert "look renewed" not in " ".join(query.text for query in found.get("unrecorded_renewal", []))


def test_a_recorded_renewal_is_not_asked_about_and_the_draft_settles_it(
    history_of, doubted, tmp_path: Path
) -> None:
    rows = [*opening(0, WORN), *opening(1, {p: v - 0.012 for p, v in WORN.items()}, state="as_found"),
            *opening(1, {"3": 7.994}, state="as_left", remark="new shell")]  # fmt: skip
    asked = doubted(rows)["unrecorded_renewal"]
    (event,) = draft_events(asked, history_of(rows))
    assert (event["position"], event["half"], event["date"], event["counter_h"]) == (
        "3",
        "lower",
        "2019-05-17",
        "20000",
    )
    assert (event["new_value"], event["unit"], event["shell_size"]) == ("7.994", "mm", "standard")
    with (tmp_path / "events.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerow(event)
    assert "unrecorded_renewal" not in doubted(rows, events=[event])
