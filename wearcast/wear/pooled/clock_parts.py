"""What may have changed the wear of a class: the parts a clock is looked for among, with their priors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.calendar import Calendar
from wearcast.wear.pooled.clock import Kind, Part, Scope
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

DEPTHS = (0.3, 0.4, 0.5, 0.6, 0.7)
"""Depths tried where no overlay is known [A]."""
PULSE_YEARS = (2.0, 4.5)
"""Shortest and longest time after which a change is taken to have gone back."""

MOST_ENGINES = 40
"""In larger classes a change of one engine or vessel alone is not looked for; judgement."""
RECENT_YEARS = 1.5
"""The prior weight of a date falls as 1/(1.5 + years before the last date looked at); chosen by the study."""


@dataclass(frozen=True)
class Candidate:
    """A part with the logarithm of its prior weight over that of no change, and the scale of its factor."""

    part: Part
    log_prior: float
    sd: float


def candidates(readings: ClassReadings, priors: Priors) -> list[Candidate]:
    """All parts that are looked for in a class.

    The weight of a kind is shared evenly by its parts; what a kind without parts would have had is spread over
    the others.
    """
    kinds = _dated(readings.calendar, priors) if readings.calendar is not None else []
    kinds.append((priors.age_weight, priors.log_power_sd, [Part(Kind.AGE)] * bool(_aged(readings))))
    kinds.append((priors.depth_weight, priors.log_depth_sd, _depths(readings)))
    steady = np.log(priors.steady_weight)
    made = []
    for weight, sd, parts in kinds:
        if weight > 0 and parts:
            shares = _recent(readings.calendar, parts)
            made += [
                Candidate(p, float(np.log(weight * w) - steady), sd)
                for p, w in zip(parts, shares, strict=True)
            ]
    return made


def _recent(calendar: Calendar | None, parts: list[Part]) -> FloatArray:
    """Shares of the weight of a kind, array (len(parts),): the later the date the more.

    A change long ago is plain from what followed, whatever its prior; one that a single opening has followed is
    what the prior decides.
    """
    if calendar is None or parts[0].date < 0 or parts[0].recorded:
        return np.full(len(parts), 1.0 / len(parts))
    ago = calendar.years[~calendar.recorded].max() - calendar.years[[part.date for part in parts]]
    share = 1.0 / (RECENT_YEARS + np.maximum(ago, 0.0))
    return np.asarray(share / share.sum())


def _dated(calendar: Calendar, priors: Priors) -> list[tuple[float, float, list[Part]]]:
    """Weight, scale and parts of every kind of change at a date."""
    dates = np.flatnonzero(~calendar.recorded).tolist()
    vessels, size = np.unique(calendar.vessel, return_counts=True)
    shared = vessels[size > 1].tolist() if 1 < len(vessels) <= MOST_ENGINES else []
    single = calendar.engines.tolist() if 1 < len(calendar.engines) <= MOST_ENGINES else []
    pulses = [
        Part(Kind.PULSE, date=d, until=e)
        for d in dates
        for e in dates
        if PULSE_YEARS[0] <= calendar.years[e] - calendar.years[d] <= PULSE_YEARS[1]
    ]
    recorded = [_recorded(calendar, d) for d in np.flatnonzero(calendar.recorded).tolist()]
    rest = 1.0 - priors.recorded_weight
    odds = priors.recorded_weight / rest * 1.0 if recorded else 0.0
    step = priors.log_step_sd
    return [
        (odds, step, recorded),
        (priors.class_step_weight, step, [Part(Kind.STEP, date=d) for d in dates]),
        (
            priors.vessel_step_weight,
            step,
            [Part(Kind.STEP, Scope.VESSEL, v, d) for v in shared for d in dates],
        ),
        (
            priors.engine_step_weight,
            step,
            [Part(Kind.STEP, Scope.ENGINE, e, d) for e in single for d in dates],
        ),
        (priors.pulse_weight, step, pulses),
    ]


def _recorded(calendar: Calendar, date: int) -> Part:
    """The part of a recorded change, in the widest scope that fits it."""
    touched = calendar.touches[date]
    if not calendar.local(date).size:
        if touched.all():
            return Part(Kind.STEP, date=date, recorded=True)
        if touched.sum() == 1:
            return Part(Kind.STEP, Scope.ENGINE, int(calendar.engines[touched][0]), date, recorded=True)
        vessel = calendar.vessel[touched][0]
        if np.array_equal(touched, calendar.vessel == vessel):
            return Part(Kind.STEP, Scope.VESSEL, int(vessel), date, recorded=True)
    return Part(Kind.STEP, Scope.PLACES, date=date, recorded=True)


def _aged(readings: ClassReadings) -> bool:
    """Some shells of known age were read at two ages or more."""
    worn = (readings.tau_kh > 0) & readings.shell_fitting_known[readings.reading_shell]
    return len(np.unique(readings.tau_kh[worn])) > 1


def _depths(readings: ClassReadings) -> list[Part]:
    if not readings.n_readings:
        return []
    if np.isfinite(readings.series_overlay_um).any():
        return [Part(Kind.DEPTH, depth=float("nan"))]
    return [Part(Kind.DEPTH, depth=d) for d in DEPTHS]
