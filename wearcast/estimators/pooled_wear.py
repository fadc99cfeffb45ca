"""The pooled wear model as an estimator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Self
from warnings import warn

import numpy as np
import pandas as pd
from sklearn.utils.validation import check_is_fitted

from wearcast.estimators.common import WearEstimator
from wearcast.estimators.fleet import Fleet, fleet_of, numbered
from wearcast.forecasting.classes import UNKNOWN_ERROR_SHARE
from wearcast.units import H_PER_KH
from wearcast.wear.crossing import QUANTILES, hours_to_limit
from wearcast.wear.pooled import estimate, posterior
from wearcast.wear.pooled.borrowed import borrowed
from wearcast.wear.pooled.coefficients import coefficients
from wearcast.wear.pooled.residuals import left_out_residuals
from wearcast.wear.priors import Priors
from wearcast.wear.thresholds import Thresholds

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import ArrayLike

    from wearcast.estimators.fleet import Floats, Ints
    from wearcast.wear.pooled import ClassReadings


GROSS_ALLOWANCES = 3.0
"""From so many allowances on a reading is a slip of the pen, not wear (judgement)."""


class StrainedFit(UserWarning):
    """Some readings are not borne out by the others, and all figures of the fit suffer."""


class PooledWear(WearEstimator):
    """All shells of one class of sister engines at once, in one linear mixed model.

    Parameters
    ----------
    hours, value : str
        Columns of shell hours [h] and of wear [µm], positive towards the limit.
    engine, position, shell : str or None
        Columns that tell engines, places along them (the same on sisters) and shell lives at one place apart. None:
        there is only one; without positions every shell has a place of its own.
    point : str or None
        Column of points of one shell; crown points (`crown`, `crown_fore`, `crown_aft`) and others differ by design.
    opening : str or None
        Column of openings: readings of one engine and opening share a gauge error. None: none is looked for.
    u : str or None
        Column of stated standard uncertainties (k = 1) [µm], empty where none is stated.
    limit : float, str or None
        Wear at the limit [µm], or the column it stands in; needed for hours to the limit.
    allowance_um : float or None
        Wear a shell of the class may lose [µm]: the scale of the priors. The largest limit by default.
    default_u_um : float or None
        Reading error expected where none is stated [µm]; a twentieth of the allowance by default.
    new_wall_sd_um : float or None
        Standard deviation of the unknown new wall about the reference [µm]; estimated by default.
    step_um : float
        Rounding step of the readings [µm].
    log_sd : float
        Log-sd of the priors of the standard deviations.
    priors : Priors or None
        The defaults otherwise.

    Attributes
    ----------
    table_ : DataFrame, one row a series
        readings, shell_h (of its last reading), estimate_um, estimate_u_um, wear_rate_um_per_kh,
        wear_rate_u_um_per_kh, borrowed.
    coefficients_ : DataFrame, one row a coefficient of the class
        mean, sd: the rate of the class and running-in, of points off the crown, then what each position and
        each engine adds to the rate.
    variances_ : DataFrame, one row a term
        variance, sd, prior_median_sd: rates in µm/kh, uneven wear in µm/√kh, all else in µm.
    strained_ : DataFrame, one row a reading that the others do not bear out
        wear_um, expected_um (by the other readings), score (over its standard error), why. All readings count in the
        fit; where these are slips, leave them out and fit again.

    Notes
    -----
    Assumes what the forecast assumes, with every shell new at 0 h. The own line beside it: `OwnLine`.

    Examples
    --------
    >>> rows = [(e, p, f"{e}{p}", 5000 * k, k, round(5 * k * (1 + 0.1 * p) + (3 * e + 5 * p + 7 * k) % 5 - 2, 1))
    ...         for e in (1, 2) for p in (1, 2, 3) for k in (1, 2, 3)]
    >>> readings = pd.DataFrame(rows, columns=["engine", "position", "shell", "shell_h", "opening", "wear_um"])
    >>> fleet = PooledWear(opening="opening", limit=50.0).fit(readings)
    >>> bool(fleet.table["wear_rate_um_per_kh"].between(0.5, 2.0).all())
    True
    >>> list(fleet.hours_to_limit().columns[:2]), len(fleet.strained)
    (['hours_to_limit_p05', 'hours_to_limit_p10'], 0)
    """

    def __init__(
        self,
        hours: str = "shell_h",
        value: str = "wear_um",
        engine: str | None = "engine",
        position: str | None = "position",
        shell: str | None = "shell",
        point: str | None = None,
        opening: str | None = None,
        u: str | None = None,
        limit: float | str | None = None,
        allowance_um: float | None = None,
        default_u_um: float | None = None,
        new_wall_sd_um: float | None = None,
        step_um: float = 0.0,
        log_sd: float = Priors.log_sd_other,
        priors: Priors | None = None,
    ) -> None:
        self.hours = hours
        self.value = value
        self.engine = engine
        self.position = position
        self.shell = shell
        self.point = point
        self.opening = opening
        self.u = u
        self.limit = limit
        self.allowance_um = allowance_um
        self.default_u_um = default_u_um
        self.new_wall_sd_um = new_wall_sd_um
        self.step_um = step_um
        self.log_sd = log_sd
        self.priors = priors

    def fit(self, X: pd.DataFrame, y: ArrayLike | None = None) -> Self:
        """Estimate the class: its standard deviations, averaged over where few engines tell them, and its shells.

        Parameters
        ----------
        X : DataFrame
            The readings, one a row; further columns are left alone.
        y : array_like, optional
            Wear [µm] to use in place of the ``value`` column.

        Returns
        -------
        PooledWear
            Itself, fitted.

        Raises
        ------
        TypeError
            X is no DataFrame.
        ValueError
            A column is missing, a number is none, hours are negative, a limit differs within a series, or
            neither a limit nor an allowance is given.
        """
        limit_column = self.limit if isinstance(self.limit, str) else None
        optional = filter(None, [self.opening, self.u, limit_column])
        frame, wear = self._taken(X, y, [self.hours, *self._names(), *optional])
        fleet, series = self._fleet(frame, wear)
        self.fleet_ = fleet
        with np.errstate(all="ignore"):  # what strains the fit is said in words below
            self.estimate_ = estimate(fleet.readings, self.priors or Priors())
            self.strained_ = self._strained(frame, fleet.readings)
        if len(self.strained_):
            warn(
                f"{len(self.strained_)} readings strain the fit, first row {self.strained_.index[0]}: "
                f"{self.strained_['why'].iloc[0]}. See `strained`; leave slips out and fit again.",
                StrainedFit,
                stacklevel=2,
            )
        self._set_tables(series)
        return self

    def predict(self, X: pd.DataFrame, return_std: bool = False) -> Floats | tuple[Floats, Floats]:
        """Give the wear of each row's shell at its hours: what a perfect gauge would read.

        A shell that was not fitted is expected to wear as its place and its sisters do.

        Parameters
        ----------
        X : DataFrame, n rows
            Hours, and the columns that name engine, position, shell and point.
        return_std : bool
            Give its standard uncertainty too.

        Returns
        -------
        wear : ndarray, shape (n,)
            [µm].
        wear_u : ndarray, shape (n,)
            [µm]; only with ``return_std``.
        """
        check_is_fitted(self)
        frame = self._need(X, [self.hours, *self._names()])
        keys = self._keys(frame, self._names())
        tau_kh = self._ages(frame)
        fleet = self.fleet_.with_more(keys.unique(), self._columns())
        series: Ints = fleet.keys.get_indexer(keys)
        shell = fleet.readings.series_shell[series]
        mean, variance = np.full(len(frame), np.nan), np.full(len(frame), np.nan)
        # One pass gives every shell at one age; shells asked at several ages take several passes.
        turn = pd.Series(tau_kh).groupby(shell).rank("dense").to_numpy(dtype=np.intp)
        for one in np.unique(turn).tolist():
            rows = np.flatnonzero(turn == one)
            now_kh = fleet.readings.shell_tau_now_kh.copy()
            now_kh[shell[rows]] = tau_kh[rows]
            asked, place = np.unique(series[rows], return_inverse=True)
            known = posterior(replace(fleet.readings, shell_tau_now_kh=now_kh), self.estimate_, asked)
            moments = known.moments()
            mean[rows], variance[rows] = moments[0][place, 0], moments[1][place, 0, 0]
        return (mean, np.sqrt(variance)) if return_std else mean

    def hours_to_limit(
        self, now_h: Mapping[Hashable, float] | pd.Series[float] | None = None
    ) -> pd.DataFrame:
        """Give the hours until each shell's wear stands at its limit at the first of its points.

        Parameters
        ----------
        now_h : mapping or Series of float, optional
            Shell hours to count from, by shell [h]; those of its last reading by default.

        Returns
        -------
        DataFrame, one row a shell
            hours_to_limit_p05 … hours_to_limit_p95 [h], NaN beyond 200 000 h; ``chance_now``, that it stands
            there already.

        Raises
        ------
        ValueError
            There is no limit, or a shell has no hours.
        """
        check_is_fitted(self)
        fleet = self.fleet_
        if self.limit is None:
            raise ValueError("limit is None; give the wear at the limit, or the column it stands in")
        readings = fleet.readings
        if now_h is not None:
            hours = pd.Series(now_h, dtype=float).reindex(fleet.shell_keys)
            if hours.isna().any():
                raise ValueError(f"no hours for {list(fleet.shell_keys[hours.isna()])}")
            now_kh = np.asarray(hours, dtype=np.float64) / H_PER_KH
            readings = replace(readings, shell_tau_now_kh=now_kh)
        made = hours_to_limit(posterior(readings, self.estimate_), QUANTILES)
        columns = [f"hours_to_limit_p{100 * p:02.0f}" for p in QUANTILES]
        index = fleet.shell_keys[made.shell]
        return pd.DataFrame(made.hours_kh * H_PER_KH, index=index, columns=columns).assign(
            chance_now=made.curve[:, 0]
        )

    @property
    def strained(self) -> pd.DataFrame:
        """Readings that the others do not bear out, the largest first."""
        check_is_fitted(self)
        return self.strained_

    def _strained(self, frame: pd.DataFrame, readings: ClassReadings) -> pd.DataFrame:
        residual_um, score = left_out_residuals(readings, self.estimate_)
        size = np.abs(readings.z_um) / readings.allowance_um
        gross = size > GROSS_ALLOWANCES
        found = pd.DataFrame(
            {"wear_um": readings.z_um, "expected_um": readings.z_um - residual_um, "score": score},
            index=frame.index,
        )
        found = found.assign(
            why=[
                f"wear of {wear:.0f} µm, {allowances:.0f} times the allowance"
                if far
                else f"wear of {wear:.1f} µm where the others lead to {wear - residual:.1f} µm"
                for wear, allowances, far, residual in zip(
                    readings.z_um, size, gross, residual_um, strict=True
                )
            ]
        )
        order = np.argsort(-np.abs(residual_um), kind="stable")
        odd = gross | (np.abs(score) > Thresholds.doubted_sd)
        return found.iloc[order[odd[order]]]

    def _columns(self) -> dict[str, str | None]:
        return {
            "engine": self.engine,
            "position": self.position,
            "shell": self.shell,
            "point": self.point,
        }

    def _names(self) -> list[str]:
        return [name for name in self._columns().values() if name]

    def _ages(self, frame: pd.DataFrame) -> Floats:
        hours = self._numbers(frame, self.hours)
        if (hours < 0).any():
            row = int(np.flatnonzero(hours < 0)[0])
            raise ValueError(
                f"column {self.hours!r}, row {row} counted from 0: found {hours[row]:g}; shell hours count from "
                "fitting and are not negative"
            )
        return np.asarray(hours / H_PER_KH, dtype=np.float64)

    def _fleet(self, frame: pd.DataFrame, wear_um: Floats) -> tuple[Fleet, Ints]:
        """The readings as the model takes them in, and the series of each."""
        of_row = self._keys(frame, self._names())
        series, keys = of_row.factorize(sort=True)
        bare = fleet_of(keys.set_names(of_row.names), self._columns())
        tau_kh = self._ages(frame)
        limit_um = self._limits(frame, series, len(keys))
        allowance_um = self._allowance(limit_um)
        n_shells = bare.readings.n_shells
        last_kh = np.zeros(n_shells)
        np.maximum.at(last_kh, bare.readings.series_shell[series], tau_kh)
        new_wall = np.nan if self.new_wall_sd_um is None else float(self.new_wall_sd_um)
        readings = replace(
            bare.readings,
            z_um=wear_um,
            tau_kh=tau_kh,
            u_um=np.full(len(frame), np.nan) if self.u is None else self._stated(frame),
            step_um=np.full(len(frame), float(self.step_um)),
            series=np.asarray(series, dtype=np.intp),
            opening=numbered(frame, [self.engine, self.opening])
            if self.opening
            else np.full(len(frame), -1, dtype=np.intp),
            is_new_wall=np.zeros(len(frame), dtype=bool),
            series_limit_um=limit_um,
            shell_tau_now_kh=last_kh,
            shell_delta_sd_um=np.full(n_shells, new_wall),
            allowance_um=allowance_um,
            default_u_um=UNKNOWN_ERROR_SHARE * allowance_um
            if self.default_u_um is None
            else self.default_u_um,
            log_sd=self.log_sd,
        )
        return Fleet(readings, bare.keys, bare.shell_keys), readings.series

    def _stated(self, frame: pd.DataFrame) -> Floats:
        u_um = self._numbers(frame, str(self.u), gaps=True)
        if (u_um <= 0).any():
            raise ValueError(f"column {self.u!r}: stated uncertainties must be above zero")
        return u_um

    def _limits(self, frame: pd.DataFrame, series: Ints, n_series: int) -> Floats:
        if self.limit is None:
            return np.full(n_series, np.nan)
        if not isinstance(self.limit, str):
            return np.full(n_series, float(self.limit))
        by_series = pd.Series(self._numbers(frame, self.limit, gaps=True)).groupby(series)
        if (by_series.nunique() > 1).any():
            raise ValueError(f"column {self.limit!r} gives one series more than one limit")
        return np.asarray(by_series.first().reindex(range(n_series)), dtype=np.float64)

    def _allowance(self, limit_um: Floats) -> float:
        if self.allowance_um is not None:
            return float(self.allowance_um)
        if not np.isfinite(limit_um).any():
            raise ValueError("neither allowance_um nor a limit is given; the priors need one as their scale")
        return float(np.nanmax(limit_um))

    def _set_tables(self, series: Ints) -> None:
        readings, found = self.fleet_.readings, self.estimate_
        mean, covariance = posterior(readings, found).moments()
        self.table_ = pd.DataFrame(
            {
                "readings": np.bincount(series, minlength=readings.n_series),
                "shell_h": readings.shell_tau_now_kh[readings.series_shell] * H_PER_KH,
                "estimate_um": mean[:, 0],
                "estimate_u_um": np.sqrt(covariance[:, 0, 0]),
                "wear_rate_um_per_kh": mean[:, 1],
                "wear_rate_u_um_per_kh": np.sqrt(covariance[:, 1, 1]),
                "borrowed": borrowed(readings, found),
            },
            index=self.fleet_.keys,
        )
        self.coefficients_ = self._coefficients()
        self.variances_ = pd.DataFrame(
            {"variance": found.sigma**2, "sd": found.sigma, "prior_median_sd": found.terms.medians},
            index=pd.Index(found.terms.variances, name="term"),
        )

    def _coefficients(self) -> pd.DataFrame:
        fleet = self.fleet_
        made = coefficients(fleet.readings, self.estimate_)
        shells: Any = fleet.shell_keys.to_frame(index=False)
        rows = dict(zip(made.names, zip(made.mean, made.sd, strict=True), strict=True))
        place = self.position or self.shell
        for column, of_shell, labels, rate, sd in (
            (place, fleet.readings.shell_position, made.positions, made.position_rate, made.position_rate_sd),
            (self.engine, fleet.readings.shell_engine, made.engines, made.engine_rate, made.engine_rate_sd),
        ):
            for label, value, error in zip(labels, rate, sd, strict=True):
                name = shells[column].iloc[int(np.flatnonzero(of_shell == label)[0])] if column else ""
                rows[f"{column} {name}".strip() if column else "all"] = (value, error)
        return pd.DataFrame.from_dict(rows, orient="index", columns=["mean", "sd"]).rename_axis("coefficient")
