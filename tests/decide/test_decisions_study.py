"""The study of decisions, in short: a few seeded fleets must not fall below what the whole study shows."""

from __future__ import annotations

import decisions
import numpy as np
import pytest


@pytest.fixture(scope="module")
def short() -> tuple[decisions.Orders, decisions.Plans]:
    orders, plans, _ = decisions.run(12)
    return orders, plans


@pytest.mark.slow
def test_orders_cover_and_cost_no_more_than_the_simple_rules_at_the_same_cover(short) -> None:
    orders, _ = short
    assert len(orders.true) == 36
    assert decisions.covers(orders.true, orders.ours) >= 0.86  # 0.95 less two standard errors of 12 fleets
    added = decisions.added_for_cover(orders)
    assert added > 0
    assert orders.ours.mean() < (orders.two_points + added).mean()
    assert orders.ours.mean() < orders.sets.mean()
    assert orders.ours.mean() == pytest.approx(orders.told.mean(), rel=0.10)


@pytest.mark.slow
@pytest.mark.parametrize("listed", ["none", "one", "two"])
def test_orders_hold_and_buy_no_more_however_few_windows_are_listed(short, listed: str) -> None:
    orders, _ = short
    bought = getattr(orders, listed)
    assert decisions.covers(orders.true, bought) >= 0.86
    assert bought.mean() == pytest.approx(orders.told.mean(), rel=0.10)
    assert orders.nothing.mean() > 1.1 * bought.mean()  # what past openings tell is worth a tenth


@pytest.mark.slow
def test_a_few_shells_fewer_do_not_cover(short) -> None:
    """The study can fail: an order three shells short covers less."""
    orders, _ = short
    assert decisions.covers(orders.true, orders.ours - 3) < decisions.covers(orders.true, orders.ours) - 0.1


@pytest.mark.slow
def test_plans_keep_the_accepted_risk_with_fewer_openings_than_every_docking(short) -> None:
    _, plans = short
    assert plans.passed.sum() / plans.stays.sum() <= decisions.RISK
    assert plans.openings.sum() < plans.docked_openings.sum()


@pytest.mark.slow
def test_the_need_stands_evenly_in_its_distribution(short) -> None:
    orders, _ = short
    assert (
        decisions.distance_from_uniform(orders.pit) < 0.39
    )  # 1.36/√12: one in twenty, periods of a fleet alike
    assert orders.pit.min() > 0
    assert orders.pit.max() < 1
    assert np.ptp(orders.pit) > 0.7
