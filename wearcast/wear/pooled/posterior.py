"""Level, rate and running-in wear of every series given all readings of its class."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import log_ndtr

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.estimate import Estimate
from wearcast.wear.pooled.passes import SolvedPart, slices_of_sets, solved_parts
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import kernel_weights
from wearcast.wear.pooled.targets import SeriesTargets, prior_between, series_targets
from wearcast.wear.pooled.terms import Terms

_NODES, _NODE_WEIGHTS = hermegauss(21)
_LOGS = np.log(_NODE_WEIGHTS / _NODE_WEIGHTS.sum())


@dataclass(frozen=True)
class Posterior:
    """Gaussian posterior of some series at each set of standard deviations.

    Attributes
    ----------
    weights : array (T,)
        Weights of the sets of standard deviations, given that all rates are above 0; they
        sum to 1.
    sigma_b : array (T,)
        Unevenness of wear σ_B [µm/√kh].
    opening_sd, error_sd, stated_error_sd : array (T,)
        Standard deviations of a common gauge error, of a reading error where none is stated,
        and beyond a stated one [µm].
    mean : array (T, S, 3)
        Level now [µm], rate [µm/kh], running-in wear α [µm]; the rate not truncated.
    covariance : array (T, S, 3, 3)
    pair : int array (K, 2)
        Pairs of series of one shell, places in `series`.
    pair_covariance : array (T, K, 3, 3)
        Covariance of the three of the first with those of the second of each pair.
    wall_mean : array (T, S)
        New wall against the reference, δ + η [µm]; wear of the metal is level less this.
    readings : ClassReadings
    series : int array (S,)
        Rows of the series table that are forecast.
    running_in_kh : float
    """

    weights: FloatArray
    sigma_b: FloatArray
    opening_sd: FloatArray
    error_sd: FloatArray
    stated_error_sd: FloatArray
    mean: FloatArray
    covariance: FloatArray
    pair: IntArray
    pair_covariance: FloatArray
    wall_mean: FloatArray
    readings: ClassReadings
    series: IntArray
    running_in_kh: float

    @property
    def shell(self) -> IntArray:
        """Shell of every series, int array (S,)."""
        return self.readings.series_shell[self.series]

    @property
    def tau_now_kh(self) -> FloatArray:
        """Shell hours now of every series, array (S,) [kh]."""
        return self.readings.shell_tau_now_kh[self.shell]

    @property
    def fitting_known(self) -> BoolArray:
        """Whether the fitting time is known, bool array (S,)."""
        return self.readings.shell_fitting_known[self.shell]

    @property
    def limit_um(self) -> FloatArray:
        """Wear at the limit, array (S,) [µm]; nan for none."""
        return self.readings.series_limit_um[self.series]

    def moments(self) -> tuple[FloatArray, FloatArray]:
        """Mean (S, 3) and covariance (S, 3, 3) of the mixture over the standard deviations."""
        mean = np.einsum("t,tsi->si", self.weights, self.mean)
        off = self.mean - mean
        spread = np.einsum("t,tsi,tsj->sij", self.weights, off, off)
        return mean, np.einsum("t,tsij->sij", self.weights, self.covariance) + spread

    def pair_covariances(self) -> FloatArray:
        """Covariance (K, 3, 3) of the mixture between the series of each pair."""
        off = self.mean - np.einsum("t,tsi->si", self.weights, self.mean)
        first, second = off[:, self.pair[:, 0]], off[:, self.pair[:, 1]]
        spread = np.einsum("t,tki,tkj->kij", self.weights, first, second)
        return np.asarray(np.einsum("t,tkij->kij", self.weights, self.pair_covariance) + spread)


def posterior(readings: ClassReadings, estimate: Estimate, series: IntArray | None = None) -> Posterior:
    """Posterior of level, rate and running-in wear of the series asked for.

    Parameters
    ----------
    readings : ClassReadings
        The class; it may hold more engines than those the estimate was made from.
    estimate : Estimate
        Standard deviations of the class with their weights.
    series : int array (S,), optional
        Rows of the series table; all by default.

    Returns
    -------
    Posterior
        In the order of `series`.
    """
    rows = np.arange(readings.n_series) if series is None else np.asarray(series, dtype=np.intp)
    # Where θ is averaged over, the rates of all shells count, not of those asked for alone.
    computed = np.arange(readings.n_series) if len(estimate.weights) > 1 else rows
    terms, sigma, correlation = estimate.terms, estimate.sigma_points, estimate.correlation_points
    passes = [
        _one_pass(readings, terms, sigma[at], None if correlation is None else correlation[at], computed)
        for at in slices_of_sets(readings, len(sigma))
    ]
    found, pairs = passes[0].series, passes[0].pairs
    place = np.empty(readings.n_series, dtype=np.intp)
    place[found] = np.arange(len(found))
    order = place[rows]
    back = np.full(readings.n_series, -1, dtype=np.intp)
    back[rows] = np.arange(len(rows))
    asked = (back[pairs] >= 0).all(axis=1)
    return Posterior(
        weights=_weights(readings, estimate, passes, place),
        sigma_b=_sigma(terms, sigma, "uneven_wear"),
        opening_sd=_sigma(terms, sigma, "opening_error"),
        error_sd=_sigma(terms, sigma, "reading_error"),
        stated_error_sd=_sigma(terms, sigma, "extra_error"),
        mean=np.concatenate([p.mean for p in passes])[:, order],
        covariance=np.concatenate([p.covariance for p in passes])[:, order],
        pair=back[pairs[asked]],
        pair_covariance=np.concatenate([p.pair_covariance for p in passes])[:, asked],
        wall_mean=np.concatenate([p.wall_mean for p in passes])[:, order],
        readings=readings,
        series=rows,
        running_in_kh=terms.running_in_kh,
    )


def _weights(readings: ClassReadings, estimate: Estimate, passes: list[_Pass], place: IntArray) -> FloatArray:
    """Weights of the sets of θ, times the chance each gives to all rates being above 0.

    That rates are not negative is part of the model. Given the class rate β the rates of the
    shells are taken as independent, which leaves one integral (Dunnett & Sobel 1955).
    """
    if len(estimate.weights) == 1:
        return estimate.weights
    _, first = np.unique(readings.series_shell, return_index=True)
    at = place[first]
    mean = np.concatenate([p.mean for p in passes])[:, at, 1]
    variance = np.concatenate([p.covariance for p in passes])[:, at, 1, 1]
    with_class = np.concatenate([p.with_class_rate for p in passes])[:, at]
    class_sd = np.sqrt(np.concatenate([p.class_rate_variance for p in passes]))[:, None]
    sd = np.sqrt(np.maximum(variance, 1e-24))
    loading = np.clip(with_class / np.maximum(class_sd * sd, 1e-24), -0.985, 0.985)
    own = np.sqrt(1.0 - loading**2)
    log_chance = np.stack(
        [log_ndtr((mean / sd + loading * f) / own).sum(1) + w for f, w in zip(_NODES, _LOGS, strict=True)]
    )
    top = log_chance.max(axis=0)
    log_weight = np.log(estimate.weights) + top + np.log(np.exp(log_chance - top).sum(0))
    weights = np.exp(log_weight - log_weight.max())
    return np.asarray(weights / weights.sum())


@dataclass(frozen=True)
class _Pass:
    series: IntArray
    mean: FloatArray
    covariance: FloatArray
    wall_mean: FloatArray
    pairs: IntArray
    pair_covariance: FloatArray
    with_class_rate: FloatArray
    class_rate_variance: FloatArray


def _one_pass(
    readings: ClassReadings,
    terms: Terms,
    sigma: FloatArray,
    correlation: FloatArray | None,
    rows: IntArray,
) -> _Pass:
    asked = np.zeros(readings.n_series, dtype=bool)
    asked[rows] = True
    series, mean, covariance, wall = [], [], [], []
    pairs, pair_covariance, with_class = [], [], []
    class_rate_variance = np.zeros(len(sigma))
    for piece in solved_parts(readings, terms, sigma, correlation):
        wanted = np.flatnonzero(asked[piece.part.series_rows])
        class_rate_variance = piece.common.coefficient_covariance[:, 0, 0]
        for bucket in range(len(piece.layout.buckets)):
            made = series_targets(piece, bucket, wanted)
            series.append(piece.part.series_rows[made.series])
            mean.append(made.mean)
            covariance.append(made.covariance)
            wall.append(made.wall_mean)
            with_class.append(made.with_class_rate)
            pair = _pairs(piece.layout.readings.series_shell[made.series])
            pairs.append(piece.part.series_rows[made.series][pair])
            pair_covariance.append(_between(piece, made, pair))
    return _Pass(
        np.concatenate(series),
        np.concatenate(mean, axis=1),
        np.concatenate(covariance, axis=1),
        np.concatenate(wall, axis=1),
        np.concatenate(pairs),
        np.concatenate(pair_covariance, axis=1),
        np.concatenate(with_class, axis=1),
        class_rate_variance,
    )


def _pairs(shell: IntArray) -> IntArray:
    """Places of all pairs of equal shells, int array (K, 2)."""
    order = np.argsort(shell, kind="stable")
    ordered = shell[order]
    found = [np.zeros((0, 2), dtype=np.intp)]
    offset = 1
    while offset < len(shell):
        first = np.flatnonzero(ordered[:-offset] == ordered[offset:])
        if not first.size:
            break
        found.append(np.stack([order[first], order[first + offset]], axis=1))
        offset += 1
    return np.concatenate(found)


def _between(piece: SolvedPart, made: SeriesTargets, pair: IntArray) -> FloatArray:
    """Covariance of level, rate and running-in wear between two points, array (T, K, 3, 3)."""
    readings, terms = piece.layout.readings, piece.layout.terms
    first, second = pair[:, 0], pair[:, 1]
    shell = readings.series_shell[made.series[first]]
    weights = dict(
        zip(
            piece.layout.kernel_names,
            kernel_weights(piece.layout, piece.sigma, piece.correlation).T[..., None],
            strict=True,
        )
    )
    delta = readings.shell_delta_sd_um[shell]
    known = readings.shell_fitting_known[shell]
    tau = readings.shell_tau_now_kh[shell]
    wall = np.where(known, np.nan_to_num(delta) ** 2, terms.start_sd_um**2)[None]
    if "new_wall" in weights:
        wall = wall + weights["new_wall"] * (known & np.isnan(delta))
    effects = made.effects.covariance[:, made.row[first]]
    between = made.reach[:, first] @ effects @ np.swapaxes(made.reach[:, second], -1, -2)
    between[..., :2, :2] += prior_between(weights, tau, wall) - made.answer[:, first] @ np.swapaxes(
        made.prior[:, second], -1, -2
    )
    carried = readings.shell_tau_now_sd_kh[shell]
    between[..., 0, 0] += carried**2 * made.mean[:, first, 1] * made.mean[:, second, 1]
    return between


def _sigma(terms: Terms, sigma: FloatArray, name: str) -> FloatArray:
    at = terms.index(name)
    return sigma[:, at] if at >= 0 else np.zeros(len(sigma))
