"""What the pooled model would have said of readings yet to come: their wear, and the hours it takes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from wearcast.wear.crossing import QUANTILES
from wearcast.wear.curves import LONGEST_KH, hours_at_levels
from wearcast.wear.known import Known
from wearcast.wear.pooled import ClassReadings, Estimate
from wearcast.wear.predict import ReadingForecast

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEVELS = QUANTILES
"""Chances at which wear is predicted."""
HOUR_LEVELS = (0.05, 0.50, 0.95)
"""Chances at which hours are compared: those the own line gives."""

HOURS_KH = np.r_[0.0, np.geomspace(0.05, LONGEST_KH, 60)]
"""Where the chance of having come so far is worked out [kh]; between, it is interpolated."""
_STANDARD = np.linspace(-8.0, 8.0, 97)
_SMALLEST = 1e-12


@dataclass(frozen=True, eq=False)
class Ahead:
    """Readings to be predicted for one class, n of them.

    Attributes
    ----------
    series : ndarray of int
        Row of the class's series table.
    from_kh, to_kh : ndarray
        Age of the shell at its last reading before, and at the reading to be predicted [kh].
    z_um : ndarray
        Wear it then showed [µm].
    u_um, step_um : ndarray
        Its stated standard uncertainty (NaN for none) and its rounding step [µm].
    """

    series: Ints
    from_kh: Floats
    to_kh: Floats
    z_um: Floats
    u_um: Floats
    step_um: Floats

    @property
    def hours_kh(self) -> Floats:
        """Hours between the last reading before and the one to be predicted [kh]."""
        return np.maximum(self.to_kh - self.from_kh, 0.0)


@dataclass(frozen=True, eq=False)
class Predicted:
    """What one way of forecasting says of n readings; NaN where it says nothing.

    Attributes
    ----------
    wear_um : ndarray, shape (n, 7)
        Wear read at `LEVELS` [µm], gauge error and reading error included.
    below, at_or_below : ndarray, shape (n,)
        Chance of a lesser reading than the one that came, and of no greater one.
    hours_kh : ndarray, shape (n, 3)
        Hours from the last reading before, at `HOUR_LEVELS`, until a reading shows what the hidden one showed
        [kh]; NaN beyond 200 kh.
    """

    wear_um: Floats
    below: Floats
    at_or_below: Floats
    hours_kh: Floats


def pooled_predictions(readings: ClassReadings, estimate: Estimate, ahead: Ahead) -> Predicted:
    """Predict readings by the pooled model.

    Parameters
    ----------
    readings : ClassReadings
        What was read before and counts.
    estimate : Estimate
        Standard deviations of the class, from no later rows.
    ahead : Ahead
    """
    now_kh = readings.shell_tau_now_kh.copy()
    now_kh[readings.series_shell[ahead.series]] = ahead.from_kh
    known_now = replace(
        readings, shell_tau_now_kh=now_kh, shell_tau_now_sd_kh=np.zeros(readings.n_shells)
    )  # the dial is read at the opening: hours are known
    known = Known(known_now, estimate, np.unique(ahead.series))
    u_um = ahead.u_um
    if estimate.terms.index("reading_error") < 0:
        # So far every reading stated its uncertainty: nothing was learnt of those that do not.
        u_um = np.where(np.isnan(u_um), readings.default_u_um, u_um)
    made = known.readings_to_come(ahead.series, ahead.hours_kh, u_um, ahead.step_um)
    # Where the reading is rounded, its chance is that of the interval it was rounded from.
    unrounded = known.readings_to_come(ahead.series, ahead.hours_kh, u_um, np.zeros(len(u_um)))
    ends = unrounded.cdf(ahead.z_um[:, None] + 0.5 * ahead.step_um[:, None] * np.array([-1.0, 1.0]))
    chance = made.beyond(np.broadcast_to(HOURS_KH, (len(u_um), len(HOURS_KH))), ahead.z_um[:, None])
    return Predicted(reading_quantiles(made, LEVELS), ends[:, 0], ends[:, 1], hours_at(chance, HOUR_LEVELS))


def reading_quantiles(made: ReadingForecast, levels: tuple[float, ...]) -> Floats:
    """Wear read with given chances of no more, shape (n, levels) [µm].

    From one table of the distribution function, interpolated on the normal scale, on which it is nearly
    straight: a twentieth of the work of a search.
    """
    z = made.mean_um[:, None] + made.sd_um[:, None] * _STANDARD
    score = ndtri(np.clip(made.cdf(z), _SMALLEST, 1.0 - _SMALLEST))
    wanted = ndtri(levels)
    return np.stack([np.interp(wanted, s, row) for s, row in zip(score, z, strict=True)])


def hours_at(chance: Floats, levels: tuple[float, ...]) -> Floats:
    """Hours at which a chance is first reached, shape (n, levels) [kh]; 0 where it is at once, NaN where never.

    Parameters
    ----------
    chance : ndarray, shape (n, hours)
        At `HOURS_KH`; its running maximum counts, for what has been reached stays reached. Between, it is
        interpolated on the scales log(hours) and Φ⁻¹(chance), on which it is nearly straight.
    """
    risen = np.maximum.accumulate(chance, axis=1)
    return hours_at_levels(np.broadcast_to(HOURS_KH, risen.shape), risen, np.array(levels))
