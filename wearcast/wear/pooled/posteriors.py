"""Level, rate and running-in wear of every series given all readings of its class."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import BoolArray, FloatArray, IntArray
from wearcast.wear.pooled.estimation import AVERAGED_BELOW_ENGINES
from wearcast.wear.pooled.passes import slices_of_sets
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.series_pass import joined, one_pass, with_positive_rates
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
        one_pass(
            readings,
            terms,
            sigma[at],
            None if correlation is None else correlation[at],
            every if small else rows,
        )
        for at in slices_of_sets(readings, len(sigma))
    ]
    made = joined(passes)
    weights = estimate.weights
    if small and len(every):
        made, weights = with_positive_rates(made, weights, readings)
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


def _sigma(terms: Terms, sigma: FloatArray, name: str) -> FloatArray:
    at = terms.index(name)
    return sigma[:, at] if at >= 0 else np.zeros(len(sigma))
