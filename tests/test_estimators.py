"""The estimators over plain tables: the figures of the core, and the manners of scikit-learn."""

import pickle

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import KFold, cross_val_predict
from sklearn.utils import estimator_checks

from wearcast.estimators import OwnLine
from wearcast.wear.inverse import REASONS, Reach, hours_at_limit
from wearcast.wear.own_line import band_um, fit_lines


def worded(frame, column, row, text):
    return frame.assign(**{column: frame[column].astype(object).where(frame.index != row, text)})


def readings(seed=3, shells=6, each=5):
    rng = np.random.default_rng(seed)
    frame = pd.DataFrame(
        {
            "vessel": np.repeat(["Alder", "Birch"], shells * each // 2),
            "shell": np.repeat([f"{i + 1}U" for i in range(shells)], each),
            "shell_h": rng.integers(2_000, 40_000, shells * each),
            "u_um": rng.uniform(5, 15, shells * each).round(1),
            "remark": "",
        }
    )
    frame["wear_um"] = 20 + frame["shell_h"] / 1000 * 5 + rng.normal(size=len(frame)) * frame["u_um"]
    return frame.sample(frac=1, random_state=1).reset_index(drop=True)


@pytest.mark.parametrize("u", [None, "u_um"])
def test_tables_are_the_lines_of_the_core(u):
    frame = readings()
    fitted = OwnLine(u=u).fit(frame)
    names = sorted(frame["shell"].unique())
    series = frame["shell"].map(names.index).to_numpy()
    stated = np.full(len(frame), np.nan) if u is None else frame["u_um"]
    lines = fit_lines(frame["shell_h"] / 1000, frame["wear_um"], stated, series, len(names))
    assert list(fitted.table.index) == names
    assert fitted.table.index.name == "shell"
    np.testing.assert_array_equal(fitted.table["own_rate_um_per_kh"], lines.rate_um_per_kh)
    np.testing.assert_allclose(fitted.table["own_rate_lo"], lines.rate_lo90, rtol=1e-14)
    np.testing.assert_allclose(fitted.table["own_rate_hi"], lines.rate_hi90, rtol=1e-14)
    np.testing.assert_array_equal(fitted.coefficients["intercept_um"], lines.intercept_um)
    np.testing.assert_allclose(fitted.variances["rate"], lines.rate_u_um_per_kh**2, rtol=1e-14)
    np.testing.assert_allclose(fitted.variances["intercept"], lines.intercept_u_um**2, rtol=1e-14)
    np.testing.assert_allclose(fitted.variances["covariance"], lines.covariance_um2_per_kh, rtol=1e-14)
    assert fitted.variances["residual"].isna().all() == (u is not None)


def test_prediction_is_the_mean_line_with_its_uncertainty():
    frame = readings()
    fitted = OwnLine().fit(frame)
    at = pd.DataFrame({"shell": ["2U", "2U", "new"], "shell_h": [0, 50_000, 10_000]})
    wear, wear_u = fitted.predict(at, return_std=True)
    lower, line, _ = band_um(fitted.lines_, 1, [0, 50])
    assert wear[:2] == pytest.approx(line, rel=1e-12)
    assert wear_u[:2] * fitted.lines_.quantile()[1] == pytest.approx(line - lower, rel=1e-12)
    assert np.isnan([wear[2], wear_u[2]]).all()  # a shell that was not fitted: nothing is said of it
    np.testing.assert_array_equal(fitted.predict(at), wear)


def test_hours_at_limit_is_the_set_of_the_core_with_its_reason():
    frame = readings()
    frame.loc[frame["shell"] == "3U", "wear_um"] = 40.0
    fitted = OwnLine(coverage=0.8).fit(frame)
    limits = {name: 300 + 10 * i for i, name in enumerate(fitted.table.index)}
    found = fitted.hours_at_limit(limits)
    core = hours_at_limit(fitted.lines_, list(limits.values()), 0.8)
    np.testing.assert_allclose(found["lower_h"], core.lower_kh * 1000, rtol=1e-14)
    np.testing.assert_allclose(found["upper_h"], core.upper_kh * 1000, rtol=1e-14)
    assert found.loc["3U", "reason"] == REASONS[Reach.NO_WEAR]
    assert found.loc["1U", "reason"] == ""
    same = fitted.hours_at_limit(300)
    assert same.loc["1U", "line_h"] == pytest.approx(found.loc["1U", "line_h"])
    with pytest.raises(ValueError, match="no limit for"):
        fitted.hours_at_limit({"1U": 300})


def test_several_columns_make_a_group_and_none_makes_one():
    frame = readings()
    both = OwnLine(groups=("vessel", "shell")).fit(frame)
    assert both.table.index.names == ["vessel", "shell"]
    np.testing.assert_array_equal(
        both.table["own_rate_um_per_kh"], OwnLine().fit(frame).table["own_rate_um_per_kh"]
    )
    np.testing.assert_array_equal(both.predict(frame), OwnLine().fit(frame).predict(frame))
    assert OwnLine(groups=()).fit(frame).table["readings"].tolist() == [len(frame)]


def test_given_wear_takes_the_place_of_the_column():
    frame = readings()
    other = OwnLine().fit(frame.drop(columns="wear_um"), frame["wear_um"])
    pd.testing.assert_frame_equal(other.table, OwnLine().fit(frame).table)


def test_some_stated_uncertainties_leave_the_line_ordinary():
    frame = readings()
    gaps = frame.assign(u_um=frame["u_um"].where(frame["shell"] != "1U"))
    fitted = OwnLine(u="u_um").fit(gaps)
    assert fitted.table.loc["1U", "degrees_of_freedom"] == 3
    assert np.isinf(fitted.table.loc["2U", "degrees_of_freedom"])


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        (lambda f: f.drop(columns="shell_h"), ValueError, r"no column \['shell_h'\]; found"),
        (lambda f: worded(f, "shell_h", 4, "N/A"), ValueError, "row 4.*'N/A'"),
        (lambda f: f.assign(wear_um=f["wear_um"].where(f.index != 2)), ValueError, "'wear_um', row 2"),
        (lambda f: f.assign(wear_um=f["wear_um"].where(f.index != 2, np.inf)), ValueError, "'wear_um', row 2"),
        (lambda f: f.assign(shell=f["shell"].where(f.index != 2)), ValueError, "belongs to no group"),
        (lambda f: f.assign(u_um=f["u_um"].where(f.index != 2, 0.0)), ValueError, "above zero"),
        (lambda f: worded(f, "u_um", 2, "?"), ValueError, "'u_um', row 2"),
        (lambda f: pd.concat([f, f[["shell_h"]]], axis=1), ValueError, "more than once"),
        (lambda f: f.to_numpy(), TypeError, "DataFrame with columns"),
    ],
)  # fmt: skip
def test_what_cannot_be_fitted_is_refused_by_name(change, error, words):
    with pytest.raises(error, match=words):
        OwnLine(u="u_um").fit(change(readings()))


def test_nothing_is_shown_before_the_fit():
    for name in ("table", "coefficients", "variances"):
        with pytest.raises(NotFittedError):
            getattr(OwnLine(), name)
    with pytest.raises(NotFittedError):
        OwnLine().predict(readings())
    with pytest.raises(NotFittedError):
        OwnLine().hours_at_limit(300)


def test_copies_pickles_and_folds_as_estimators_do():
    frame = readings()
    fitted = OwnLine(u="u_um", coverage=0.8).fit(frame)
    pd.testing.assert_frame_equal(pickle.loads(pickle.dumps(fitted)).table, fitted.table)
    fresh = clone(fitted)
    assert fresh.get_params() == fitted.get_params()
    assert not hasattr(fresh, "table_")
    ahead = cross_val_predict(OwnLine(), frame, frame["wear_um"], cv=KFold(5))
    assert np.abs(ahead - frame["wear_um"]).median() < 25
    assert fitted.score(frame, frame["wear_um"]) > 0.8


def test_the_table_given_is_left_as_it_was():
    frame = readings()
    before = frame.copy()
    OwnLine(u="u_um").fit(frame).predict(frame)
    pd.testing.assert_frame_equal(frame, before)


class FromArrays(OwnLine):
    """One line through a bare array, first column the hours, so that scikit-learn's own checks can feed it."""

    def __init__(self, hours="x0", value="y", u=None, groups=(), coverage=0.9):
        super().__init__(hours, value, u, groups, coverage)

    def fit(self, X, y=None):
        return super().fit(self._named(X), y)

    def predict(self, X):
        return super().predict(self._named(X))

    @staticmethod
    def _named(X):
        X = np.asarray(X)
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
def test_manners_of_an_estimator(name):
    getattr(estimator_checks, name)("OwnLine", OwnLine())


# These feed bare arrays, which have no column names; they hold for the same code with its columns named for it.
# Those left out do not apply: sparse, complex and 1-d input, sample weights, several outputs, pipelines of
# transformers and array namespaces ask for what a table of readings is not; and the scores on random
# many-column problems ask for more than one straight line can give.
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
def test_manners_of_a_fit(name):
    getattr(estimator_checks, name)("FromArrays", FromArrays())
