"""Joint draws of needs: margins of the forecast table, needs of one engine moving together."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.decide.joint_needs import joint_needs

N = 4000


@pytest.fixture(scope="module")
def needs(demo):
    return joint_needs(demo, N)


def test_margins_are_those_of_the_forecast_table(demo, needs) -> None:
    """P(limit before the next and the following window), shell by shell, within four standard errors."""
    compared = 0
    for row in demo.forecast.rows:
        if row.statement in ("damage noted", "past limit"):
            continue
        years = needs.limit_years[:, needs.column[row.life]]
        for window in ("next_window", "following_window"):
            expected = getattr(row, f"p_limit_before_{window}")
            found = (years <= demo.years_to(getattr(row, window))).mean()
            assert found == pytest.approx(
                expected, abs=4.5 * np.sqrt(0.25 / N) * 2 * np.sqrt(expected * (1 - expected)) + 3e-3
            )
            compared += 1
    assert compared > 250


def test_needs_of_one_engine_move_together_more_than_those_of_two(demo, needs) -> None:
    """Rank correlation of limit dates of lower mains, mean over pairs."""
    lower = [
        (k, demo.life(life).place)
        for k, life in enumerate(needs.lives)
        if demo.life(life).quantity == "wall" and demo.life(life).place.half == "lower"
        and demo.life(life).place.bearing == "main"
    ]  # fmt: skip
    ranks = np.argsort(np.argsort(needs.limit_years[:, [k for k, _ in lower]], axis=0), axis=0)
    correlation = np.corrcoef(ranks.T)
    vessels = np.array([place.vessel for _, place in lower])
    same = (vessels[:, None] == vessels) & ~np.eye(len(lower), dtype=bool)
    own, other = correlation[same].mean(), correlation[vessels[:, None] != vessels].mean()
    assert own > other + 0.02
    assert own > 0.05


def test_damage_is_needed_now(demo, needs) -> None:
    loose = next(
        row.life for row in demo.forecast.rows if row.statement == "damage noted" and row.quantity == "wall"
    )
    assert (needs.of((loose,))[:, 0] == 0).all()
