"""The same reading twice: the data contract's rule (our own), and two gauges (common practice, no source)."""

from __future__ import annotations

import pytest


def test_the_same_value_twice_counts_once(history_of, counted, doubted) -> None:
    assert counted(history_of([{}, {}])) == {2: True, 3: False}
    (query,) = doubted([{}, {}])["duplicate"]
    assert query.rows == (2, 3)
    assert not query.stops_run


def test_different_values_count_neither_until_one_is_confirmed(history_of, counted) -> None:
    rows = [{}, {"value": "7.972"}]
    assert counted(history_of(rows)) == {2: False, 3: False}
    assert counted(history_of(rows, corrections=[{"row": "3", "old": "7.972"}])) == {2: False, 3: True}


@pytest.mark.parametrize(
    "other", [{"half": "upper"}, {"position": "4"}, {"point": "p45"}, {"instrument": "B"}]
)
def test_another_key_is_no_duplicate(doubted, other) -> None:
    assert "duplicate" not in doubted([{"instrument": "A"}, {"instrument": "A"} | other])


def test_a_unit_slip_is_not_called_a_duplicate_as_well(doubted) -> None:
    assert list(doubted([{}, {"value": "7982"}])) == ["unit_slip"]


def gauges(apart_mm: float, u: str = "", positions=("1", "2", "3")) -> list[dict[str, str]]:
    return [
        {
            "position": p,
            "instrument": name,
            "value": f"{7.970 + (apart_mm if name == 'B' else 0):.3f}",
            "u_um": u,
        }
        for p in positions
        for name in ("A", "B")
    ]


def test_two_gauges_apart_by_a_flat_anvil_disagree(history_of, counted, doubted) -> None:
    """48 µm of a flat anvil on a 110 mm radius (geometry) against u = 6 µm, common practice, no source."""
    (query,) = doubted(gauges(0.048))["gauge_disagreement"]
    assert query.rows == (2, 3, 4, 5, 6, 7)
    assert query.evidence == pytest.approx(48 / (2 * (36 + 1 / 12)) ** 0.5, abs=0.01)
    assert "B reads 48 µm more than A" in query.text
    assert not any(counted(history_of(gauges(0.048))).values())


def test_two_gauges_within_their_uncertainty_agree(history_of, counted, doubted) -> None:
    assert not doubted(gauges(0.015))
    assert all(counted(history_of(gauges(0.015))).values())


def test_finer_gauges_disagree_sooner(doubted) -> None:
    assert "gauge_disagreement" in doubted(gauges(0.015, u="2"))


def test_the_confirmed_gauge_stays(history_of, counted) -> None:
    rows = gauges(0.048, positions=("3",))
    history = history_of(rows, corrections=[{"row": "2", "old": "7.970"}])
    assert counted(history) == {2: True, 3: False}
