"""What is maximised to estimate the standard deviations of a class, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.clock import STEADY, Clock, Part
from wearcast.wear.pooled.layout import Layout, build_layout
from wearcast.wear.pooled.likelihood import log_likelihood, log_likelihood_and_gradient
from wearcast.wear.pooled.passes import slices_of_sets
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms, terms_of
from wearcast.wear.priors import Priors

GRADIENT_TOLERANCE = 1e-4  # of the log posterior per prior log-sd; judgement
SAME_MODE = 0.05  # prior log-sds between the ends of two searches; judgement
_BEYOND_BELIEF = 2.5  # prior log-sds; judgement


@dataclass(frozen=True)
class JudgedPart:
    """One change of the wear with the weight the readings give it.

    Attributes
    ----------
    part : Part
    weight : float
        Share of the forecast that rests on it.
    log_factor, log_factor_sd : float
        Posterior of the logarithm of its factor.
    """

    part: Part
    weight: float
    log_factor: float
    log_factor_sd: float


@dataclass(frozen=True)
class Estimate:
    """Standard deviations of one class.

    Attributes
    ----------
    terms : Terms
    sigma : array (d,)
        Standard deviations at the mode, in the order of `terms.variances`.
    correlation : float or None
        Of new wall and shell rate, where that was asked for.
    objective : float
        Log posterior density at the mode (restricted log-likelihood without priors).
    gradient_norm : float
        Largest absolute derivative of the objective at the mode, per prior log-sd; without
        priors per standard deviation of the data, and only where a term is above 0.
    second_start_gap : float
        How far, in the same unit, the search from a second start ended from the mode.
    hessian : array (d, d)
        Second derivatives of minus the objective in the same unit.
    sigma_points, weights : arrays (T, d), (T,)
        Sets of standard deviations to average over; one where the mode is plugged in.
    correlation_points : array (T,) or None
    dropped : tuple of str
        Terms left out because the data cannot tell them from others.
    n_engines, n_readings : int
        What the estimate was made from.
    n_modes : int
        Modes the points lie around; 2 where a second start ended elsewhere for good.
    clocks : tuple of Clock
        Clocks the forecast averages over.
    set_clock : int array (T,)
        Clock of every set of standard deviations.
    judged : tuple of JudgedPart
        Changes of the wear that were weighed, with their weights; empty where none was looked for.
    rate_scale : float
        Scale of the priors of all rates; not 1 where the class wears unlike the prior.
    """

    terms: Terms
    sigma: FloatArray
    correlation: float | None
    objective: float
    gradient_norm: float
    second_start_gap: float
    hessian: FloatArray
    sigma_points: FloatArray
    weights: FloatArray
    correlation_points: FloatArray | None
    dropped: tuple[str, ...]
    n_engines: int
    n_readings: int
    n_modes: int = 1
    clocks: tuple[Clock, ...] = (STEADY,)
    set_clock: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    judged: tuple[JudgedPart, ...] = ()
    rate_scale: float = 1.0

    def __post_init__(self) -> None:
        if len(self.set_clock) != len(self.weights):
            object.__setattr__(self, "set_clock", np.zeros(len(self.weights), dtype=np.intp))

    @property
    def found(self) -> bool:
        """The gradient vanishes, and a second start ended in the same place or is averaged in."""
        agrees = self.second_start_gap < SAME_MODE or self.n_modes > 1
        return self.gradient_norm < 10 * GRADIENT_TOLERANCE and agrees

    @property
    def strained(self) -> tuple[str, ...]:
        """Terms whose standard deviation lies beyond belief: 2.5 prior log-sds above the median."""
        if self.terms.flat:
            return ()
        off = np.log(np.maximum(self.sigma, 1e-300) / self.terms.medians) / self.terms.log_sd
        return tuple(n for n, x in zip(self.terms.variances, off, strict=True) if x > _BEYOND_BELIEF)


@dataclass(frozen=True)
class Problem:
    """The log posterior of the standardised logarithms x of the standard deviations."""

    terms: Terms
    layout: Layout

    @staticmethod
    def of(used: ClassReadings, whole: ClassReadings, priors: Priors) -> Problem:
        """The problem on some engines, with the terms and positions of the whole class."""
        terms = terms_of(whole, priors)
        return Problem(terms, build_layout(used, terms, np.unique(whole.shell_position)))

    def start(self, near: Estimate | None) -> FloatArray:
        """Where a search starts (d,): the estimate of a similar class term by term, else the medians."""
        start = np.zeros(len(self.terms.variances))
        for k, name in enumerate(self.terms.variances):
            at = -1 if near is None else near.terms.index(name)
            if near is not None and at >= 0:
                start[k] = np.log(near.sigma[at] / self.terms.medians[k]) / self.terms.log_sd
        return start

    def log_posterior(self, x: FloatArray) -> FloatArray:
        """At points (T, d), array (T,)."""
        value = log_likelihood(self.layout, sigma_of(self.terms, x))
        return np.asarray(value - 0.5 * (x**2).sum(1))

    def with_gradient(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same with its gradient, array (T, d)."""
        slices = [slice(0, len(x))] if self.layout.several else slices_of_sets(self.layout.readings, len(x))
        parts = [log_likelihood_and_gradient(self.layout, sigma_of(self.terms, x[at])) for at in slices]
        value, gradient = (np.concatenate(part) for part in zip(*parts, strict=True))
        return value - 0.5 * (x**2).sum(1), self.terms.log_sd * gradient - x

    def estimate(
        self,
        mode: FloatArray,
        hessian: FloatArray,
        norm: float,
        gap: float,
        points: FloatArray,
        weights: FloatArray,
    ) -> Estimate:
        """The result of a search."""
        return Estimate(
            terms=self.terms,
            sigma=sigma_of(self.terms, mode),
            correlation=None,
            objective=float(self.log_posterior(mode[None])[0]),
            gradient_norm=norm,
            second_start_gap=gap,
            hessian=hessian,
            sigma_points=sigma_of(self.terms, points),
            weights=weights,
            correlation_points=None,
            dropped=(),
            n_engines=self.layout.n_engines,
            n_readings=self.layout.readings.n_readings,
        )


def sigma_of(terms: Terms, x: FloatArray) -> FloatArray:
    """Standard deviations at standardised logarithms x, which stay within 12 log-sds."""
    return np.asarray(terms.medians * np.exp(terms.log_sd * np.clip(x, -12.0, 12.0)))


def some_engines(readings: ClassReadings, subset_engines: int, seed: int) -> ClassReadings:
    """The readings of a random, seeded choice of the engines of a big class."""
    labels = np.unique(readings.shell_engine)
    if len(labels) <= subset_engines:
        return readings
    chosen = np.random.default_rng(seed).choice(labels, subset_engines, replace=False)
    return readings.only_engines(chosen)
