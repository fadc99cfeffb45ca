"""Axial clearance has two limits; the numbers are invented."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.companions.axial_clearance import axial_clearances, too_small
from wearcast.companions.findings import DAMAGE_TERMS, listed_term


def axial(value: str, date: str = "2020-01-01", hours: int = 9000, state: str = "as_left") -> dict[str, str]:
    return {"bearing": "thrust", "position": "7", "half": "", "quantity": "axial_clearance", "value": value,
            "date": date, "counter_h": str(hours), "state": state}  # fmt: skip


def all_of(history):
    return np.ones(len(history.readings), dtype=bool)


def test_both_limits_stand_beside_each_reading(history_of) -> None:
    history = history_of([axial("0.420")])
    (row,) = axial_clearances(history, all_of(history)).to_dict("records")
    assert (row["min_mm"], row["max_mm"]) == (0.25, 0.80)
    assert row["above_min_um"] == pytest.approx(170)


@pytest.mark.parametrize(("value", "found"), [("0.251", 0), ("0.250", 1), ("0.200", 1)])
def test_at_or_below_the_minimum_is_too_small(history_of, value, found) -> None:
    history = history_of([axial(value)])
    assert len(too_small(history, all_of(history))) == found


def test_the_sentence_names_the_minimum_and_its_source(history_of) -> None:
    history = history_of([axial("0.200")])
    (one,) = too_small(history, all_of(history))
    assert "50 µm under the minimum of 0.250 mm" in one.text
    assert "invented book" in one.text
    assert one.in_service


def test_one_put_right_is_no_longer_in_service(history_of) -> None:
    history = history_of([axial("0.200", state="as_found"), axial("0.350", "2020-06-01", 11000)])
    (one,) = too_small(history, all_of(history))
    assert not one.in_service


def test_without_a_second_limit_nothing_is_too_small(history_of) -> None:
    limits = [{"bearing": "thrust", "half": "", "quantity": "axial_clearance", "new_min": "0.30", "new_max": "0.45",
               "limit": "0.80", "limit_side": "max"}]  # fmt: skip
    history = history_of([axial("0.100")], limits=limits)
    assert too_small(history, all_of(history)) == ()
    assert np.isnan(axial_clearances(history, all_of(history))["min_mm"]).all()


def test_damage_terms_are_found_whatever_their_case() -> None:
    """Terms as listed from memory of ISO 7146-1:2019."""
    for term in DAMAGE_TERMS:
        assert listed_term(f"  {term.term.upper()} ") == term
    assert listed_term("dented by a dropped spanner") is None
    assert len({term.term for term in DAMAGE_TERMS}) == len(DAMAGE_TERMS)
