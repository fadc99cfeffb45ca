"""The pooled estimator over plain tables: the figures of the core, and the manners of scikit-learn."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulate import Fleet, FleetPlan, draw_fleet
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import KFold, cross_val_predict
from sklearn.utils import estimator_checks

import wearcast
from wearcast.estimators import PooledWear, StrainedFit
from wearcast.wear.crossing import QUANTILES, hours_to_limit
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.coefficients import coefficients
from wearcast.wear.predict import carried_forward
from wearcast.wear.priors import Priors

PLAN = FleetPlan(n_engines=3, n_positions=4, measured_new_share=0.0, fewest_readings=2)
CORE = {"opening": "opening", "limit": 50.0, "default_u_um": 6.0, "log_sd": 0.6}


def drawn(seed: int = 2, plan: FleetPlan = PLAN) -> tuple[Fleet, pd.DataFrame]:
    """A fleet from the model and its readings as a table, shuffled."""
    fleet = draw_fleet(plan, Priors(), np.random.default_rng(seed))
    r = fleet.readings
    shell = r.reading_shell
    frame = pd.DataFrame(
        {
            "engine": r.shell_engine[shell],
            "position": r.shell_position[shell],
            "shell": shell,
            "shell_h": 1000 * r.tau_kh,
            "wear_um": r.z_um,
            "opening": r.opening,
            "remark": "",
        }
    )
    return fleet, frame.sample(frac=1, random_state=1).reset_index(drop=True)


def in_core(fleet: Fleet):
    """The same fleet as arrays, ages up to the last reading and new walls unknown."""
    r = fleet.readings
    last = np.zeros(r.n_shells)
    np.maximum.at(last, r.reading_shell, r.tau_kh)
    return replace(r, shell_tau_now_kh=last, shell_delta_sd_um=np.full(r.n_shells, 15.0 / 12**0.5))


@pytest.fixture(scope="module")
def case():
    fleet, frame = drawn()
    read = np.unique(fleet.readings.reading_shell)
    core = in_core(fleet)
    # A shell of the drawing that was never read is in no row of the table.
    kept = core.part(np.arange(core.n_readings), read, read)
    found = estimate(kept, Priors())
    fitted = PooledWear(**CORE, new_wall_sd_um=15.0 / 12**0.5).fit(frame)
    return fleet, frame, kept, found, fitted, read


def test_tables_are_those_of_the_core(case) -> None:
    _, frame, core, found, fitted, read = case
    mean, covariance = posterior(core, found).moments()
    table = fitted.table
    assert table.index.names == ["engine", "position", "shell"]
    order = [read.tolist().index(shell) for shell in table.index.get_level_values("shell")]
    # The order of rows moves the sums, and so the mode, in the last digits of the search.
    np.testing.assert_allclose(table["estimate_um"], mean[order, 0], rtol=1e-3, atol=1e-2)
    np.testing.assert_allclose(table["wear_rate_um_per_kh"], mean[order, 1], rtol=2e-3, atol=1e-3)
    np.testing.assert_allclose(table["wear_rate_u_um_per_kh"], np.sqrt(covariance[order, 1, 1]), rtol=5e-3)
    assert table["readings"].sum() == len(frame)
    assert table["borrowed"].between(0, 1).all()
    np.testing.assert_allclose(fitted.variances["sd"], found.sigma, rtol=5e-3)
    assert list(fitted.variances.index) == list(found.terms.variances)
    made = coefficients(core, found)
    assert fitted.coefficients.loc["rate", "mean"] == pytest.approx(made.mean[0], rel=2e-3)
    assert fitted.coefficients.loc["running_in", "sd"] == pytest.approx(made.sd[1], rel=5e-3)
    for k, label in enumerate(made.engines.tolist()):
        row = fitted.coefficients.loc[f"engine {label}"]
        assert row["mean"] == pytest.approx(made.engine_rate[k], abs=1e-3)


def test_prediction_is_the_wear_expected_at_any_hours(case) -> None:
    _, _, _, _, fitted, _ = case
    table = fitted.table.reset_index()
    wear, wear_u = fitted.predict(table, return_std=True)
    np.testing.assert_allclose(wear, table["estimate_um"], rtol=1e-10)
    np.testing.assert_allclose(wear_u, table["estimate_u_um"], rtol=1e-10)
    known = posterior(fitted.fleet_.readings, fitted.estimate_)
    ahead = carried_forward(known, np.full(len(table), 6.0)).moments()
    later, later_u = fitted.predict(table.assign(shell_h=table["shell_h"] + 6000), return_std=True)
    np.testing.assert_allclose(later, ahead[0][:, 0], rtol=1e-9)
    np.testing.assert_allclose(later_u**2, ahead[1][:, 0, 0], rtol=1e-9)
    both = fitted.predict(pd.concat([table, table.assign(shell_h=table["shell_h"] + 6000)]))
    np.testing.assert_allclose(both, np.r_[wear, later], rtol=1e-9)
    early = fitted.predict(table.assign(shell_h=0.0), return_std=True)
    assert (np.abs(early[0]) < 15).all()  # new shells, within the band of new walls
    assert (early[1] < 15 / 12**0.5 * 1.01).all()


def test_shells_not_fitted_wear_as_their_place_and_sisters(case) -> None:
    """Against the core given shells without readings."""
    _, _, _, _, fitted, _ = case
    r = fitted.fleet_.readings
    first = fitted.table.index[0]
    asked = pd.DataFrame(
        {
            "engine": [first[0], 99],
            "position": [first[1], first[1]],
            "shell": ["next", "first"],
            "shell_h": [10_000.0, 10_000.0],
        }
    )
    wear, wear_u = fitted.predict(asked, return_std=True)
    extra = replace(
        r,
        series_shell=np.r_[r.series_shell, r.n_shells, r.n_shells + 1],
        series_group=np.r_[r.series_group, 0, 0],
        series_point=np.r_[r.series_point, 0, 0],
        series_limit_um=np.r_[r.series_limit_um, 50.0, 50.0],
        series_overlay_um=np.full(r.n_series + 2, np.nan),
        shell_engine=np.r_[r.shell_engine, r.shell_engine[0], r.shell_engine.max() + 1],
        shell_position=np.r_[r.shell_position, r.shell_position[0], r.shell_position[0]],
        shell_fitting_known=np.ones(r.n_shells + 2, dtype=bool),
        shell_tau_now_kh=np.r_[r.shell_tau_now_kh, 10.0, 10.0],
        shell_tau_now_sd_kh=np.zeros(r.n_shells + 2),
        shell_delta_sd_um=np.full(r.n_shells + 2, 15.0 / 12**0.5),
    )
    mean, covariance = posterior(extra, fitted.estimate_, np.arange(r.n_series, r.n_series + 2)).moments()
    np.testing.assert_allclose(wear, mean[:, 0], rtol=1e-9)
    np.testing.assert_allclose(wear_u, np.sqrt(covariance[:, 0, 0]), rtol=1e-9)
    assert wear_u[1] > wear_u[0]


def test_hours_to_limit_are_those_of_the_core(case) -> None:
    _, _, _, _, fitted, _ = case
    made = hours_to_limit(posterior(fitted.fleet_.readings, fitted.estimate_), QUANTILES)
    found = fitted.hours_to_limit()
    assert list(found.index) == list(fitted.fleet_.shell_keys[made.shell])
    np.testing.assert_allclose(found.iloc[:, :7], made.hours_kh * 1000, equal_nan=True)
    np.testing.assert_allclose(found["chance_now"], made.curve[:, 0])
    later = fitted.hours_to_limit(dict.fromkeys(fitted.fleet_.shell_keys, 60000.0))
    assert (later["hours_to_limit_p50"] < found["hours_to_limit_p50"]).mean() > 0.8
    with pytest.raises(ValueError, match="no hours for"):
        fitted.hours_to_limit({fitted.fleet_.shell_keys[0]: 60_000.0})
    with pytest.raises(ValueError, match="limit is None"):
        PooledWear(allowance_um=50.0).fit(drawn()[1]).hours_to_limit()


def test_planted_rates_are_recovered_within_what_is_stated() -> None:
    """Rates within 1.645 standard uncertainties in 90 % of shells: seeds 20 to 27, three standard errors of 3 %."""
    inside = []
    for seed in range(20, 28):
        fleet, frame = drawn(seed)
        table = PooledWear(**CORE, new_wall_sd_um=15.0 / 12**0.5).fit(frame).table
        true = fleet.rate_um_per_kh[table.index.get_level_values("shell")]
        miss = (table["wear_rate_um_per_kh"] - true) / table["wear_rate_u_um_per_kh"]
        inside += (miss.abs() < 1.645).tolist()
    assert len(inside) > 90
    assert 0.81 < np.mean(inside) < 0.99


def test_points_stated_uncertainties_and_limits_come_from_their_columns() -> None:
    _, frame = drawn()
    off = frame.assign(wear_um=frame["wear_um"] + 20, point="p45")
    both = pd.concat([frame.assign(point="crown"), off], ignore_index=True)
    both = both.assign(
        u_um=np.where(both.index % 2 == 0, 5.0, np.nan), at=np.where(both["point"] == "crown", 50.0, np.nan)
    )
    fitted = PooledWear(point="point", u="u_um", limit="at", opening="opening").fit(both)
    assert fitted.table.index.names == ["engine", "position", "shell", "point"]
    assert {"extra_error", "reading_error", "point_rate"} <= set(fitted.variances.index)
    assert 10 < fitted.coefficients.loc["group_level_1", "mean"] < 25
    assert len(fitted.hours_to_limit()) == frame["shell"].nunique()


def test_columns_may_be_left_out() -> None:
    _, frame = drawn()
    one = PooledWear(engine=None, position=None, limit=50.0).fit(frame)
    assert one.table.index.name == "shell"
    assert len(one.table) == frame["shell"].nunique()
    whole = PooledWear(engine=None, position=None, shell=None, limit=50.0).fit(frame)
    assert whole.table["readings"].tolist() == [len(frame)]


def test_the_package_offers_both_estimators() -> None:
    assert wearcast.PooledWear is PooledWear
    assert {"OwnLine", "PooledWear"} <= set(wearcast.__all__)


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (lambda f: f.drop(columns="shell"), ValueError, r"no column \['shell'\]; found"),
        (
            lambda f: f.assign(shell_h=f["shell_h"].where(f.index != 3, -5.0)),
            ValueError,
            "row 3.*not negative",
        ),
        (lambda f: f.assign(wear_um=f["wear_um"].where(f.index != 2)), ValueError, "'wear_um', row 2"),
        (lambda f: f.assign(engine=f["engine"].where(f.index != 2)), ValueError, "belongs to no group"),
        (lambda f: f.assign(u_um=0.0), ValueError, "above zero"),
        (lambda f: f.assign(at=np.arange(len(f))), ValueError, "more than one limit"),
        (lambda f: f.to_numpy(), TypeError, "DataFrame with columns"),
    ],
)
def test_what_cannot_be_fitted_is_refused_by_name(change, error, words) -> None:
    frame = drawn()[1].assign(u_um=5.0, at=50.0)
    with pytest.raises(error, match=words):
        PooledWear(u="u_um", limit="at").fit(change(frame))


def test_without_limit_and_allowance_there_is_no_scale() -> None:
    with pytest.raises(ValueError, match="neither allowance_um nor a limit"):
        PooledWear().fit(drawn()[1])


def test_nothing_is_shown_before_the_fit() -> None:
    for name in ("table", "coefficients", "variances"):
        with pytest.raises(NotFittedError):
            getattr(PooledWear(), name)
    with pytest.raises(NotFittedError):
        PooledWear().predict(drawn()[1])
    with pytest.raises(NotFittedError):
        PooledWear().hours_to_limit()


def test_copies_pickles_and_folds_as_estimators_do() -> None:
    _, frame = drawn()
    fitted = PooledWear(limit=50.0).fit(frame)
    pd.testing.assert_frame_equal(pickle.loads(pickle.dumps(fitted)).table, fitted.table)
    fresh = clone(fitted)
    assert fresh.get_params() == fitted.get_params()
    assert not hasattr(fresh, "table_")
    ahead = cross_val_predict(PooledWear(limit=50.0), frame, frame["wear_um"], cv=KFold(3))
    assert np.abs(ahead - frame["wear_um"]).median() < 12


class FromArrays(PooledWear):
    """One shell read through a bare array, first column the hours, so that scikit-learn's own checks can feed it."""

    def __init__(self, hours="x0", value="y", engine=None, position=None, shell=None, allowance_um=50.0):
        super().__init__(hours, value, engine, position, shell, allowance_um=allowance_um)

    def fit(self, X, y=None):
        return super().fit(self._named(X), y)

    def predict(self, X):
        return super().predict(self._named(X))

    @staticmethod
    def _named(X):
        X = np.abs(np.asarray(X, dtype=float))  # hours are not negative
        return pd.DataFrame(X, columns=[f"x{i}" for i in range(X.shape[1])])


# Of scikit-learn's checks, these ask nothing of the data and hold for the estimator as it is.
@pytest.mark.parametrize(
    "name",
    [
        "check_do_not_raise_errors_in_init_or_set_params",
        "check_estimator_cloneable",
        "check_estimator_repr",
        "check_estimator_tags_renamed",
        "check_get_params_invariance",
        "check_mixin_order",
        "check_no_attributes_set_in_init",
        "check_parameters_default_constructible",
        "check_set_params",
        "check_valid_tag_types",
    ],
)
def test_manners_of_an_estimator(name) -> None:
    getattr(estimator_checks, name)("PooledWear", PooledWear())


# These feed bare arrays, which have no column names; they hold for the same code with its columns named for it.
# Those left out do not apply, as beside the own line.
@pytest.mark.parametrize(
    "name",
    [
        "check_dict_unchanged",
        "check_dont_overwrite_parameters",
        "check_estimators_fit_returns_self",
        "check_estimators_overwrite_params",
        "check_estimators_pickle",
        "check_estimators_unfitted",
        "check_f_contiguous_array_estimator",
        "check_fit_check_is_fitted",
        "check_fit_idempotent",
        "check_fit_score_takes_y",
        "check_fit2d_1feature",
        "check_fit2d_1sample",
        "check_methods_sample_order_invariance",
        "check_methods_subset_invariance",
        "check_n_features_in",
        "check_readonly_memmap_input",
        "check_regressors_int",
        "check_regressors_no_decision_function",
    ],
)
def test_manners_of_a_fit(name) -> None:
    getattr(estimator_checks, name)("FromArrays", FromArrays())


def test_slips_that_strain_the_fit_are_named_and_a_sound_fleet_names_none(case) -> None:
    """Micrometres typed under mm, and a digit slipped: the fit says which rows, in words."""
    _, frame, _, _, fitted, _ = case
    assert len(fitted.strained) == 0
    gross = frame.assign(wear_um=frame["wear_um"].where(frame.index != 7, -7_974_000.0))
    with pytest.warns(StrainedFit, match="row 7: wear of -7974000 µm, 159480 times the allowance"):
        found = PooledWear(**CORE).fit(gross)
    assert found.strained.index[0] == 7
    slipped = frame.assign(wear_um=frame["wear_um"] + 100.0 * (frame.index == 5))
    with pytest.warns(StrainedFit, match="row 5: wear of"):
        found = PooledWear(**CORE).fit(slipped)
    assert found.strained.index[0] == 5
