"""Standard deviations of the pooled model: their mode, how sure it is, and points around it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.problem import GRADIENT_TOLERANCE, SAME_MODE, Estimate, Problem, some_engines
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.theta_points import theta_points
from wearcast.wear.priors import Priors

AVERAGED_BELOW_ENGINES = 30
SUBSET_ENGINES = 2000
_FIRST_ENGINES = 200  # of a big class, on which the mode is looked for first; judgement
_STEP = 1e-4  # for derivatives of the gradient


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
    used = some_engines(readings, subset_engines, seed)
    few = some_engines(used, _FIRST_ENGINES, seed)
    problem = Problem.of(few, readings, priors)
    d = len(problem.terms.variances)
    mode, hessian, norm = _search(problem, problem.start(near))
    # The second start lies on the far side: large noise where the first had small and so on.
    other, _, _ = _search(problem, np.where(np.arange(d) % 2, 1.0, -1.0), need_hessian=False)
    around = [(mode, hessian)]
    if np.abs(mode - other).max() > SAME_MODE:
        other, other_hessian, other_norm = _search(problem, other)
        value = problem.log_posterior(np.stack([mode, other]))
        if np.abs(mode - other).max() > SAME_MODE:
            around.append((other, other_hessian))
        if value[1] > value[0]:
            mode, other, hessian, norm = other, mode, other_hessian, other_norm
    gap = float(np.abs(mode - other).max())
    if used is not few:
        # What the few engines told is a start; their curvature in proportion saves the search.
        problem = Problem.of(used, readings, priors)
        share = used.n_engines / few.n_engines
        guess = np.eye(d) + share * (_positive(hessian, 1.0) - np.eye(d))
        mode, norm = _newton(problem, mode, guess)
        hessian = _hessian(problem, mode)
    points, weights = mode[None], np.ones(1)
    if readings.n_engines < averaged_below_engines:
        points, weights, _ = theta_points(around, problem.log_posterior)
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
    problem = Problem.of(some_engines(readings, SUBSET_ENGINES, seed), readings, priors)
    mode, _, _ = _search(problem, problem.start(near), need_hessian=False, tolerance=1e-3)
    gradient = problem.with_gradient(mode[None])[1]
    norm = float(np.abs(gradient).max())
    return problem.estimate(mode, np.zeros((0, 0)), norm, np.nan, mode[None], np.ones(1))


def _search(
    problem: Problem, start: FloatArray, need_hessian: bool = True, tolerance: float = 1e-2
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


def _newton(problem: Problem, start: FloatArray, hessian: FloatArray) -> tuple[FloatArray, float]:
    """Newton steps finish what a search left; each must not lose height.

    The curvature learns from each step (BFGS) and is taken afresh only where a full step fails.
    """
    x, curvature = start, _positive(hessian)
    value, gradient = problem.with_gradient(x[None])
    for _ in range(30):
        if np.abs(gradient).max() < GRADIENT_TOLERANCE:
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


def _hessian(problem: Problem, x: FloatArray) -> FloatArray:
    """Second derivatives of minus the objective by central differences of its gradient."""
    steps = _STEP * np.eye(len(x))
    _, gradient = problem.with_gradient(np.concatenate([x + steps, x - steps]))
    second = -(gradient[: len(x)] - gradient[len(x) :]) / (2 * _STEP)
    return np.asarray(0.5 * (second + second.T))


def _positive(matrix: FloatArray, floor: float = 0.1) -> FloatArray:
    """The matrix with its eigenvalues raised to at least `floor`."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(values, floor)) @ vectors.T)
