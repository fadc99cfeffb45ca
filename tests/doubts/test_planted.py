"""The study of planted slips, in short: seeded fleets, slips at known rows, clean fleets beside them."""

from __future__ import annotations

import pytest

NEEDED = {
    "unit slip": 0.95,
    "repeated set": 0.95,
    "dial": 0.95,
    "two dates": 0.95,
    "two gauges": 0.95,
    "duplicate row": 0.95,
    "unknown vessel": 0.95,
    "halves swapped": 0.9,
    "deflection does not close": 0.95,
    "axial clearance under its minimum": 0.95,
    "journal of another size": 0.95,
}
"""Shares of reachable slips that must be found; 95 % where the requirement names it."""


@pytest.mark.parametrize("name", NEEDED)
def test_planted_slips_are_found(planted_slips, name) -> None:
    kinds, plant = planted_slips.PLANTS[name]
    score = planted_slips.plant_and_look(kinds, plant, planted_slips.SEED, engines=8)
    assert score.reachable >= 4
    assert score.found_reachable >= NEEDED[name] * score.reachable
    assert score.elsewhere <= 1


def test_missing_renewals_are_found_with_a_gauge_of_3_um(planted_slips) -> None:
    """A wall 20 µm thicker: four uncertainties of a difference at u = 3 µm, two at the usual 6 µm."""
    kinds, plant = planted_slips.PLANTS["renewal left out, wall 20 µm thicker or more"]
    gauge = planted_slips.FINE_GAUGE
    score = planted_slips.plant_and_look(kinds, plant, planted_slips.SEED, engines=20, gauge=gauge)
    assert score.planted >= 15
    assert score.found >= 0.95 * score.planted


def test_clean_openings_raise_almost_nothing(planted_slips) -> None:
    openings, doubted, kinds = planted_slips.clean_openings_with_queries(planted_slips.SEED, 40)
    assert openings == 400
    assert doubted <= 0.01 * openings, kinds
