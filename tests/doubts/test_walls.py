"""Swapped halves and renewals that nobody recorded, against their neighbours: an opening error, one slip, wear."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.doubts.expected import expected_walls
from wearcast.lives.shells import STANDARD

HOURS = (8000, 16000, 24000, 32000, 40000)
DATES = ("2011-08-01", "2013-03-01", "2014-10-01", "2016-05-01", "2017-12-01")

Walls = dict[tuple[int, int, str], float]
"""Walls [mm] by opening, position and half."""


def wall(k: int, position: int, half: str, value_mm: float, **more: str) -> dict[str, str]:
    return {
        "date": DATES[k], "counter_h": str(HOURS[k]), "position": str(position), "half": half,
        "value": f"{value_mm:.3f}", **more,
    }  # fmt: skip


def lines(rng: np.random.Generator, positions=(1, 2, 3, 4, 5), sd_um: float = 4.0) -> Walls:
    """Walls by opening, position and half: upper 0.3, lower 0.9 µm/kh."""
    return {
        (k, p, half): 7.990 - rate * h / 1e6 + rng.normal(0, sd_um / 1000)
        for k, h in enumerate(HOURS)
        for p in positions
        for half, rate in (("upper", 0.3), ("lower", 0.9))
    }


def rows_of(walls: Walls, **more: str) -> list[dict[str, str]]:
    return [wall(*key, value, **more) for key, value in walls.items()]


@pytest.fixture
def walls() -> Walls:
    return lines(np.random.default_rng(5))


def test_nothing_is_doubted_of_walls_as_they_wear(doubted, walls) -> None:
    assert not doubted(rows_of(walls))


def test_an_opening_with_its_halves_swapped(doubted, walls, history_of, counted) -> None:
    other = {"upper": "lower", "lower": "upper"}
    swapped = {(k, p, other[half] if k == 4 else half): mm for (k, p, half), mm in walls.items()}
    found = doubted(rows_of(swapped))
    (query,) = found["half_swap"]
    assert list(found) == ["half_swap"]
    assert len(query.rows) == 10
    assert query.evidence > 5
    assert sum(not yes for yes in counted(history_of(rows_of(swapped))).values()) == 10


def test_halves_are_told_apart_whatever_the_gauge_reads(doubted, walls) -> None:
    """A common error of +48 µm at the opening neither hides a swap nor makes one."""
    other = {"upper": "lower", "lower": "upper"}
    shifted = {key: mm + (0.048 if key[0] == 4 else 0) for key, mm in walls.items()}
    assert "half_swap" not in doubted(rows_of(shifted))
    swapped = {(k, p, other[half] if k == 4 else half): mm for (k, p, half), mm in shifted.items()}
    assert "half_swap" in doubted(rows_of(swapped))


def renewed(walls: Walls, from_k: int, position: int = 3) -> Walls:
    """The lower shell of one place replaced by a new one before opening `from_k`, unrecorded."""
    gone = 0.9 * HOURS[from_k] / 1e6
    return {
        (k, p, half): mm + (gone if (p, half) == (position, "lower") and k >= from_k else 0)
        for (k, p, half), mm in walls.items()
    }


def test_a_renewal_nobody_recorded(doubted, walls, history_of, counted) -> None:
    rows = rows_of(renewed(walls, 3), u_um="3")
    found = doubted(rows)
    (query,) = found["unrecorded_renewal"]
    assert list(found) == ["unrecorded_renewal"]
    assert (query.position, query.half) == ("3", "lower")
    assert query.evidence > 4
    at = next(
        k
        for k, row in enumerate(rows)
        if (row["date"], row["position"], row["half"]) == (DATES[3], "3", "lower")
    )
    assert query.rows == (at + 2,)
    lost = [row for row, yes in counted(history_of(rows)).items() if not yes]
    before = [
        k + 2
        for k, row in enumerate(rows)
        if (row["position"], row["half"]) == ("3", "lower") and row["date"] < DATES[3]
    ]
    assert lost == before


def test_at_the_last_opening_the_thicker_reading_is_not_built_on(doubted, walls, history_of, counted) -> None:
    rows = rows_of(renewed(walls, 4), u_um="3")
    (query,) = doubted(rows)["unrecorded_renewal"]
    assert [row for row, yes in counted(history_of(rows)).items() if not yes] == list(query.rows)


def test_a_recorded_renewal_is_none(doubted, walls) -> None:
    event = {"date": DATES[2], "counter_h": str(HOURS[2]), "event": "renewal", "shell_size": STANDARD}
    rows = rows_of(renewed(walls, 3), u_um="3")
    for row in rows:
        row["state"] = "as_found"
    assert not doubted(rows, [event])


def test_a_gauge_that_over_reads_once_is_no_renewal(doubted, walls) -> None:
    """All places rise together by the 48 µm of a flat anvil (geometry), in the middle or at the end."""
    for k in (2, 4):
        shifted = {key: mm + (0.048 if key[0] == k else 0) for key, mm in walls.items()}
        assert "unrecorded_renewal" not in doubted(rows_of(shifted))


def test_one_thick_reading_that_comes_back_is_no_renewal(doubted, walls) -> None:
    slip = {key: mm + (0.045 if key == (2, 3, "lower") else 0) for key, mm in walls.items()}
    assert "unrecorded_renewal" not in doubted(rows_of(slip))


def test_confirming_the_thicker_reading_ends_the_query(doubted, walls) -> None:
    rows = rows_of(renewed(walls, 4), u_um="3")
    (query,) = doubted(rows)["unrecorded_renewal"]
    confirmed = {"row": str(query.rows[0]), "old": rows[query.rows[0] - 2]["value"]}
    assert "unrecorded_renewal" not in doubted(rows, corrections=[confirmed])


def test_walls_are_expected_from_the_other_openings_by_a_bayesian_line(history_of) -> None:
    """The plain second way: the same prior and readings as one dense Gaussian, conditioned."""
    walls = lines(np.random.default_rng(8), positions=(3,))
    history = history_of([row for row in rows_of(walls) if row["half"] == "lower"])
    e = expected_walls(history, np.ones(len(history.readings), dtype=bool))
    tau, z = e.tau_kh, e.wear_um
    prior_mean = e.level_um + e.rate_um_per_kh * tau
    K = e.level_var[0] + e.rate_var[0] * np.multiply.outer(tau, tau)
    noise = e.error_var + e.uneven_var * tau / 4
    for k in range(len(z)):
        rest = np.arange(len(z)) != k
        gain = K[k, rest] @ np.linalg.inv(K[np.ix_(rest, rest)] + np.diag(noise[rest]))
        assert e.mean_um[k] == pytest.approx(prior_mean[k] + gain @ (z - prior_mean)[rest], rel=1e-9)
        spread = (
            K[k, k]
            - gain @ K[rest, k]
            + e.error_var[k]
            + e.uneven_var[k] * np.min(np.abs(tau[rest] - tau[k]))
        )
        assert e.var[k] == pytest.approx(spread, rel=1e-9)
