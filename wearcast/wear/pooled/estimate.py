"""Standard deviations of the pooled model: their mode, how sure it is, and points around it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.layout import Layout, build_layout
from wearcast.wear.pooled.likelihood import log_likelihood, log_likelihood_and_gradient
from wearcast.wear.pooled.passes import slices_of_sets
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms, terms_of
from wearcast.wear.pooled.theta_points import theta_points
from wearcast.wear.priors import Priors

AVERAGED_BELOW_ENGINES = 30
SUBSET_ENGINES = 2000
_FIRST_ENGINES = 200  # of a big class, on which the mode is looked for first; judgement
_GRADIENT_TOLERANCE = 1e-4  # of the log posterior per prior log-sd; judgement
_STEP = 1e-4  # for derivatives of the gradient
_BEYOND_BELIEF = 2.5  # prior log-sds; judgement
_SAME_MODE = 0.05  # prior log-sds between the ends of two searches; judgement


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

    @property
    def found(self) -> bool:
        """The gradient vanishes, and a second start ended in the same place or is averaged in."""
        agrees = self.second_start_gap < _SAME_MODE or self.n_modes > 1
        return self.gradient_norm < 10 * _GRADIENT_TOLERANCE and agrees

    @property
    def strained(self) -> tuple[str, ...]:
        """Terms whose standard deviation lies beyond belief: 2.5 prior log-sds above the median."""
        if self.terms.flat:
            return ()
        off = np.log(np.maximum(self.sigma, 1e-300) / self.terms.medians) / self.terms.log_sd
        return tuple(n for n, x in zip(self.terms.variances, off, strict=True) if x > _BEYOND_BELIEF)


def estimate(
    readings: ClassReadings,
    priors: Priors,
    averaged_below_engines: int = AVERAGED_BELOW_ENGINES,
    subset_engines: int = SUBSET_ENGINES,
    seed: int = 0,
    near: Estimate | None = None,
) -> Estimate:
    """Standard deviations of a class under their priors.

    The log posterior of the log standard deviations is maximised, coefficients integrated out.
    In small classes points around the mode are returned with importance weights; in big ones
    the mode is plugged in, found on a random subset of the engines.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    averaged_below_engines : int
        Classes with fewer engines are averaged over the standard deviations.
    subset_engines : int
        Largest number of engines the mode is searched on.
    seed : int
        Of the choice of that subset.
    near : Estimate, optional
        Where the first of the two searches starts; the prior medians by default.

    Returns
    -------
    Estimate
    """
    used = _subset(readings, subset_engines, seed)
    few = _subset(used, _FIRST_ENGINES, seed)
    problem = _Problem.of(few, readings, priors)
    d = len(problem.terms.variances)
    mode, hessian, norm = _search(problem, problem.start(near))
    # The second start lies on the far side: large noise where the first had small and so on.
    other, _, _ = _search(problem, np.where(np.arange(d) % 2, 1.0, -1.0), need_hessian=False)
    around = [(mode, hessian)]
    if np.abs(mode - other).max() > _SAME_MODE:
        other, other_hessian, other_norm = _search(problem, other)
        value = problem.log_posterior(np.stack([mode, other]))
        if np.abs(mode - other).max() > _SAME_MODE:
            around.append((other, other_hessian))
        if value[1] > value[0]:
            mode, other, hessian, norm = other, mode, other_hessian, other_norm
    gap = float(np.abs(mode - other).max())
    if used is not few:
        # What the few engines told is a start; their curvature in proportion saves the search.
        problem = _Problem.of(used, readings, priors)
        share = used.n_engines / few.n_engines
        guess = np.eye(d) + share * (_positive(hessian, 1.0) - np.eye(d))
        mode, norm = _newton(problem, mode, guess)
        hessian = _hessian(problem, mode)
    points, weights = mode[None], np.ones(1)
    if readings.n_engines < averaged_below_engines:
        points, weights = theta_points(around, problem.log_posterior)
    made = problem.estimate(mode, hessian, norm, gap, points, weights)
    return replace(made, n_modes=len(around) if len(weights) > 1 else 1)


def mode_only(
    readings: ClassReadings, priors: Priors, near: Estimate | None = None, seed: int = 0
) -> Estimate:
    """Standard deviations at the mode, searched from those of a similar class, plugged in.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    near : Estimate, optional
        Where the search starts, term by term; the prior medians by default.
    seed : int
        Of the subset of a big class.

    Returns
    -------
    Estimate
        `second_start_gap` is nan: there was no second start.
    """
    problem = _Problem.of(_subset(readings, SUBSET_ENGINES, seed), readings, priors)
    mode, _, _ = _search(problem, problem.start(near), need_hessian=False, tolerance=1e-3)
    gradient = problem.with_gradient(mode[None])[1]
    norm = float(np.abs(gradient).max())
    return problem.estimate(mode, np.zeros((0, 0)), norm, np.nan, mode[None], np.ones(1))


@dataclass(frozen=True)
class _Problem:
    """The log posterior of the standardised logarithms x of the standard deviations."""

    terms: Terms
    layout: Layout

    @staticmethod
    def of(used: ClassReadings, whole: ClassReadings, priors: Priors) -> _Problem:
        """The problem on some engines, with the terms and positions of the whole class."""
        terms = terms_of(whole, priors)
        return _Problem(terms, build_layout(used, terms, np.unique(whole.shell_position)))

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
        value = log_likelihood(self.layout, _sigma_of(self.terms, x))
        return np.asarray(value - 0.5 * (x**2).sum(1))

    def with_gradient(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same with its gradient, array (T, d)."""
        parts = [
            log_likelihood_and_gradient(self.layout, _sigma_of(self.terms, x[at]))
            for at in slices_of_sets(self.layout.readings, len(x))
        ]
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
            sigma=_sigma_of(self.terms, mode),
            correlation=None,
            objective=float(self.log_posterior(mode[None])[0]),
            gradient_norm=norm,
            second_start_gap=gap,
            hessian=hessian,
            sigma_points=_sigma_of(self.terms, points),
            weights=weights,
            correlation_points=None,
            dropped=(),
            n_engines=self.layout.n_engines,
            n_readings=self.layout.readings.n_readings,
        )


def _sigma_of(terms: Terms, x: FloatArray) -> FloatArray:
    """Standard deviations at standardised logarithms x, which stay within 12 log-sds."""
    return np.asarray(terms.medians * np.exp(terms.log_sd * np.clip(x, -12.0, 12.0)))


def _subset(readings: ClassReadings, subset_engines: int, seed: int) -> ClassReadings:
    labels = np.unique(readings.shell_engine)
    if len(labels) <= subset_engines:
        return readings
    chosen = np.random.default_rng(seed).choice(labels, subset_engines, replace=False)
    return readings.only_engines(chosen)


def _search(
    problem: _Problem, start: FloatArray, need_hessian: bool = True, tolerance: float = 1e-2
) -> tuple[FloatArray, FloatArray, float]:
    """Mode, Hessian of minus the objective, and largest derivative left."""

    def negative(x: FloatArray) -> tuple[float, FloatArray]:
        value, gradient = problem.with_gradient(x[None])
        return -float(value[0]), -gradient[0]

    found = minimize(negative, start, jac=True, method="L-BFGS-B", options={"gtol": tolerance, "ftol": 1e-12})
    if not need_hessian:
        return found.x, np.zeros((0, 0)), np.nan
    hessian = _hessian(problem, found.x)
    mode, norm = _newton(problem, found.x, hessian)
    return mode, hessian, norm


def _newton(problem: _Problem, start: FloatArray, hessian: FloatArray) -> tuple[FloatArray, float]:
    """Newton steps finish what a search left; each must not lose height.

    The curvature learns from each step (BFGS) and is taken afresh only where a full step fails.
    """
    x, curvature = start, _positive(hessian)
    value, gradient = problem.with_gradient(x[None])
    for _ in range(30):
        if np.abs(gradient).max() < _GRADIENT_TOLERANCE:
            break
        step = np.linalg.solve(curvature, gradient[0])
        trial = problem.with_gradient((x + step)[None])
        if trial[0][0] < value[0] - 1e-9:
            curvature = _positive(_hessian(problem, x))
            step = np.linalg.solve(curvature, gradient[0])
            shorter = x + step * 0.5 ** np.arange(8)[:, None]
            trial = problem.with_gradient(shorter)
            best = int(np.argmax(trial[0]))
            if trial[0][best] <= value[0]:
                break
            step = shorter[best] - x
            trial = trial[0][[best]], trial[1][[best]]
        change = gradient[0] - trial[1][0]
        if change @ step > 1e-8 * np.linalg.norm(change) * np.linalg.norm(step):
            along = curvature @ step
            curvature = curvature + np.outer(change, change) / (change @ step)
            curvature = curvature - np.outer(along, along) / (along @ step)
        x, (value, gradient) = x + step, trial
    return x, float(np.abs(gradient).max())


def _hessian(problem: _Problem, x: FloatArray) -> FloatArray:
    """Second derivatives of minus the objective by central differences of its gradient."""
    steps = _STEP * np.eye(len(x))
    _, gradient = problem.with_gradient(np.concatenate([x + steps, x - steps]))
    second = -(gradient[: len(x)] - gradient[len(x) :]) / (2 * _STEP)
    return np.asarray(0.5 * (second + second.T))


def _positive(matrix: FloatArray, floor: float = 0.1) -> FloatArray:
    """The matrix with its eigenvalues raised to at least `floor`."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(values, floor)) @ vectors.T)
