"""Standard deviations that were estimated before, and the estimate they give on the same class again."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.clock import STEADY, Clock
from wearcast.wear.pooled.estimation import SUBSET_ENGINES
from wearcast.wear.pooled.problem import Estimate, JudgedPart, Problem, some_engines
from wearcast.wear.pooled.rate_scale import at_scale
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors


@dataclass(frozen=True, eq=False)
class Theta:
    """What a forecast takes from an estimate, to be written down and used again.

    Attributes
    ----------
    variances : tuple of str
        Names of the d standard deviations.
    sigma : array (d,)
        At the mode [µm, µm/kh or µm/√kh].
    sigma_points, weights : arrays (T, d), (T,)
        Sets averaged over.
    second_start_gap : float
        How far the search from a second start ended from the mode, in prior log-sds.
    n_modes : int
        Modes the points lie around.
    clocks, set_clock, judged, rate_scale
        As in `Estimate`.
    """

    variances: tuple[str, ...]
    sigma: FloatArray
    sigma_points: FloatArray
    weights: FloatArray
    second_start_gap: float
    n_modes: int
    clocks: tuple[Clock, ...] = (STEADY,)
    set_clock: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    judged: tuple[JudgedPart, ...] = ()
    rate_scale: float = 1.0

    @classmethod
    def of(cls, found: Estimate) -> Theta:
        """What an estimate found."""
        return cls(
            found.terms.variances,
            found.sigma,
            found.sigma_points,
            found.weights,
            found.second_start_gap,
            found.n_modes,
            found.clocks,
            found.set_clock,
            found.judged,
            found.rate_scale,
        )


def estimate_at(
    readings: ClassReadings,
    priors: Priors,
    theta: Theta,
    subset_engines: int = SUBSET_ENGINES,
    seed: int = 0,
) -> Estimate:
    """The estimate that stands at given standard deviations: nothing is searched.

    Objective and gradient are worked out on the readings at the given mode; of the second derivatives
    nothing is said (an empty array).

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    theta : Theta
        Its names must be those the readings call for.
    subset_engines, seed : int
        Of the choice of engines in a big class, as in `estimate`.

    Raises
    ------
    ValueError
        If the readings call for other standard deviations, or a value is not above 0.
    """
    priors = at_scale(priors, theta.rate_scale)
    problem = Problem.of(some_engines(readings, subset_engines, seed), readings, priors)
    terms = problem.terms
    if terms.variances != theta.variances:
        wanted, given = ", ".join(terms.variances), ", ".join(theta.variances)
        raise ValueError(f"the readings call for the standard deviations {wanted}; given are {given}")
    d, n_points = len(terms.variances), len(theta.weights)
    if theta.sigma.shape != (d,) or theta.sigma_points.shape != (n_points, d) or not n_points:
        raise ValueError(f"expected {d} standard deviations in every set, and one weight a set")
    if not (
        np.all(theta.sigma > 0) and np.all(theta.sigma_points > 0) and np.all(np.isfinite(theta.weights))
    ):
        raise ValueError("expected standard deviations above 0 and finite weights")
    x = np.log(theta.sigma / terms.medians) / terms.log_sd
    norm = float(np.abs(problem.with_gradient(x[None])[1]).max())
    made = problem.estimate(x, np.zeros((0, 0)), norm, theta.second_start_gap, x[None], np.ones(1))
    # As written down, not as they come back from their logarithms.
    return replace(
        made,
        sigma=theta.sigma,
        sigma_points=theta.sigma_points,
        weights=theta.weights,
        n_modes=theta.n_modes,
        clocks=theta.clocks,
        set_clock=theta.set_clock,
        judged=theta.judged,
        rate_scale=theta.rate_scale,
    )
