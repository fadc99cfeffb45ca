"""Which change of the wear the readings bear out, and with what weight: coarse to fine, θ and factor together.

All candidates are scored to first order at the standard deviations of no change, which have taken the change for
uneven wear and restless shells. Only the likely ones are searched: factor and standard deviations together by
Newton's method. Each then weighs what its integral comes to by Laplace's approximation, refined by nodes over the
factor with the true density, as is done for the standard deviations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import ndtr

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.clock import STEADY, Clock, Kind, Part, Scope, clocked
from wearcast.wear.pooled.clock_parts import Candidate, candidates
from wearcast.wear.pooled.clock_scores import Scores, score, series_rates
from wearcast.wear.pooled.estimation import AVERAGED_BELOW_ENGINES, mode_only
from wearcast.wear.pooled.layout import build_layout, spread
from wearcast.wear.pooled.problem import Estimate, JudgedPart, Problem, sigma_of, some_engines
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms
from wearcast.wear.pooled.theta_points import axial, theta_points
from wearcast.wear.priors import Priors

SCORED_READINGS = 1200  # of a big class; the scores take their covariance whole
SEARCHED = 6  # candidates that are searched at most; judgement
WITHIN = 4.0  # log weights of the best score within which a candidate is searched; judgement
NEGLIGIBLE = 0.01  # weight below which a component is left out
LEADING = 0.25  # weight from which θ is averaged over within a component
SHARED = (Scope.CLASS, Scope.VESSEL)
ALIKE = 0.9  # correlation from which one change stands for another; judgement
_STEP = 0.05  # of the logarithm of the factor, for derivatives
_ROUNDS = 3
_TO_COME = (
    0.5  # most that one more step is credited with before it is taken: far off, quadratics promise too much
)


@dataclass(frozen=True)
class Node:
    """One value of the factor of a candidate: its clock, θ there, and the logarithm of its share of the integral."""

    clock: Clock
    log_factor: float
    x: FloatArray
    log_weight: float


@dataclass(frozen=True)
class Component:
    """A candidate searched: nodes over its factor, the curvature of θ, and the parts it stands for.

    `log_shares` are the first-order weights of those parts over its own.
    """

    candidate: Candidate
    nodes: list[Node]
    hessian: FloatArray
    stands_for: list[Part] = field(default_factory=list)
    log_shares: FloatArray = field(default_factory=lambda: np.zeros(1))

    @property
    def log_integral(self) -> float:
        """Logarithm of its integral, prior in."""
        return float(np.logaddexp.reduce(np.array([node.log_weight for node in self.nodes])))

    @property
    def shares(self) -> FloatArray:
        """Share of every node in the integral."""
        return np.asarray(np.exp(np.array([node.log_weight for node in self.nodes]) - self.log_integral))

    @property
    def log_weight(self) -> float:
        """The same with that of what it stands for."""
        return self.log_integral + float(np.logaddexp.reduce(self.log_shares))

    def judged(self, weight: float) -> list[JudgedPart]:
        """The weight shared out among the parts it stands for."""
        share = np.exp(self.log_shares - np.logaddexp.reduce(self.log_shares))
        moments = _moments(self)
        return [
            JudgedPart(p, weight * float(w), *moments) for p, w in zip(self.stands_for, share, strict=True)
        ]


@dataclass(frozen=True)
class _Search:
    """What the candidates of one class are searched with."""

    used: ClassReadings
    whole: ClassReadings
    priors: Priors
    found: Estimate

    @property
    def x0(self) -> FloatArray:
        """Standardised logarithms of θ at the mode of no change."""
        terms = self.found.terms
        return np.asarray(np.log(self.found.sigma / terms.medians) / terms.log_sd)

    def problem(self, clock: Clock) -> Problem:
        """The log posterior of θ under a clock."""
        terms = self.found.terms
        worn, _ = clocked(self.used, clock)
        return Problem(terms, build_layout(worn, terms, self.positions))

    def problems(self, clocks: Sequence[Clock], each: int = 1) -> Problem:
        """The same under several clocks, solved together: so many points x for each of them, in turn."""
        terms = self.found.terms
        worn = [clocked(self.used, clock)[0] for clock in clocks]
        layout = build_layout(self.used, terms, self.positions, worn)
        return Problem(terms, spread(layout, np.repeat(np.arange(len(clocks)), each)) if each > 1 else layout)

    @property
    def positions(self) -> IntArray:
        """Positions of the whole class."""
        return np.unique(self.whole.shell_position)

    def clock(self, one: Candidate, log_factor: float, x: FloatArray, before: Clock = STEADY) -> Clock:
        """The clock of a candidate; depths are passed where the fit at θ says, under the clock before."""
        if one.part.kind is not Kind.DEPTH:
            return Clock(one.part, log_factor)
        worn, _ = clocked(self.used, before)
        line = series_rates(worn, self.found.terms, sigma_of(self.found.terms, x))
        return Clock(one.part, log_factor, line)


def lined(clock: Clock, readings: ClassReadings, terms: Terms, sigma: FloatArray) -> Clock:
    """The clock of a depth for other readings: passed where their fit at θ (d,) says, under the clock itself."""
    made = STEADY
    for _ in range(2):
        made = replace(clock, line=series_rates(clocked(readings, made)[0], terms, sigma))
    return made


def _on_whole(search: _Search, node: Node) -> Clock:
    """The clock of a node for the whole class, where it was searched on some of its engines."""
    if node.clock.line is None or search.used is search.whole:
        return node.clock
    terms = search.found.terms
    return lined(node.clock, search.whole, terms, sigma_of(terms, node.x))


def weigh_changes(readings: ClassReadings, priors: Priors, found: Estimate, seed: int = 0) -> Estimate:
    """Average over the changes of wear the readings bear out, beside no change.

    Parameters
    ----------
    readings : ClassReadings
        The class, in shell hours.
    priors : Priors
    found : Estimate
        Of no change.
    seed : int
        Of the subset of a big class.

    Returns
    -------
    Estimate
        With clocks, weights and `judged`.
    """
    tried = candidates(readings, priors)
    used = some_engines(readings, _few_engines(readings), seed)
    if not tried or not readings.n_readings:
        return found
    # On some engines alone their own mode is what a change must be weighed against.
    mode = found if used is readings else mode_only(used, priors, found, seed)
    if mode.terms.variances != found.terms.variances:
        return found
    search = _Search(used, readings, priors, replace(found, sigma=mode.sigma))
    scores = score(used, found.terms, mode.sigma, tried)
    own = used is readings and found.hessian.size
    hessian = found.hessian if own else _theta_hessians(search.problem(STEADY), search.x0[None])[0]
    groups = _likely(tried, scores)
    first = [group[0] for group in groups]
    searched = _searched(search, [tried[k] for k in first], scores.log_factor[first], hessian)
    components = [
        replace(
            made,
            stands_for=[tried[k].part for k in group],
            log_shares=scores.log_odds[group] - scores.log_odds[group[0]],
        )
        for made, group in zip(searched, groups, strict=True)
    ]
    return _mixed(search, components, hessian, found)


def shared_clock(readings: ClassReadings, priors: Priors, mode: Estimate, seed: int = 0) -> Clock:
    """The likeliest change of a class or of several engines if it holds more than half the weight, else no change.

    That one engine alone wears anew since its last opening may as well be its gauge: it is not looked at here.
    """
    found = weigh_changes(readings, priors, mode, seed)
    weight = np.zeros(len(found.clocks))
    np.add.at(weight, found.set_clock, found.weights)
    best = int(weight.argmax())
    shared = [
        one.weight for one in found.judged if one.part.kind is not Kind.NONE and one.part.scope in SHARED
    ]
    clock = found.clocks[best]
    return clock if sum(shared) > 0.5 and clock.part.scope in SHARED else STEADY


def _few_engines(readings: ClassReadings) -> int:
    most = SCORED_READINGS * max(readings.n_engines, 1) // max(readings.n_readings, 1)
    return max(most, 2)


def _likely(tried: list[Candidate], scores: Scores) -> list[list[int]]:
    """Candidates worth searching, the likeliest first, each with those it stands for: alike, and of its scope."""
    order = np.argsort(-scores.log_odds)
    floor = max(float(scores.log_odds[order[0]]), 0.0) - WITHIN
    chosen: list[list[int]] = []
    for k in order[scores.log_odds[order] > floor].tolist():
        one = tried[k].part
        kin = [g for g in chosen if _kin(tried[g[0]].part, one)]
        alike = [float(scores.alike[g[0], k]) for g in kin]
        if alike and max(alike) > (ALIKE if len(chosen) < SEARCHED else 0.5):
            kin[int(np.argmax(alike))].append(k)
        elif len(chosen) < SEARCHED:
            chosen.append([k])
    return chosen


def _kin(first: Part, second: Part) -> bool:
    """Whether one can stand for the other: a recorded change stands for itself."""
    same = (first.kind, first.scope, first.label) == (second.kind, second.scope, second.label)
    return same and not (first.recorded or second.recorded)


def _searched(
    search: _Search, chosen: list[Candidate], starts: FloatArray, hessian: FloatArray
) -> list[Component]:
    """The chosen candidates with nodes over their factors, in their order."""
    found = {id(one): _along_depth(search, one, hessian) for one in chosen if one.part.kind is Kind.DEPTH}
    others = [k for k, one in enumerate(chosen) if one.part.kind is not Kind.DEPTH]
    if others:
        ones = [chosen[k] for k in others]
        made = _newton(search, ones, np.clip(starts[others], -1.2, 1.2), hessian)
        found |= {id(one): component for one, component in zip(ones, made, strict=True)}
    return [found[id(one)] for one in chosen]


@dataclass(frozen=True)
class _Along:
    """Log posterior of θ and the factor of several candidates, each at points of its own."""

    search: _Search
    ones: list[Candidate]

    @property
    def sd(self) -> FloatArray:
        return np.array([one.sd for one in self.ones])

    def only(self, rows: IntArray) -> _Along:
        return _Along(self.search, [self.ones[k] for k in rows.tolist()])

    def problem(self, at: FloatArray, each: int = 1) -> Problem:
        """At logarithms of the factors, array (K,) or (K, m)."""
        clocks = [
            Clock(one.part, float(value))
            for one, values in zip(self.ones, at.reshape(len(self.ones), -1), strict=True)
            for value in values
        ]
        return self.search.problems(clocks, each)

    def height(self, at: FloatArray, x: FloatArray) -> FloatArray:
        """Log posterior, the prior of the factor in, array (K,)."""
        return self.problem(at).log_posterior(x) - 0.5 * (at / self.sd) ** 2

    def hessians(self, at: FloatArray, x: FloatArray) -> FloatArray:
        """Second derivatives of minus the log posterior by θ, array (K, d, d)."""
        return _theta_hessians(self.problem(at, 2 * x.shape[1]), x)


def _newton(
    search: _Search, ones: list[Candidate], starts: FloatArray, hessian: FloatArray
) -> list[Component]:
    """Mode over θ and the logarithm of the factor of every candidate, all at once, and nodes over the latter."""
    d, along, at = len(search.x0), _Along(search, ones), starts.copy()
    x = np.tile(search.x0, (len(ones), 1))
    of_theta = np.tile(hessian, (len(ones), 1, 1))
    curvature = np.tile(np.eye(d + 1), (len(ones), 1, 1))
    going = np.arange(len(ones))
    for turn in range(_ROUNDS):
        these = along.only(going)
        beside = at[going, None] + np.array([0.0, -_STEP, _STEP])
        value, slope = these.problem(beside).with_gradient(np.repeat(x[going], 3, axis=0))
        value, slope = value.reshape(-1, 3), slope.reshape(-1, 3, d)
        of_factor = (value[:, 2] - value[:, 1]) / (2 * _STEP) - at[going] / these.sd**2
        gradient = np.c_[slope[:, 0], of_factor]
        if turn == 1:
            of_theta[going] = these.hessians(at[going], x[going])
        curvature[going] = _joined(of_theta[going], value, slope, these.sd)
        step = np.linalg.solve(curvature[going], gradient[..., None])[..., 0]
        most = np.maximum(np.abs(step[:, :d]).max(axis=1, initial=0.0) / 1.5, np.abs(step[:, d]) / 0.5)
        step /= np.maximum(most, 1.0)[:, None]
        step = _not_lower(these, at[going], x[going], step, value[:, 0] - 0.5 * (at[going] / these.sd) ** 2)
        x[going] += step[:, :d]
        at[going] += step[:, d]
        going = going[(gradient * step).sum(axis=1) >= 0.02]
        if not len(going):
            break
    return _nodes(along, at, x, curvature)


def _not_lower(
    along: _Along, at: FloatArray, x: FloatArray, step: FloatArray, height: FloatArray
) -> FloatArray:
    """Steps (K, d + 1) halved, four times at most, until they lose no height (K,)."""
    left = np.arange(len(at))
    for _ in range(4):
        reached = along.only(left).height(at[left] + step[left, -1], x[left] + step[left, :-1])
        left = left[~(reached > height[left] - 1e-6)]
        if not len(left):
            break
        step[left] /= 2
    return step


def _nodes(along: _Along, at: FloatArray, x: FloatArray, curvature: FloatArray) -> list[Component]:
    """Nodes over the factors about their modes (K,), θ (K, d) following as the curvature (K, d + 1, d + 1) says."""
    d = x.shape[1]
    inner, cross = curvature[:, :d, :d], curvature[:, :d, d]
    following = np.linalg.solve(inner, cross[..., None])[..., 0]
    sd = 1.0 / np.sqrt(np.maximum(curvature[:, d, d] - (cross * following).sum(axis=1), 1e-3))
    z, base = zip(*(hermegauss(3 if one < 0.3 else 5) for one in sd), strict=True)
    many = [len(one) for one in z]
    of = np.repeat(np.arange(len(at)), many)
    value = at[of] + sd[of] * np.concatenate(z)
    theta = x[of] - following[of] * (sd[of] * np.concatenate(z))[:, None]
    clocks = [Clock(along.ones[k].part, float(factor)) for k, factor in zip(of, value, strict=True)]
    density, slope = along.search.problems(clocks).with_gradient(theta)
    # One more step at each node, without paying for its value: the quadratic's own.
    more = np.linalg.solve(inner[of], slope[..., None])[..., 0]
    gained = np.minimum(0.5 * (slope * more).sum(axis=1), _TO_COME)
    share = np.concatenate([weight / weight.sum() for weight in base]) * sd[of] / along.sd[of]
    log = density + gained - 0.5 * (value / along.sd[of]) ** 2 + 0.5 * np.concatenate(z) ** 2
    log += np.log(share) - 0.5 * np.linalg.slogdet(inner)[1][of]
    log += np.array([one.log_prior for one in along.ones])[of]
    theta = theta + np.clip(more, -1, 1)
    nodes = [
        Node(clock, float(v), point, float(weight))
        for clock, v, point, weight in zip(clocks, value, theta, log, strict=True)
    ]
    return [
        Component(one, [node for node, k in zip(nodes, of, strict=True) if k == number], inner[number])
        for number, one in enumerate(along.ones)
    ]


_DEPTH_NODES = np.array([0.15, 0.5, 0.9, 1.35, 2.0])  # of the scale of the half-normal prior


def _along_depth(search: _Search, one: Candidate, hessian: FloatArray) -> Component:
    """Nodes over the factor past a depth, θ and the hours at which it was passed followed from node to node."""
    edges = np.r_[0.0, 0.5 * (_DEPTH_NODES[1:] + _DEPTH_NODES[:-1]), 3.0]
    prior = 2.0 * np.diff(ndtr(edges))
    nodes, x, clock = [], search.x0, STEADY
    hessian = _positive(hessian)
    for value, share in zip(_DEPTH_NODES * one.sd, prior, strict=True):
        clock = search.clock(one, float(value), x, clock)
        problem = search.problem(clock)
        for _ in range(2):
            height, slope = problem.with_gradient(x[None])
            more = np.linalg.solve(hessian, slope[0])
            more *= min(1.0, 1.0 / max(np.abs(more).max(), 1e-9))
            x = x + more
        height, slope = problem.with_gradient(x[None])
        more = np.linalg.solve(hessian, slope[0])
        log = height[0] + min(0.5 * slope[0] @ more, _TO_COME) + np.log(share)
        log += one.log_prior - 0.5 * np.linalg.slogdet(hessian)[1]
        nodes.append(Node(clock, float(value), x, float(log)))
    return Component(one, nodes, hessian)


def _joined(hessian: FloatArray, value: FloatArray, slope: FloatArray, sd: FloatArray) -> FloatArray:
    """Second derivatives of minus the log posterior by θ and the logarithm of the factor, array (K, d + 1, d + 1).

    Parameters
    ----------
    hessian : array (K, d, d)
        By θ alone.
    value, slope : arrays (K, 3), (K, 3, d)
        At the factor, a step below and a step above.
    sd : array (K,)
        Of the prior of the factor.
    """
    d = hessian.shape[-1]
    out = np.empty((len(hessian), d + 1, d + 1))
    out[:, :d, :d] = hessian
    out[:, :d, d] = out[:, d, :d] = -(slope[:, 2] - slope[:, 1]) / (2 * _STEP)
    out[:, d, d] = -(value[:, 2] - 2 * value[:, 0] + value[:, 1]) / _STEP**2 + 1.0 / sd**2
    return _positive(out)


def _theta_hessians(problem: Problem, x: FloatArray) -> FloatArray:
    """Second derivatives of minus the log posterior at points (K, d), array (K, d, d).

    `problem` takes 2d points for each of them.
    """
    k, d = x.shape
    steps = np.concatenate([np.eye(d), -np.eye(d)]) * 1e-3
    _, gradient = problem.with_gradient((x[:, None] + steps).reshape(-1, d))
    gradient = gradient.reshape(k, 2, d, d)
    second = -(gradient[:, 0] - gradient[:, 1]) / 2e-3
    return _positive(0.5 * (second + np.swapaxes(second, -1, -2)))


def _positive(matrix: FloatArray, floor: float = 0.25) -> FloatArray:
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(values, floor)[..., None, :]) @ np.swapaxes(vectors, -1, -2))


def _mixed(search: _Search, components: list[Component], hessian: FloatArray, found: Estimate) -> Estimate:
    """The estimate averaged over no change and the components, by their integrals."""
    terms, hessian = found.terms, _positive(hessian)
    plain = search.problem(STEADY)
    # As the search's problem may be on fewer engines than the estimate, both sides are taken from it.
    height = float(plain.log_posterior(search.x0[None])[0])
    averaged = len(found.weights) > 1
    steady = height - 0.5 * np.linalg.slogdet(hessian)[1]
    if averaged:
        steady = theta_points([(search.x0, hessian)], plain.log_posterior)[2]
    logs = np.array([float(steady), *(c.log_weight for c in components)])
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    if search.whole.n_engines >= AVERAGED_BELOW_ENGINES:
        return _plugged_in(search, components, weight, found)
    kept = [0] * bool(weight[0] > NEGLIGIBLE)
    kept += [k for k in range(1, len(weight)) if weight[k] > NEGLIGIBLE]
    total = weight[kept].sum()
    sigma, weights, clocks, of = [], [], [], []
    for k in kept:
        share = weight[k] / total
        if k == 0:
            many = share > NEGLIGIBLE * 5
            sigma.append(found.sigma_points if many else found.sigma[None])
            weights.append(share * (found.weights if many else np.ones(1)))
            clocks.append(STEADY)
            of.append(np.full(len(weights[-1]), len(clocks) - 1))
            continue
        component = components[k - 1]
        shares = component.shares
        for node, part in zip(component.nodes, shares, strict=True):
            if part * share < NEGLIGIBLE / 4:
                continue
            points, inner = node.x[None], np.ones(1)
            if averaged and share > LEADING:
                points, inner = axial(node.x, component.hessian, search.problem(node.clock).log_posterior)
            sigma.append(sigma_of(terms, points))
            weights.append(share * part * inner)
            clocks.append(_on_whole(search, node))
            of.append(np.full(len(inner), len(clocks) - 1))
    joined = np.concatenate(weights)
    judged = tuple(
        JudgedPart(c.candidate.part, float(w), *_moments(c))
        for c, w in zip(components, weight[1:], strict=True)
    )
    return replace(
        found,
        sigma_points=np.concatenate(sigma),
        weights=joined / joined.sum(),
        clocks=tuple(clocks),
        set_clock=np.concatenate(of).astype(np.intp),
        judged=(JudgedPart(STEADY.part, float(weight[0]), 0.0, 0.0), *judged),
    )


def _plugged_in(
    search: _Search, components: list[Component], weight: FloatArray, found: Estimate
) -> Estimate:
    """In big classes the likeliest alone, as with the standard deviations."""
    judged = [one for c, w in zip(components, weight[1:].tolist(), strict=True) for one in c.judged(w)]
    made = replace(found, judged=(JudgedPart(STEADY.part, float(weight[0]), 0.0, 0.0), *judged))
    if weight[0] >= weight[1:].max(initial=0.0):
        return made
    best = max(components[int(np.argmax(weight[1:]))].nodes, key=lambda node: node.log_weight)
    return replace(made, sigma_points=sigma_of(found.terms, best.x[None]), clocks=(_on_whole(search, best),))


def _moments(component: Component) -> tuple[float, float]:
    """Posterior mean and standard deviation of the logarithm of the factor."""
    share = component.shares
    at = np.array([node.log_factor for node in component.nodes])
    mean = float(share @ at)
    return mean, float(share @ (at - mean) ** 2) ** 0.5
