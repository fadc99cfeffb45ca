"""Own lines against published and certified regressions; sources stand in the data files.

Not carried: Pearson's data with York's weights (errors in both axes). Running hours are counted by a dial and
taken as exact here, so no function of this project draws that line.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from wearcast.wear.diagnose import diagnose, least_squares
from wearcast.wear.inverse import hours_at_limit
from wearcast.wear.own_line import OwnLines, band_um, fit_lines
from wearcast.wear.robust import huber_rates, theil_sen_rates

REFERENCE = Path(__file__).parents[1] / "reference_data"


def load(name):
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def one_line(x, y, u=None) -> OwnLines:
    n = len(x)
    return fit_lines(x, y, np.full(n, np.nan) if u is None else u, np.zeros(n, dtype=int), 1)


def digits(value, certified):
    """Correct significant digits: −log10 of the relative error, 15 at most."""
    error = abs(value - certified) / abs(certified)
    return 15.0 if error == 0 else min(15.0, -np.log10(error))


def test_norris_to_nine_digits():
    """NIST StRD Norris, certified: checks `fit_lines`."""
    case, line = load("nist_norris"), one_line(load("nist_norris")["x"], load("nist_norris")["y"])
    found = [
        line.intercept_um[0],
        line.rate_um_per_kh[0],
        line.intercept_u_um[0],
        line.rate_u_um_per_kh[0],
        line.residual_sd_um[0],
    ]
    certified = [*case["certified"]["beta"], *case["certified"]["se"], case["certified"]["residual_sd"]]
    assert min(map(digits, found, certified)) >= 9


def test_norris_by_the_long_way():
    """NIST StRD Norris, certified: checks `diagnose`."""
    case = load("nist_norris")
    own = diagnose(case["x"], case["y"], [np.nan] * len(case["x"])).own
    found = [own.intercept_um, own.rate_um_per_kh, own.intercept_u_um, own.rate_u_um_per_kh]
    assert min(map(digits, found, case["certified"]["beta"] + case["certified"]["se"])) >= 9


def test_noint1_to_nine_digits():
    """NIST StRD NoInt1, certified: checks the line through the origin in `diagnose`."""
    case = load("nist_noint1")
    line = diagnose(case["x"], case["y"], [np.nan] * len(case["x"])).through_origin
    assert digits(line.rate_um_per_kh, case["certified"]["beta"][0]) >= 9
    assert digits(line.rate_u_um_per_kh, case["certified"]["se"][0]) >= 9
    fit = least_squares(np.array(case["x"])[:, None], case["y"])
    assert digits(np.sqrt(fit.scale), case["certified"]["residual_sd"]) >= 9


def test_longley_to_seven_digits():
    """NIST StRD Longley, certified: checks `least_squares`, on which the diagnostics stand."""
    case = load("nist_longley")
    fit = least_squares(np.column_stack([np.ones(len(case["y"])), case["x"]]), case["y"])
    found = [*fit.params, *fit.bse, np.sqrt(fit.scale)]
    certified = [*case["certified"]["beta"], *case["certified"]["se"], case["certified"]["residual_sd"]]
    assert min(map(digits, found, certified)) >= 7


@pytest.mark.parametrize("name", ["nist_wampler1", "nist_wampler2", "nist_wampler3"])
def test_wampler_polynomials_to_six_digits(name):
    """NIST StRD Wampler1-3, certified: checks `least_squares` on a near-singular design."""
    case = load(name)
    fit = least_squares(np.vander(case["x"], 6, increasing=True), case["y"])
    assert min(map(digits, fit.params, case["certified"]["beta"])) >= 6
    if case["certified"]["residual_sd"]:
        found = [*fit.bse, np.sqrt(fit.scale)]
        assert min(map(digits, found, [*case["certified"]["se"], case["certified"]["residual_sd"]])) >= 6
    else:  # certified 0: an absolute tolerance, against observations up to 3.4 million
        assert np.abs(fit.bse).max() < 1e-6


def test_weighted_line_with_known_uncertainties():
    """GTC documentation, weighted line: checks `fit_lines` with a stated u for every reading."""
    case = load("gtc_weighted_line")
    line, published = one_line(case["x"], case["y"], case["sd"]), case["published"]
    assert line.intercept_um[0] == pytest.approx(published["a"], rel=1e-12)
    assert line.rate_um_per_kh[0] == pytest.approx(published["b"], rel=1e-12)
    # The source does not widen by the scatter; this project does, and never narrows.
    widening = np.sqrt(case["reference"]["chi2"] / 4)
    assert line.widening[0] == pytest.approx(widening, rel=1e-12)
    assert line.intercept_u_um[0] / widening == pytest.approx(published["u_a"], rel=1e-12)
    assert line.rate_u_um_per_kh[0] / widening == pytest.approx(published["u_b"], rel=1e-12)
    assert line.covariance_um2_per_kh[0] / widening**2 == pytest.approx(case["reference"]["cov"], rel=1e-12)
    assert widening > 1
    assert line.degrees_of_freedom[0] == 4


def test_thermometer_line_and_its_extrapolation():
    """GUM H.3: checks `fit_lines` and `band_um` away from the data."""
    case, published = load("gum_h3"), load("gum_h3")["published"]
    line = one_line(np.array(case["t"]) - case["t0"], case["b"])
    y1, y2 = line.intercept_um[0], line.rate_um_per_kh[0]
    u1, u2 = line.intercept_u_um[0], line.rate_u_um_per_kh[0]
    assert round(y1, 4) == published["y1"]
    assert round(u1, 4) == published["u_y1"]
    assert round(y2, 5) == published["y2"]
    assert round(u2, 5) == published["u_y2"]
    assert round(line.covariance_um2_per_kh[0] / (u1 * u2), 2) == published["r"]
    assert round(line.residual_sd_um[0], 4) == published["s"]
    assert line.degrees_of_freedom[0] == published["df"]
    lower, mean, _ = band_um(line, 0, [case["predict_at"] - case["t0"]], coverage=0.9)
    assert round(mean[0], 4) == published["b30"]
    u30 = (mean[0] - lower[0]) / line.quantile(0.9)[0]
    assert round(u30, 4) == published["u_b30"]
    assert u30 == pytest.approx(case["reference"]["u30"], rel=1e-10)


def test_marine_liners_one_line_each():
    """Eight diesel liners: checks `fit_lines` on irregular series (reference computed, none published)."""
    case = load("marine_liners")
    names = list(case["liners"])
    series = np.concatenate([[i] * len(case["liners"][k]["hours"]) for i, k in enumerate(names)])
    tau = np.concatenate([case["liners"][k]["hours"] for k in names]) / 1000
    wear = np.concatenate([case["liners"][k]["wear_mm"] for k in names]) * 1000
    lines = fit_lines(tau, wear, np.full(tau.size, np.nan), series, len(names))
    reach = hours_at_limit(lines, case["limit_mm"] * 1000)
    robust = theil_sen_rates(tau, wear, series, len(names))
    for i, name in enumerate(names):
        reference = case["reference"][name]
        assert lines.rate_um_per_kh[i] == pytest.approx(reference["ols_with_zero_slope"] * 1000, rel=1e-10)
        assert lines.intercept_um[i] == pytest.approx(reference["ols_with_zero_intercept"] * 1000, rel=1e-9)
        assert reach.line_kh[i] == pytest.approx(reference["hours_to_4mm_ols"] / 1000, rel=1e-10)
        assert robust[i] == pytest.approx(reference["theil_sen_slope"] * 1000, rel=1e-12)
        worn = (series == i) & (tau > 0)
        if worn.sum() >= 3:  # the zero at 0 h says nothing of a line held through it
            held = diagnose(tau[worn], wear[worn], np.full(worn.sum(), np.nan)).through_origin
            assert held.rate_um_per_kh == pytest.approx(reference["origin_slope"] * 1000, rel=1e-10)
            assert held.rate_u_um_per_kh == pytest.approx(reference["origin_slope_se"] * 1000, rel=1e-9)


def test_laser_units_reach_their_limit_at_the_published_hours():
    """Fifteen lasers: checks `fit_lines` and `hours_at_limit` on arrays of all units at once."""
    case = load("gaas_laser")
    units, hours = list(case["units"]), case["hours"]
    series = np.repeat(np.arange(len(units)), len(hours))
    values = np.concatenate([case["units"][k] for k in units])
    lines = fit_lines(np.tile(hours, len(units)) / 1000, values, np.full(values.size, np.nan), series, 15)
    reach = hours_at_limit(lines, case["limit_pct"])
    published = np.array([case["published_hours_to_limit"][k] for k in units])
    # Printed to the hour, rounded or cut (unit 110: 3306.5 printed as 3306).
    assert np.abs(reach.line_kh * 1000 - published).max() < 0.6
    for i, unit in enumerate(units):
        lower, upper = case["reference"][unit]["fieller90_mean"]
        assert reach.lower_kh[i] * 1000 == pytest.approx(lower, rel=1e-9)
        assert reach.upper_kh[i] * 1000 == pytest.approx(upper, rel=1e-9)


def test_phone_calls_by_least_squares_and_huber():
    """Rousseeuw & Leroy / Venables & Ripley: checks `fit_lines`, `huber_rates` and `diagnose`."""
    case = load("phones_huber")
    x, y, n = case["x"], case["y"], len(case["x"])
    line = one_line(x, y)
    assert round(line.intercept_um[0], 3) == case["published"]["OLS"]["intercept"]
    assert round(line.rate_um_per_kh[0], 3) == case["published"]["OLS"]["slope"]
    assert round(line.residual_sd_um[0], 2) == case["published"]["OLS"]["resid_sd"]
    # The reference scales by 0.6745, this project by the exact quartile: 1 part in 10^5 apart.
    slope = case["reference"]["Huber_converged"]["coef"][1]
    assert huber_rates(x, y, [0] * n, 1)[0] == pytest.approx(slope, rel=2e-5)
    huber = diagnose(x, y, [np.nan] * n).huber
    assert huber.rate_um_per_kh == pytest.approx(slope, rel=2e-5)
    # The printed figures stopped before convergence.
    printed = case["published"]["Huber_rlm_default"]
    assert huber.rate_um_per_kh == pytest.approx(printed["slope"], rel=1e-3)
    assert huber.intercept_um == pytest.approx(printed["intercept"], rel=1e-3)
    assert huber.rate_u_um_per_kh == pytest.approx(printed["se_slope"], rel=5e-3)


def test_sen_slope_and_its_limits():
    """Sen 1968: checks `theil_sen_rates` and `diagnose`."""
    case, published = load("sen_1968"), load("sen_1968")["published"]
    x, y, n = case["x"], case["y"], len(case["x"])
    assert theil_sen_rates(x, y, [0] * n, 1)[0] == published["slope"]
    line = diagnose(x, y, [np.nan] * n, coverage=case["coverage"]).theil_sen
    assert line.rate_um_per_kh == published["slope"]
    assert round(line.rate_lo, 2) == published["lower"]
    assert line.rate_hi == pytest.approx(published["upper"], abs=0.0051)  # 4.375, printed 4.38
    assert line.intercept_um == published["intercept_median_of_separate"]
