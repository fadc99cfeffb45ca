"""Doubted readings, common gauge errors and swapped ends: planted ones found, formulas against full matrices."""

from dataclasses import replace

import numpy as np
import pytest
from simulate import FleetPlan, OtherTruth, draw_other_fleet

from wearcast.wear.pooled import estimate
from wearcast.wear.pooled.openings import end_swaps, mirrored_wear, opening_errors
from wearcast.wear.pooled.residuals import left_out_residuals
from wearcast.wear.pooled.screening import screen
from wearcast.wear.priors import Priors

PRIORS = Priors()
PLAIN = OtherTruth(gamma_wear=False, lognormal_rates=False, slip_share=0.0, fast_factor=1.0)
FULL = FleetPlan(n_engines=4, fewest_readings=5, renewal_share=0.0)


@pytest.fixture(scope="module")
def fleet():
    """Four sisters, seven positions, five openings, nothing wrong."""
    return draw_other_fleet(FULL, PRIORS, PLAIN, np.random.default_rng(31)).readings


def plugged_in(data):
    return estimate(data, PRIORS, averaged_below_engines=0)


@pytest.mark.parametrize("case", [{"engines": 2, "points": 3}, {"engines": 3, "points": 1}])
def test_residuals_are_those_of_leaving_each_reading_out(make_class, full_model, case):
    data = make_class(**case)
    found = plugged_in(data)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    residual, score = left_out_residuals(data, found)
    deviation = data.z_um - full.mean_readings
    for i in range(0, data.n_readings, 7):
        others = np.arange(data.n_readings) != i
        solved = np.linalg.solve(full.covariance[np.ix_(others, others)], full.covariance[others, i])
        expected = deviation[i] - solved @ deviation[others]
        variance = full.covariance[i, i] - solved @ full.covariance[others, i]
        assert residual[i] == pytest.approx(expected, abs=1e-8)
        assert score[i] == pytest.approx(expected / np.sqrt(variance), abs=1e-8)


def test_scores_of_a_sound_fleet_are_standard_normal(fleet):
    _, score = left_out_residuals(fleet, plugged_in(fleet))
    assert abs(score.mean()) < 0.25
    assert 0.8 < score.std() < 1.2
    assert not screen(fleet, PRIORS).left_out.any()


@pytest.mark.parametrize("slip", [60.0, -60.0])
def test_planted_slips_are_left_out_and_nothing_else(fleet, slip):
    rows = np.array([3, 58, 101])
    z = fleet.z_um.copy()
    z[rows] += slip
    found = screen(replace(fleet, z_um=z), PRIORS)
    np.testing.assert_array_equal(np.flatnonzero(found.left_out), rows)
    assert not found.disagree
    assert all(np.sign(one.score) == np.sign(slip) for one in found.readings)
    expected_um = {one.row: one.expected_um for one in found.readings}
    np.testing.assert_allclose([expected_um[row] for row in rows], fleet.z_um[rows], atol=25.0)
    np.testing.assert_allclose(found.estimate.sigma, estimate(fleet, PRIORS).sigma, rtol=0.15)


def test_no_more_than_a_twentieth_is_left_out(fleet):
    z = fleet.z_um.copy()
    rng = np.random.default_rng(2)
    rows = rng.choice(fleet.n_readings, 8, replace=False)
    z[rows] += 60.0 * rng.choice([-1.0, 1.0], len(rows))
    found = screen(replace(fleet, z_um=z), PRIORS)
    assert found.disagree
    assert found.left_out.sum() == np.ceil(0.05 * fleet.n_readings) == 7
    assert np.isin(np.flatnonzero(found.left_out), rows).all()


def test_readings_too_wild_to_single_out_strain_the_reading_error(fleet):
    """One reading in eight wrong by 100 µm: none stands out, and the error is past all belief."""
    rng = np.random.default_rng(2)
    rows = rng.choice(fleet.n_readings, fleet.n_readings // 8, replace=False)
    z = fleet.z_um.copy()
    z[rows] += 100.0 * rng.choice([-1.0, 1.0], len(rows))
    wild = replace(fleet, z_um=z)
    assert estimate(wild, PRIORS).strained == ("reading_error",)
    assert estimate(fleet, PRIORS).strained == ()


def test_a_confirmed_reading_is_never_left_out(fleet):
    z = fleet.z_um.copy()
    z[58] += 60.0
    confirmed = np.zeros(fleet.n_readings, dtype=bool)
    confirmed[58] = True
    assert not screen(replace(fleet, z_um=z), PRIORS, confirmed=confirmed).left_out[58]


def test_gauge_errors_are_those_of_generalised_least_squares(make_class, full_model):
    """With the prior of one opening taken out, its estimate is h'V⁻¹r / h'V⁻¹h and its variance the inverse."""
    data = make_class(engines=3, points=2)
    found = plugged_in(data)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    spread = found.sigma[found.terms.index("opening_error")]
    errors = opening_errors(data, PRIORS, found, fewest_positions=100)
    assert not errors.doubted.any()
    deviation = data.z_um - full.mean_readings
    for k, label in enumerate(errors.opening):
        here = (data.opening == label).astype(float)
        inverse = np.linalg.inv(full.covariance - spread**2 * np.outer(here, here))
        variance = 1 / (here @ inverse @ here)
        expected = variance * (here @ inverse @ deviation)
        assert errors.error_um[k] == pytest.approx(expected, rel=1e-6)
        assert errors.error_sd_um[k] == pytest.approx(np.sqrt(variance), rel=1e-6)
        assert errors.score[k] == pytest.approx(expected / np.sqrt(spread**2 + variance), rel=1e-6)
        places = data.shell_position[data.reading_shell[data.opening == label]]
        assert errors.positions[k] == len(set(places.tolist()))
        assert set(data.shell_engine[data.reading_shell[data.opening == label]]) == {errors.engine[k]}


def test_a_planted_gauge_error_is_found_at_its_size(fleet):
    """A flat anvil on a concave bore reads 48 µm thick: all positions of one opening at once."""
    label = np.unique(fleet.opening[~fleet.is_new_wall])[7]
    off = replace(fleet, z_um=fleet.z_um - 48.0 * (fleet.opening == label))
    errors = opening_errors(off, PRIORS, estimate(off, PRIORS))
    np.testing.assert_array_equal(errors.opening[errors.doubted], [label])
    at = np.flatnonzero(errors.doubted)[0]
    assert errors.error_um[at] == pytest.approx(-48.0, abs=3 * errors.error_sd_um[at])
    assert errors.positions[at] == 7


def test_two_planted_gauge_errors_do_not_hide_each_other(fleet):
    labels = np.unique(fleet.opening[~fleet.is_new_wall])[[7, 12]]
    off = replace(fleet, z_um=fleet.z_um - 40.0 * np.isin(fleet.opening, labels))
    errors = opening_errors(off, PRIORS, estimate(off, PRIORS))
    np.testing.assert_array_equal(errors.opening[errors.doubted], labels)


def test_too_few_positions_are_not_judged(fleet):
    label = np.unique(fleet.opening[~fleet.is_new_wall])[7]
    place = fleet.shell_position[fleet.reading_shell]
    part = fleet.only((fleet.opening != label) | (place < 2))
    off = replace(part, z_um=part.z_um - 48.0 * (part.opening == label))
    assert not opening_errors(off, PRIORS, estimate(off, PRIORS)).doubted.any()


def test_a_sound_fleet_has_no_doubted_opening(fleet):
    assert not opening_errors(fleet, PRIORS, estimate(fleet, PRIORS)).doubted.any()


@pytest.mark.parametrize("case", [{"engines": 2, "points": 2}, {"engines": 3, "points": 1, "positions": 5}])
def test_gain_of_a_swap_is_that_of_full_matrices(make_class, full_model, case):
    data = make_class(**case)
    found = plugged_in(data)
    full = full_model(data, found.terms, found.sigma, PRIORS)
    swapped = mirrored_wear(data)
    opening, gain = end_swaps(data, found)
    assert len(opening) > 3
    for label, value in zip(opening, gain, strict=True):
        changed = (data.opening == label) & np.isfinite(swapped)
        z = np.where(changed, swapped, data.z_um)
        expected = full.log_likelihood(z) - full.log_likelihood()
        assert value == pytest.approx(expected, abs=1e-8)


def test_mirrored_wear_is_the_reading_at_the_other_end(fleet):
    swapped = mirrored_wear(fleet)
    place = fleet.shell_position[fleet.reading_shell]
    for i in range(0, fleet.n_readings, 5):
        if not np.isnan(swapped[i]):
            other = (
                (fleet.opening == fleet.opening[i])
                & (place == 6 - place[i])
                & (fleet.is_new_wall == fleet.is_new_wall[i])
            )
            assert swapped[i] == fleet.z_um[other][0]


def test_an_opening_written_from_the_wrong_end_is_found():
    """Rates that differ along the engine, one opening reversed: it alone fits better turned round."""
    data = draw_other_fleet(
        replace(FULL, measured_new_share=0.0), PRIORS, PLAIN, np.random.default_rng(5)
    ).readings
    place = data.shell_position[data.reading_shell]
    sloped = replace(data, z_um=data.z_um + 0.25 * place * data.tau_kh)
    last = np.unique(data.opening)[9]
    wrong = np.where(sloped.opening == last, mirrored_wear(sloped), sloped.z_um)
    opening, gain = end_swaps(replace(sloped, z_um=wrong), estimate(sloped, PRIORS))
    assert opening[gain > 4.0].tolist() == [last]
    _, sound = end_swaps(sloped, estimate(sloped, PRIORS))
    assert sound.max() < 0.0
