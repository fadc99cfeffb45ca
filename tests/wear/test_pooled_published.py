"""Without priors and with the extra terms off the model is a textbook mixed model: published fits.

Sources stand in the data files. The random slopes of the marine liners and the lasers have no published fit;
R lme4 gave them (REML, y ~ 0 + kh + (0 + kh | unit), rows at 0 h left out).
Not carried: the fans of Nelson (1982, p. 133), since nothing here fits lifetimes.
"""

import warnings
from dataclasses import replace

import numpy as np
import pytest
from without_priors import estimate_without_priors

from wearcast.wear.pooled import ClassReadings, posterior
from wearcast.wear.pooled.coefficients import coefficients

RANDOM_LINE = {
    "variances": ("reading_error", "shell_rate", "new_wall"),
    "coefficients": ("rate", "level"),
    "correlated": True,
}
RANDOM_LEVEL = {"variances": ("reading_error", "new_wall"), "coefficients": ("level",)}
RANDOM_RATE = {"variances": ("reading_error", "shell_rate"), "coefficients": ("rate",)}


def units(unit, hours, z, u=None):
    """Units as shells, one an engine; the labels in sorted order."""
    labels, series = np.unique(np.asarray(unit, dtype=str), return_inverse=True)
    n, m = len(z), len(labels)
    return labels, ClassReadings(
        z_um=np.asarray(z, dtype=float),
        tau_kh=np.asarray(hours, dtype=float),
        u_um=np.full(n, np.nan) if u is None else np.asarray(u, dtype=float),
        step_um=np.zeros(n),
        series=series,
        opening=np.full(n, -1),
        is_new_wall=np.zeros(n, dtype=bool),
        series_shell=np.arange(m),
        series_group=np.zeros(m, dtype=int),
        series_limit_um=np.full(m, np.nan),
        shell_engine=np.arange(m),
        shell_position=np.zeros(m, dtype=int),
        shell_fitting_known=np.ones(m, dtype=bool),
        shell_tau_now_kh=np.zeros(m),
        shell_delta_sd_um=np.full(m, np.nan),
        allowance_um=float(np.std(z)),
        default_u_um=1.0,
    )


def sd(found, name):
    return found.sigma[found.terms.index(name)]


def in_order(labels, wanted):
    place = {label: k for k, label in enumerate(labels)}
    return [place[name] for name in wanted]


def test_sleepstudy(reference):
    case = reference("sleepstudy")
    expected, printed = case["reference"], case["published"]
    labels, data = units(case["subject"], case["days"], case["reaction"])
    found = estimate_without_priors(data, **RANDOM_LINE)
    assert found.found
    assert found.dropped == ()
    assert sd(found, "new_wall") == pytest.approx(expected["sd_intercept"], rel=1e-5)
    assert sd(found, "shell_rate") == pytest.approx(expected["sd_slope"], rel=1e-5)
    assert sd(found, "reading_error") == pytest.approx(expected["residual_sd"], rel=1e-5)
    assert found.correlation == pytest.approx(expected["correlation"], rel=1e-4)
    assert -2 * found.objective == pytest.approx(expected["criterion"], rel=1e-9)
    assert sd(found, "shell_rate") == pytest.approx(printed["sd_slope"], abs=5e-4)
    assert sd(found, "reading_error") == pytest.approx(printed["residual_sd"], abs=5e-4)
    named = coefficients(data, found)
    assert named.names == ("rate", "level")
    np.testing.assert_allclose(named.mean[::-1], expected["fixed"], rtol=1e-7)
    np.testing.assert_allclose(named.sd[::-1], expected["se"], rtol=1e-5)
    lines = posterior(data, found).mean[0][in_order(labels, expected["subjects"])]
    np.testing.assert_allclose(lines[:, 0], expected["unit_intercept"], rtol=1e-5)
    np.testing.assert_allclose(lines[:, 1], expected["unit_slope"], rtol=1e-4)


def test_rail(reference):
    case = reference("rail")
    expected, printed = case["reference"], case["published"]
    labels, data = units(case["rail"], np.zeros(len(case["rail"])), case["travel"])
    found = estimate_without_priors(data, **RANDOM_LEVEL)
    assert found.found
    assert sd(found, "new_wall") == pytest.approx(expected["sd_and_corr"]["Rail (Intercept)"], rel=1e-5)
    assert sd(found, "reading_error") == pytest.approx(expected["sd_and_corr"]["Residual"], rel=1e-5)
    assert found.objective == pytest.approx(printed["logLik"], abs=5e-5)
    named = coefficients(data, found)
    at = named.names.index("level")
    assert named.mean[at] == pytest.approx(printed["mean"], abs=1e-9)
    assert named.sd[at] == pytest.approx(expected["se"], rel=1e-6)
    level = posterior(data, found).mean[0, in_order(labels, expected["units"]), 0]
    np.testing.assert_allclose(level, expected["unit_coef"]["(Intercept)"], rtol=1e-6)


def test_oxboys(reference):
    """The model takes hours from 0 on; heights are fitted from age + 1 and carried back."""
    case = reference("oxboys")
    expected = case["reference"]
    labels, data = units(case["subject"], np.array(case["age"]) + 1.0, case["height"])
    found = estimate_without_priors(data, **RANDOM_LINE)
    wall, rate, rho = sd(found, "new_wall"), sd(found, "shell_rate"), found.correlation
    level = np.sqrt(wall**2 + rate**2 + 2 * rho * wall * rate)
    printed = expected["sd_and_corr"]
    assert level == pytest.approx(printed["Subject (Intercept)"], rel=1e-5)
    assert rate == pytest.approx(printed["Subject age"], rel=1e-5)
    assert sd(found, "reading_error") == pytest.approx(printed["Residual"], rel=1e-5)
    correlation = (rho * wall * rate + rate**2) / (level * rate)
    assert correlation == pytest.approx(printed["Subject (Intercept) age"], rel=1e-4)
    assert found.objective == pytest.approx(expected["logLik_REML"], rel=1e-9)
    at_one = replace(data, shell_tau_now_kh=np.ones(data.n_shells))
    lines = posterior(at_one, found).mean[0][in_order(labels, expected["units"])]
    np.testing.assert_allclose(lines[:, 0], expected["unit_coef"]["(Intercept)"], rtol=1e-5)
    np.testing.assert_allclose(lines[:, 1], expected["unit_coef"]["age"], rtol=1e-4)


def test_eight_schools_have_no_spread_between_them(reference):
    """The variance between schools is estimated as exactly 0, and that is no failure."""
    case = reference("eight_schools")
    _, data = units(range(8), np.zeros(8), case["y"], case["se"])
    found = estimate_without_priors(data, variances=("new_wall",), coefficients=("level",))
    assert found.found
    assert found.sigma[0] == 0.0
    named = coefficients(data, found)
    at = named.names.index("level")
    assert named.mean[at] == pytest.approx(case["reference"]["mean"], rel=1e-6)
    assert named.sd[at] == pytest.approx(case["reference"]["se"], rel=1e-6)
    np.testing.assert_allclose(posterior(data, found).mean[0, :, 0], named.mean[at], rtol=1e-6)


def test_marine_liners(reference):
    case = reference("marine_liners")
    rows = [
        (name, h / 1000, w)
        for name, liner in case["liners"].items()
        for h, w in zip(liner["hours"], liner["wear_mm"], strict=True)
        if h > 0
    ]
    labels, data = units(*zip(*rows, strict=True))
    found = estimate_without_priors(data, **RANDOM_RATE)
    assert sd(found, "shell_rate") == pytest.approx(0.0191849904762404, rel=1e-5)
    assert sd(found, "reading_error") == pytest.approx(0.234732429013181, rel=1e-5)
    assert found.objective == pytest.approx(-10.392881259484, rel=1e-8)
    named = coefficients(data, found)
    assert named.mean[0] == pytest.approx(0.101598087738798, rel=1e-7)
    assert named.sd[0] == pytest.approx(0.00743556331262185, rel=1e-5)
    rates = dict(zip(labels, posterior(data, found).mean[0, :, 1], strict=True))
    for name, rate in {"1": 0.0908290316382939, "7": 0.136386939357787, "8": 0.114840698515656}.items():
        assert rates[name] == pytest.approx(rate, rel=1e-5)


def test_lasers(reference):
    case = reference("gaas_laser")
    rows = [
        (name, h / 1000, y)
        for name, values in case["units"].items()
        for h, y in zip(case["hours"], values, strict=True)
        if h > 0
    ]
    _, data = units(*zip(*rows, strict=True))
    found = estimate_without_priors(data, **RANDOM_RATE)
    assert sd(found, "shell_rate") == pytest.approx(0.462139865500536, rel=1e-5)
    assert sd(found, "reading_error") == pytest.approx(0.205433198067105, rel=1e-5)
    named = coefficients(data, found)
    assert named.mean[0] == pytest.approx(2.04665226381548, rel=1e-8)
    assert named.sd[0] == pytest.approx(0.119450023613146, rel=1e-6)


def test_statsmodels_agrees_where_it_converges(make_class):
    """statsmodels MixedLM, REML, on standardised data: one random rate by shell and its residual."""
    from statsmodels.regression import mixed_linear_model as mixed

    rng = np.random.default_rng(3)
    unit = np.repeat(np.arange(30), 5)
    hours = rng.uniform(0.3, 2.0, 150)
    z = (1.0 + 0.4 * rng.normal(size=30))[unit] * hours + 0.3 * rng.normal(size=150)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = mixed.MixedLM(z, hours[:, None], unit, exog_re=hours[:, None]).fit(reml=True)
    assert fit.converged
    _, data = units([f"{k:02d}" for k in unit], hours, z)
    found = estimate_without_priors(data, **RANDOM_RATE)
    assert sd(found, "shell_rate") ** 2 == pytest.approx(fit.cov_re[0, 0], rel=1e-3)
    assert sd(found, "reading_error") ** 2 == pytest.approx(fit.scale, rel=1e-3)
    assert found.objective == pytest.approx(fit.llf, rel=1e-6)
    assert coefficients(data, found).mean[0] == pytest.approx(fit.fe_params[0], rel=1e-6)


def test_terms_that_cannot_be_told_apart_are_dropped_and_named(make_class):
    """One engine, no renewals: its own rate is the class rate, and place and position are the shell's."""
    data = make_class(engines=1, positions=5, points=1, openings=6, seed=2)
    first = data.series_shell[data.series]
    kept = np.array([s == np.flatnonzero(data.shell_position == data.shell_position[s])[0] for s in first])
    data = replace(data.only(kept), u_um=np.full(int(kept.sum()), np.nan))
    data = replace(data, shell_fitting_known=np.ones(data.n_shells, dtype=bool))
    found = estimate_without_priors(data)
    assert {"engine_rate", "place_rate", "position_rate"} <= set(found.dropped)
    assert "shell_rate" in found.terms.variances
    assert "reading_error" in found.terms.variances


def test_two_sisters_tell_position_from_place(make_class):
    data = make_class(engines=4, positions=4, points=1, openings=6, seed=2)
    found = estimate_without_priors(data)
    assert "engine_rate" in found.terms.variances
    assert "position_rate" in found.terms.variances


def test_fewer_readings_than_flat_coefficients_are_refused(make_class):
    data = make_class(engines=1, positions=1, points=1, openings=1, seed=5)
    with pytest.raises(ValueError, match="cannot carry"):
        estimate_without_priors(data)
