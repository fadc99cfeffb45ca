"""Level, rate and running-in wear of every series given all readings of its class."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.estimate import AVERAGED_BELOW_ENGINES, Estimate
from wearcast.wear.pooled.passes import SolvedPart, slices_of_sets, solved_parts
from wearcast.wear.pooled.positive_rates import one_series_a_shell, positive_rates
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.solver import kernel_weights
from wearcast.wear.pooled.targets import SeriesTargets, prior_between, series_targets
from wearcast.wear.pooled.terms import Terms


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
    class_pull : array (T, S, 3)
        What one standard deviation of the class rate moves the three less, now that all rates
        are above 0.
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
    class_pull: FloatArray
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


def posterior(
    readings: ClassReadings,
    estimate: Estimate,
    series: IntArray | None = None,
    rates_above_zero: bool = True,
) -> Posterior:
    """Posterior of level, rate and running-in wear of the series asked for.

    Parameters
    ----------
    readings : ClassReadings
        The class; it may hold more engines than those the estimate was made from.
    estimate : Estimate
        Standard deviations of the class with their weights.
    series : int array (S,), optional
        Rows of the series table; all by default.
    rates_above_zero : bool
        Use in small classes that the rates of all shells are above 0; the forecast truncates
        each shell's own rate besides. Never where there are no priors.

    Returns
    -------
    Posterior
        In the order of `series`.
    """
    every = np.arange(readings.n_series)
    rows = every if series is None else np.asarray(series, dtype=np.intp)
    # The rates of all shells count in a small class, not of those asked for alone.
    small = rates_above_zero and not estimate.terms.flat and readings.n_engines < AVERAGED_BELOW_ENGINES
    terms, sigma, correlation = estimate.terms, estimate.sigma_points, estimate.correlation_points
    passes = [
        _one_pass(
            readings,
            terms,
            sigma[at],
            None if correlation is None else correlation[at],
            every if small else rows,
        )
        for at in slices_of_sets(readings, len(sigma))
    ]
    made = _joined(passes)
    weights = estimate.weights
    if small and len(every):
        made, weights = _with_positive_rates(made, weights, readings)
    place = np.empty(readings.n_series, dtype=np.intp)
    place[made.series] = np.arange(len(made.series))
    back = np.full(readings.n_series, -1, dtype=np.intp)
    back[rows] = np.arange(len(rows))
    asked = (back[made.pairs] >= 0).all(axis=1)
    return Posterior(
        weights=weights,
        sigma_b=_sigma(terms, sigma, "uneven_wear"),
        opening_sd=_sigma(terms, sigma, "opening_error"),
        error_sd=_sigma(terms, sigma, "reading_error"),
        stated_error_sd=_sigma(terms, sigma, "extra_error"),
        mean=made.mean[:, place[rows]],
        covariance=made.covariance[:, place[rows]],
        pair=back[made.pairs[asked]],
        pair_covariance=made.pair_covariance[:, asked],
        wall_mean=made.wall_mean[:, place[rows]],
        class_pull=made.class_pull[:, place[rows]],
        readings=readings,
        series=rows,
        running_in_kh=terms.running_in_kh,
    )


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
    class_pull: FloatArray


def _joined(passes: list[_Pass]) -> _Pass:
    """All sets of θ in one."""
    if len(passes) == 1:
        return passes[0]
    whole = {
        name: np.concatenate([getattr(p, name) for p in passes])
        for name in (
            "mean",
            "covariance",
            "wall_mean",
            "pair_covariance",
            "with_class_rate",
            "class_rate_variance",
            "class_pull",
        )
    }
    return replace(passes[0], **whole)


def _with_positive_rates(
    made: _Pass, weights: FloatArray, readings: ClassReadings
) -> tuple[_Pass, FloatArray]:
    """The same where the rates of all other shells are above 0, and the weights of θ where all are."""
    first, of = one_series_a_shell(readings.series_shell[made.series])
    known = positive_rates(
        made.mean[:, first, 1],
        made.covariance[:, first, 1, 1],
        made.with_class_rate[:, first, 1],
        made.class_rate_variance,
    )
    log_weight = np.log(weights) + known.log_chance
    weights = np.exp(log_weight - log_weight.max())
    class_sd = np.sqrt(np.maximum(made.class_rate_variance, 1e-24))
    along = made.with_class_rate / class_sd[:, None, None]
    narrower = known.sd[:, of] ** 2 - 1.0
    # Pairs are points of one shell, which share its tilt.
    place = np.empty(readings.n_series, dtype=np.intp)
    place[made.series] = np.arange(len(made.series))
    one, two = place[made.pairs[:, 0]], place[made.pairs[:, 1]]
    tilted = replace(
        made,
        mean=made.mean + along * known.mean[:, of, None],
        covariance=made.covariance + narrower[..., None, None] * along[..., :, None] * along[..., None, :],
        pair_covariance=made.pair_covariance
        + narrower[:, one, None, None] * along[:, one, :, None] * along[:, two, None, :],
        class_pull=along * (known.sd[:, of, None] - 1.0),
    )
    return tilted, weights / weights.sum()


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
        np.zeros((len(sigma), sum(len(one) for one in series), 3)),
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
