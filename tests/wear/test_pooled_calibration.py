"""The studies of stated chances in short; the long tables stand in the developers' notes."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

STUDIES = Path(__file__).parents[1] / "studies"


def study(name):
    spec = importlib.util.spec_from_file_location(f"studies_{name}", STUDIES / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
@pytest.mark.parametrize("engines", [2, 4])
def test_stated_chances_come_true(engines):
    """Share that reached the limit by the stated hour within max(1.5 points, 2 clustered errors)."""
    calibration = study("calibration")
    cell = calibration.run_cell(engines, 160 // engines)
    assert cell.not_found == 0
    for chance, shells, share, error in calibration.reached(cell):
        assert shells > 200
        assert abs(share - chance) <= max(0.015, 2 * error), (chance, share, error)
    ours, told, gap, error = calibration.losses(cell)
    assert ours >= 0.97 * told
    assert gap <= calibration.LARGEST_GAP[engines] + 2 * error
    assert "± " in calibration.table([cell])


@pytest.mark.slow
def test_a_plug_in_of_wrong_standard_deviations_would_be_caught():
    """The same figures with every standard deviation halved: far too early too often."""
    from dataclasses import replace

    from simulate import draw_fleet

    from wearcast.wear.crossing import hours_to_limit
    from wearcast.wear.pooled import estimate, posterior
    from wearcast.wear.priors import Priors

    calibration = study("calibration")
    parts = []
    for k in range(40):
        plan = replace(calibration.PLAN, n_engines=4)
        fleet = draw_fleet(plan, Priors(), np.random.default_rng([1, k]))
        found = calibration.told_the_truth(estimate(fleet.readings, Priors()), fleet)
        wrong = replace(found, sigma_points=0.4 * found.sigma_points)
        made = hours_to_limit(posterior(fleet.readings, wrong, fleet.current))
        counted = made.curve[:, 0] < 0.05
        parts.append((fleet.hours_to_limit_kh[fleet.current] <= made.hours_kh[:, 0])[counted])
    assert np.concatenate(parts).mean() > 0.09


@pytest.mark.slow
@pytest.mark.parametrize("engines", [4, 1])
def test_the_range_holds_in_worlds_the_model_was_not_built_for(engines):
    """Gamma wear, log-normal rates, gross slips, one place three times as fast, with and without sisters."""
    others = study("other_truths")
    found = others.run_cell(engines, 20 if engines == 4 else 40, 0)
    assert 0.87 - 2 * found.held_90[1] <= found.held_90[0] <= 0.935 + 2 * found.held_90[1]
    assert found.before_10[0] <= 0.13 + found.before_10[1]
    assert found.loss_ends < 0.5 * found.loss_own
    assert "left out" in others.table([found], 20, 0, others.SEED)
