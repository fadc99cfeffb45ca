"""A class that wears unlike the prior: the scale of all its rates, where the readings and the prior part.

The priors of rates are normal and log-normal about a design life; ten times their rate lies beyond what they
allow. Their scale is therefore itself unknown, with a wide log-normal prior: it stays 1 unless the readings
gain by another, so that ordinary classes are judged as the priors say.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.passes import solved_parts
from wearcast.wear.pooled.problem import Estimate
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.priors import Priors

LOG_SD = 1.5
"""Standard deviation of the logarithm of the scale; judgement."""
GAIN = 2.0
"""Log posterior another scale must gain for it to be taken; judgement."""
_ORDINARY = 2.5  # times the prior's rate, up or down, within which nothing is looked for


def rate_scale(readings: ClassReadings, priors: Priors, mode: Estimate, seed: int = 0) -> float:
    """Scale of the rates of a class, 1 where the prior does.

    Parameters
    ----------
    readings : ClassReadings
    priors : Priors
    mode : Estimate
        At scale 1.
    seed : int
        Of the subset of a big class.
    """
    if not readings.n_readings:
        return 1.0
    usual = readings.allowance_um / priors.design_life_kh
    rate = _class_rate(readings, mode) / usual
    spread = _log_spread(mode)
    if 1.0 / _ORDINARY < rate < _ORDINARY and abs(spread) < np.log(_ORDINARY):
        return 1.0
    near = float(np.clip(rate if rate > 0 else np.exp(spread), 0.02, 50.0))
    tried = [near * step for step in (0.5, 1.0, 2.0)]
    found = [mode_only(readings, at_scale(priors, s), mode, seed).objective for s in tried]
    heights = np.array(found) - 0.5 * (np.log(tried) / LOG_SD) ** 2
    best = int(np.argmax(heights))
    return tried[best] if heights[best] > mode.objective + GAIN else 1.0


def at_scale(priors: Priors, scale: float) -> Priors:
    """The priors with all rates so many times theirs; wear comes in lumps of the same size, so σ_B goes by the root."""
    if scale == 1.0:
        return priors
    uneven = priors.uneven_wear_median / np.sqrt(scale)
    return replace(priors, design_life_kh=priors.design_life_kh / scale, uneven_wear_median=uneven)


def _class_rate(readings: ClassReadings, mode: Estimate) -> float:
    """Posterior mean of the class rate [µm/kh]."""
    for piece in solved_parts(readings, mode.terms, mode.sigma[None]):
        return float(piece.common.coefficients[0, 0])
    return 0.0


def _log_spread(mode: Estimate) -> float:
    """Mean logarithm of the spreads of rates and of uneven wear over their medians."""
    names = ("shell_rate", "uneven_wear", "place_rate", "engine_rate", "position_rate")
    at: FloatArray = np.array([mode.terms.index(name) for name in names if mode.terms.index(name) >= 0])
    return float(np.log(mode.sigma[at] / mode.terms.medians[at]).mean()) if at.size else 0.0
