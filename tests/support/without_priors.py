"""Restricted maximum likelihood: no priors, standard deviations of 0 within reach.

This is how the model is checked against published mixed-model fits; forecasts use the priors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.layout import Layout, build_layout
from wearcast.wear.pooled.likelihood import log_likelihood_and_gradient
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.terms import Terms, terms_of

_LARGEST_CORRELATION = 0.9999
_PROBES = 40
_STEP = 1e-5
_NEGLIGIBLE = 1e-5  # of a standard deviation, in units of the data's own scale

_Objective = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


def estimate_without_priors(
    readings: ClassReadings,
    variances: tuple[str, ...] | None = None,
    coefficients: tuple[str, ...] | None = None,
    correlated: bool = False,
) -> Estimate:
    """Standard deviations by restricted maximum likelihood with flat coefficients.

    The search runs over the standard deviations themselves, so 0 can be reached. Terms the data
    cannot tell from others are left out and named.

    Parameters
    ----------
    readings : ClassReadings
    variances, coefficients : tuple of str, optional
        Terms to use; by default those the data call for.
    correlated : bool
        New wall and shell rate are correlated: random intercept and slope.

    Returns
    -------
    Estimate
        With one set of standard deviations; `objective` is the restricted log-likelihood.

    Raises
    ------
    ValueError
        An unknown term, or fewer readings than flat coefficients.
    """
    terms = terms_of(readings, None, variances, coefficients, correlated)
    positions = np.unique(readings.shell_position)
    layout = build_layout(readings, terms, positions)
    kept_columns = _independent_columns(layout)
    if readings.n_readings <= len(kept_columns):
        raise ValueError(f"{readings.n_readings} readings cannot carry {len(kept_columns)} flat coefficients")
    terms = with_only(terms, terms.variances, kept_columns)
    layout = build_layout(readings, terms, positions)
    scale = _natural_scale(layout)
    kept = _told_apart(layout, scale)
    terms = with_only(terms, kept, kept_columns)
    layout = build_layout(readings, terms, positions)
    scale = _natural_scale(layout)
    on = {*terms.variances, *kept_columns}
    dropped = tuple(n for n in _asked(readings, variances, coefficients) if n not in on)

    def objective(a: FloatArray) -> tuple[FloatArray, FloatArray]:
        return _by_sigma(layout, scale, a)

    d = len(terms.variances)
    starts = (np.full(d, 0.4), np.where(np.arange(d) % 2, 1.0, 0.1))
    ends = [_climb(objective, np.r_[start, [0.0] * correlated], d) for start in starts]
    values = [float(objective(end[None])[0][0]) for end in ends]
    best = ends[int(np.argmax(values))]
    value, gradient = objective(best[None])
    sigma = best[:d] * scale
    return Estimate(
        terms=terms,
        sigma=sigma,
        correlation=float(best[-1]) if correlated else None,
        objective=float(value[0]),
        gradient_norm=float(np.abs(_free_gradient(gradient[0], best, d)).max(initial=0.0)),
        second_start_gap=float(np.abs(ends[0] - ends[1]).max(initial=0.0)),
        hessian=_hessian(objective, best, d),
        sigma_points=sigma[None],
        weights=np.ones(1),
        correlation_points=best[-1:] if correlated else None,
        dropped=dropped,
        n_engines=readings.n_engines,
        n_readings=readings.n_readings,
    )


def with_only(terms: Terms, variances: tuple[str, ...], coefficients: tuple[str, ...]) -> Terms:
    """The same terms with fewer standard deviations and coefficients."""
    kept = [terms.index(name) for name in variances]
    columns = [j for j, name in enumerate(terms.coefficients) if j == 0 or name in coefficients]
    sds = terms.sds[columns].copy()
    if "rate" not in coefficients:
        sds[0] = 0.0
    return replace(
        terms,
        variances=tuple(variances),
        medians=terms.medians[kept],
        coefficients=tuple(terms.coefficients[j] for j in columns),
        means=terms.means[columns],
        sds=sds,
        correlated=terms.correlated and {"new_wall", "shell_rate"} <= set(variances),
    )


def _asked(
    readings: ClassReadings,
    variances: tuple[str, ...] | None,
    coefficients: tuple[str, ...] | None,
) -> tuple[str, ...]:
    whole = terms_of(readings, None, variances, coefficients)
    off = {name for name, sd in zip(whole.coefficients, whole.sds, strict=True) if sd == 0}
    return tuple(n for n in (*whole.variances, *whole.coefficients) if n not in off)


def _independent_columns(layout: Layout) -> tuple[str, ...]:
    """Coefficients whose columns are not sums of earlier ones."""
    terms = layout.terms
    p = len(terms.coefficients)
    gram = np.zeros((p, p))
    for blocks in layout.buckets:
        columns = blocks.columns[..., :p].reshape(-1, p)
        gram += columns.T @ columns
    kept: list[int] = []
    for j in range(p):
        if terms.sds[j] == 0 or gram[j, j] == 0:
            continue
        left = gram[j, j]
        if kept:
            left -= gram[j, kept] @ np.linalg.solve(gram[np.ix_(kept, kept)], gram[kept, j])
        if left > 1e-9 * gram[j, j]:
            kept.append(j)
    return tuple(terms.coefficients[j] for j in kept)


def _natural_scale(layout: Layout) -> FloatArray:
    """Size a standard deviation would have if its term made all the spread of the data."""
    readings, names = layout.readings, layout.terms.variances
    spread = max(float(np.std(readings.z_um)), 1e-6 * layout.terms.allowance_um)
    hours = max(float(np.sqrt(np.mean(readings.tau_kh**2))), 1e-6)
    size = {"uneven_wear": spread / np.sqrt(hours)}
    return np.array([spread / hours if name.endswith("_rate") else size.get(name, spread) for name in names])


def _told_apart(layout: Layout, scale: FloatArray) -> tuple[str, ...]:
    """Terms whose effect on the likelihood is not a sum of the effects of earlier terms.

    Two confounded terms have dependent derivatives by their variances at every θ, so the
    derivatives at a few scattered θ show it.
    """
    names = layout.terms.variances
    rng = np.random.default_rng(1)
    sigma = scale * np.exp(rng.uniform(-2.0, 0.0, (_PROBES, len(names))))
    correlation = np.zeros(_PROBES) if layout.terms.correlated else None
    _, gradient = log_likelihood_and_gradient(layout, sigma, correlation)
    by_variance = gradient[:, : len(names)] / sigma**2 * scale**2
    kept: list[int] = []
    for j in range(len(names)):
        column = by_variance[:, j]
        size = np.linalg.norm(column)
        left = column
        if kept:
            base = by_variance[:, kept]
            left = column - base @ np.linalg.lstsq(base, column, rcond=None)[0]
        if size > 1e-8 and np.linalg.norm(left) > 1e-6 * size:
            kept.append(j)
    return tuple(names[j] for j in kept)


def _by_sigma(layout: Layout, scale: FloatArray, a: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Restricted log-likelihood and its derivatives by the scaled standard deviations."""
    d = len(scale)
    sigma = a[:, :d] * scale
    correlation = a[:, -1] if layout.terms.correlated else None
    value, gradient = log_likelihood_and_gradient(layout, sigma, correlation)
    out = gradient.copy()
    out[:, :d] = np.where(a[:, :d] > 0, gradient[:, :d] / np.where(a[:, :d] > 0, a[:, :d], 1.0), 0.0)
    return value, out


def _free_gradient(gradient: FloatArray, a: FloatArray, d: int) -> FloatArray:
    """Derivatives that must vanish: those of terms above 0."""
    free = gradient.copy()
    free[:d][a[:d] <= _NEGLIGIBLE] = 0.0
    return free


def _climb(objective: _Objective, start: FloatArray, d: int) -> FloatArray:
    """Bounded quasi-Newton search, then Newton steps among the terms above 0."""

    def negative(a: FloatArray) -> tuple[float, FloatArray]:
        value, gradient = objective(a[None])
        return -float(value[0]), -gradient[0]

    bounds = [(0.0, None)] * d + [(-_LARGEST_CORRELATION, _LARGEST_CORRELATION)] * (len(start) - d)
    a = minimize(
        negative,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"gtol": 1e-9, "ftol": 1e-15, "maxiter": 1000},
    ).x
    zero = np.where(np.r_[a[:d] < 1e-2, np.zeros(len(a) - d, dtype=bool)], 0.0, a)
    value = objective(np.stack([a, zero]))[0]
    a = zero if value[1] >= value[0] else a
    for _ in range(20):
        value, gradient = objective(a[None])
        free = np.flatnonzero(np.r_[a[:d] > _NEGLIGIBLE, np.ones(len(a) - d, dtype=bool)])
        if not free.size or np.abs(gradient[0][free]).max() < 1e-9:
            break
        hessian = _hessian(objective, a, d)[np.ix_(free, free)]
        curve, axes = np.linalg.eigh(hessian)
        step = np.zeros(len(a))
        step[free] = axes @ ((axes.T @ gradient[0][free]) / np.maximum(curve, 1e-3))
        trials = a + step * 0.5 ** np.arange(8)[:, None]
        trials[:, :d] = np.maximum(trials[:, :d], 0.0)
        trials[:, d:] = np.clip(trials[:, d:], -_LARGEST_CORRELATION, _LARGEST_CORRELATION)
        values = objective(trials)[0]
        best = int(np.argmax(values))
        if values[best] <= value[0]:
            break
        a = trials[best]
    return np.asarray(a)


def _hessian(objective: _Objective, a: FloatArray, d: int) -> FloatArray:
    steps = _STEP * np.eye(len(a))
    up, down = a + steps, a - steps
    down[:, :d] = np.maximum(down[:, :d], 0.0)
    _, gradient = objective(np.concatenate([up, down]))
    width = np.diagonal(up - down)[:, None]
    second = -(gradient[: len(a)] - gradient[len(a) :]) / width
    return np.asarray(0.5 * (second + second.T))
