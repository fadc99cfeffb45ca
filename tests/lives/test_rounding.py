"""The rounding step belongs to the gauge: whatever unit its readings were written in afterwards."""

from __future__ import annotations

import numpy as np
import pytest

from wearcast.lives.rounding import last_digit, rounding_steps_um

UNITS_UM = {"mm": 1000.0, "um": 1.0, "in": 25400.0}
DIGITS = {"mm": 3, "um": 0, "in": 5}


def steps(walls_um, unit, sets=None) -> np.ndarray:
    texts = [f"{wall / UNITS_UM[unit]:.{DIGITS[unit]}f}" for wall in walls_um]
    value_um = np.array([float(text) for text in texts]) * UNITS_UM[unit]
    written_um = np.array([last_digit(text) for text in texts]) * UNITS_UM[unit]
    return rounding_steps_um(value_um, written_um, sets or [np.zeros(len(texts), dtype=np.intp)])


@pytest.mark.parametrize("unit", UNITS_UM)
@pytest.mark.parametrize("step", [5.0, 10.0, 20.0])
def test_a_coarse_step_is_found_in_any_unit(unit, step) -> None:
    """Readings to 10 um converted to inches of 5 decimals are still readings to 10 um."""
    walls = step * np.round(np.random.default_rng(1).uniform(7900, 8000, 14) / step)
    assert steps(walls, unit) == pytest.approx(np.full(14, step))


@pytest.mark.parametrize("unit", UNITS_UM)
def test_a_fine_gauge_keeps_its_last_digit(unit) -> None:
    walls = np.round(np.random.default_rng(2).uniform(7900, 8000, 14))
    assert (steps(walls, unit) <= 1.0).all()


def test_an_inch_gauge_keeps_its_own_step() -> None:
    tenths = np.arange(3100, 3148, 5) * 1e-4
    found = rounding_steps_um(tenths * 25400.0, np.full(10, 2.54), [np.zeros(10, dtype=np.intp)])
    assert found == pytest.approx(np.full(10, 12.7))


def test_one_opening_is_told_by_the_others_of_its_gauge_and_may_be_coarser() -> None:
    walls = np.array([7980.0, 7970.0, 7990.0, 7960.0, 7983.0, 7971.0])
    opening, gauge = np.array([0, 0, 1, 1, 2, 2]), np.zeros(6, dtype=np.intp)
    assert steps(walls[:4], "um", [opening[:4], gauge[:4]]).tolist() == [10.0] * 4
    assert steps(walls, "um", [opening, gauge]).tolist() == [1.0] * 6


def test_equal_readings_tell_no_step() -> None:
    assert steps(np.full(9, 7980.0), "mm").tolist() == [1.0] * 9


def test_no_readings() -> None:
    none = np.zeros(0)
    assert rounding_steps_um(none, none, [np.zeros(0, dtype=np.intp)]).size == 0
