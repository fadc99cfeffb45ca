"""Inverse prediction against published worked examples; sources stand in the data files."""

import json
from pathlib import Path

import numpy as np
import pytest

from wearcast.wear.inverse import Reach, hours_at_limit
from wearcast.wear.own_line import fit_lines

REFERENCE = Path(__file__).parents[1] / "reference_data"


def load(name):
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def line_of(case):
    n = len(case["x"])
    return fit_lines(case["x"], case["y"], np.full(n, np.nan), np.zeros(n, dtype=int), 1)


def assert_set(found, reference):
    assert found.reach[0] == Reach.BOUNDED
    assert found.line_kh[0] == pytest.approx(reference["estimate"], rel=1e-10)
    assert found.lower_kh[0] == pytest.approx(reference["lower"], rel=1e-10)
    assert found.upper_kh[0] == pytest.approx(reference["upper"], rel=1e-10)
    assert found.line_u_kh[0] == pytest.approx(reference["wald_se"], rel=1e-10)


def test_arsenic_where_the_mean_line_meets_the_value():
    """Graybill & Iyer; Greenwell & Schubert Kabban, mean response."""
    case = load("graybill_iyer_arsenic")
    found = hours_at_limit(line_of(case), case["y0"], case["coverage"])
    assert_set(found, case["reference"]["mean_response"])
    printed = case["published"]["mean_response"]
    assert round(found.lower_kh[0], 4) == printed["lower"]
    assert round(found.upper_kh[0], 4) == printed["upper"]


def test_arsenic_where_one_new_reading_meets_the_value():
    """Graybill & Iyer; Greenwell & Schubert Kabban, one new reading."""
    case, printed = load("graybill_iyer_arsenic"), load("graybill_iyer_arsenic")["published"]["single"]
    lines = line_of(case)
    found = hours_at_limit(lines, case["y0"], case["coverage"], new_readings=1)
    assert_set(found, case["reference"]["single"])
    assert found.line_kh[0] == pytest.approx(printed["estimate"], abs=1e-4)  # 2.93145, cut in print
    assert round(found.lower_kh[0], 4) == printed["lower_printed"]
    assert round(found.upper_kh[0], 4) == printed["upper_printed"]
    half = lines.quantile(case["coverage"])[0] * found.line_u_kh[0]
    assert round(found.line_kh[0] - half, 3) == printed["wald_lower"]
    assert round(found.line_kh[0] + half, 4) == printed["wald_upper"]


@pytest.mark.parametrize("which", [0, 1])
def test_thermostat_setting(which):
    """Graybill & Iyer, p. 431."""
    data = load("graybill_iyer_thermostat")
    case = data["cases"][which]
    found = hours_at_limit(line_of(data), case["y0"], case["coverage"], new_readings=1)
    assert_set(found, case["reference"])
    for value, name, decimals in zip(
        (found.line_kh[0], found.lower_kh[0], found.upper_kh[0]),
        ("estimate", "lower", "upper"),
        case["decimals"],
        strict=True,
    ):
        assert round(value, decimals) == case["published"][name]


def test_chamber_setting_that_gives_a_mean_response():
    """Graybill & Iyer, p. 433: the algebra of hours at which the mean wear line meets its limit."""
    case = load("graybill_iyer_chamber")
    found = hours_at_limit(line_of(case), case["y0"], case["coverage"])
    assert_set(found, case["reference"])
    assert round(found.line_kh[0], 1) == case["published"]["estimate"]
    assert round(found.lower_kh[0], 2) == case["published"]["lower"]
    assert round(found.upper_kh[0], 2) == case["published"]["upper"]


@pytest.mark.parametrize("which", [0, 1])
def test_massart_half_width(which):
    """Massart et al., example 1: delta-method half-width of one new reading."""
    data = load("massart_calibration")
    case, lines = data["cases"][which], line_of(data)
    assert lines.intercept_um[0] == pytest.approx(data["line"]["coef"][0], rel=1e-10)
    assert lines.rate_um_per_kh[0] == pytest.approx(data["line"]["coef"][1], rel=1e-10)
    assert lines.residual_sd_um[0] == pytest.approx(data["line"]["sigma"], rel=1e-10)
    found = hours_at_limit(lines, case["y0"], data["coverage"], new_readings=1)
    half = lines.quantile(data["coverage"])[0] * found.line_u_kh[0]
    assert found.line_kh[0] == pytest.approx(case["reference"]["pred"], rel=1e-10)
    assert half == pytest.approx(case["reference"]["conf"], rel=1e-10)
    assert round(found.line_kh[0], 1) == case["published"]["estimate"]
    assert round(half, 1) == case["published"]["half_width"]


def test_din_32645_half_width_and_critical_value():
    """DIN 32645: delta-method half-width at a reading; one-sided decision limit at x = 0."""
    case = load("din_32645")
    lines = line_of(case)
    found = hours_at_limit(lines, case["y0"], case["half_width_coverage"], new_readings=1)
    half = lines.quantile(case["half_width_coverage"])[0] * found.line_u_kh[0]
    assert half == pytest.approx(case["reference"]["inverse"]["conf"], rel=1e-9)
    assert round(half, 5) == case["published"]["half_width"]
    at_zero = hours_at_limit(lines, lines.intercept_um, new_readings=1)
    two_sided = 2 * case["critical_value_one_sided"] - 1
    critical = lines.quantile(two_sided)[0] * at_zero.line_u_kh[0]
    assert round(critical, 4) == case["published"]["critical_value"]
