"""Which terms of the pooled model are on, with their priors in micrometres and kilohours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

# Variances whose effects stay within one place (engine × position): they form the blocks.
PLACE_TERMS = (
    "reading_error",
    "extra_error",
    "shell_rate",
    "uneven_wear",
    "point_rate",
    "place_rate",
    "new_wall",
)
ENGINE_TERMS = ("engine_rate", "opening_error")
MOST_CLASS_GAUGES = 6
"""Gauges used on several engines that may have a column each in the whole class (judgement)."""
CLASS_TERMS = ("position_rate",)
VARIANCE_TERMS = (*PLACE_TERMS, *ENGINE_TERMS, *CLASS_TERMS)


@dataclass(frozen=True)
class Terms:
    """The terms of one class.

    Attributes
    ----------
    variances : tuple of str
        Standard deviations to estimate, in the order of θ.
    medians : array (d,)
        Prior medians [µm, µm/kh or µm/√kh].
    log_sd : float
        Log-sd of the log-normal priors.
    coefficients : tuple of str
        Class-wide coefficients but those of the positions: ``rate`` first, then columns.
    means, sds : array (p,)
        Their prior means and standard deviations; sd = inf is a flat prior.
    n_groups : int
        Point groups off the crown.
    flat : bool
        No priors on standard deviations and coefficients: restricted maximum likelihood.
    correlated : bool
        New wall and shell rate are correlated (the textbook's random intercept and slope).
    allowance_um, running_in_kh, start_mean_um, start_sd_um, point_wall_sd_um, quickened_rate_sd, gauge_bias_sd : float
        As in `Priors`, in µm and kh.
    """

    variances: tuple[str, ...]
    medians: FloatArray
    log_sd: float
    coefficients: tuple[str, ...]
    means: FloatArray
    sds: FloatArray
    n_groups: int
    flat: bool
    correlated: bool
    allowance_um: float
    running_in_kh: float
    start_mean_um: float
    start_sd_um: float
    point_wall_sd_um: float
    quickened_rate_sd: float
    gauge_bias_sd: float

    def index(self, name: str) -> int:
        """Place of a standard deviation in θ; -1 where the term is off."""
        return self.variances.index(name) if name in self.variances else -1

    @property
    def columns(self) -> tuple[str, ...]:
        """Class-wide coefficients beside the rate."""
        return self.coefficients[1:]


def _variances_of(readings: ClassReadings) -> tuple[str, ...]:
    """Standard deviations the data of a class call for."""
    stated = np.isfinite(readings.u_um)
    known = readings.shell_fitting_known
    on = {
        "reading_error": readings.n_readings == 0 or not stated.all(),
        "extra_error": bool(stated.any()),
        "shell_rate": True,
        "uneven_wear": True,
        "point_rate": readings.several_points,
        "place_rate": True,
        "new_wall": bool(np.isnan(readings.shell_delta_sd_um[known]).any()),
        "engine_rate": True,
        "opening_error": bool((readings.opening >= 0).any()),
        "position_rate": True,
    }
    return tuple(name for name in VARIANCE_TERMS if on[name])


def gauges_of_the_class(readings: ClassReadings) -> tuple[int, ...]:
    """Labels of gauges read at two openings or more and on several engines: a bias of each is a class-wide column.

    Where they are many each counts engine by engine, as if every engine had its own.
    """
    named = readings.gauge >= 0
    engine = readings.shell_engine[readings.reading_shell]
    pairs = np.unique(np.stack([readings.gauge[named], engine[named]]), axis=1)
    label, engines = np.unique(pairs[0], return_counts=True)
    shared = label[engines > 1]
    return tuple(shared.tolist()) if len(shared) <= MOST_CLASS_GAUGES else ()


def terms_of(
    readings: ClassReadings,
    priors: Priors | None,
    variances: tuple[str, ...] | None = None,
    coefficients: tuple[str, ...] | None = None,
    correlated: bool = False,
) -> Terms:
    """Terms of a class with their priors.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors or None
        None: flat coefficients and standard deviations.
    variances, coefficients : tuple of str, optional
        Terms to use instead of those the data call for. ``level`` is a class-wide offset that
        is off by default.
    correlated : bool
        New wall and shell rate are correlated.

    Returns
    -------
    Terms

    Raises
    ------
    ValueError
        An unknown term, or `correlated` without the two terms it joins.
    """
    flat = priors is None
    p = Priors() if priors is None else priors
    allowance = readings.allowance_um
    per_kh = allowance / p.design_life_kh
    median = {
        "reading_error": readings.default_u_um,
        "extra_error": p.extra_error_median * allowance,
        "shell_rate": p.shell_rate_median * per_kh,
        "uneven_wear": p.uneven_wear_median * per_kh,
        "point_rate": p.point_rate_median * per_kh,
        "place_rate": p.place_rate_median * per_kh,
        "new_wall": p.new_wall_median * allowance,
        "engine_rate": p.engine_rate_median * per_kh,
        "opening_error": p.opening_error_median * allowance,
        "position_rate": p.position_rate_median * per_kh,
    }
    n_groups = int(readings.series_group.max()) if readings.n_series else 0
    prior = {"rate": (p.rate_mean * per_kh, p.rate_sd * per_kh)}
    prior["running_in"] = (p.running_in_mean * allowance, p.running_in_sd * allowance)
    for k in range(1, n_groups + 1):
        prior[f"group_level_{k}"] = (0.0, p.group_level_sd_um)
        prior[f"group_rate_{k}"] = (0.0, p.group_rate_sd * per_kh)
    if not flat:
        prior |= {
            f"gauge_{label}": (0.0, p.gauge_bias_sd * allowance) for label in gauges_of_the_class(readings)
        }
    default = tuple(prior)
    prior["level"] = (0.0, allowance)
    chosen = _variances_of(readings) if variances is None else variances
    names = default if coefficients is None else coefficients
    for name in (*chosen, *names):
        if name not in median and name not in prior:
            raise ValueError(f"unknown term {name!r}; known are {', '.join((*median, *prior))}")
    if correlated and not {"new_wall", "shell_rate"} <= set(chosen):
        raise ValueError("a correlation needs the terms new_wall and shell_rate")
    # The rate stays in the design even where it is off: a known 0 keeps the columns in place.
    names = ("rate", *(n for n in names if n != "rate")) if "rate" in names else ("rate", *names)
    sds = np.array([np.inf if flat else prior[n][1] for n in names])
    if coefficients is not None and "rate" not in coefficients:
        sds[0] = 0.0
    return Terms(
        variances=tuple(chosen),
        medians=np.array([median[n] for n in chosen]),
        log_sd=readings.log_sd,
        coefficients=names,
        means=np.array([0.0 if flat else prior[n][0] for n in names]),
        sds=sds,
        n_groups=n_groups,
        flat=flat,
        correlated=correlated,
        allowance_um=allowance,
        running_in_kh=p.running_in_kh,
        start_mean_um=p.unknown_start_mean * allowance,
        start_sd_um=p.unknown_start_sd * allowance,
        point_wall_sd_um=p.point_wall_sd_um if readings.several_points else 0.0,
        quickened_rate_sd=p.quickened_rate_sd * per_kh,
        gauge_bias_sd=0.0 if flat else p.gauge_bias_sd * allowance,
    )
