"""How far each change of the wear would raise the likelihood, standard deviations held.

The likelihood is that of a normal law, so its slope by the effective hours of each reading is known exactly
(Harville 1977, J. Am. Stat. Assoc. 72, 320-338, eq. 5.1): one number a reading, and the slope by the factor of
any change is a weighted sum of them. With the information q'Pq of the wear it moves, a quadratic in the logarithm
of the factor tells what the change would gain (Rao's score, under the Gaussian prior of the factor).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearcast.wear.pooled.arrays import FloatArray, IntArray
from wearcast.wear.pooled.clock import Clock, Kind, Part, Scope, clocked, exposure, past_depth, worn_before
from wearcast.wear.pooled.clock_parts import Candidate
from wearcast.wear.pooled.elimination import block_covariance, kernel_weights
from wearcast.wear.pooled.layout import build_layout
from wearcast.wear.pooled.readings import ClassReadings
from wearcast.wear.pooled.series_pass import one_pass
from wearcast.wear.pooled.terms import Terms


@dataclass(frozen=True)
class Scores:
    """Gain of every candidate by its quadratic, arrays (C,).

    Attributes
    ----------
    log_odds : array
        Against no change, priors in.
    log_factor, sd : arrays
        Where the logarithm of the factor would come to lie.
    alike : array (C, C)
        Correlation of what the candidates would move, as the readings tell them apart.
    """

    log_odds: FloatArray
    log_factor: FloatArray
    sd: FloatArray
    alike: FloatArray


def score(readings: ClassReadings, terms: Terms, sigma: FloatArray, tried: list[Candidate]) -> Scores:
    """Score all candidates at one set of standard deviations (d,)."""
    slopes = _Slopes.of(readings, terms, sigma)
    lines = series_rates(readings, terms, sigma)
    hours = np.zeros((len(tried), readings.n_readings))
    moved, direct = hours.copy(), np.zeros(len(tried))
    rate = np.maximum(lines[readings.series, 0], 0.0)
    for c, one in enumerate(tried):
        if one.part.kind is Kind.DEPTH:
            moved[c], share = past_depth(readings, one.part, lines)
            hours[c] = share * readings.tau_kh
            direct[c] = slopes.weighted @ (moved[c] - share * worn_before(readings, lines))
        else:
            hours[c] = _hours_gained(readings, one.part)
            moved[c] = rate * hours[c]
    slope = hours @ slopes.by_hours + direct
    among = moved @ slopes.precision @ moved.T
    information = np.diagonal(among)
    size = np.sqrt(np.maximum(information, 1e-12))
    square = np.array([one.sd for one in tried]) ** 2
    precision = information + 1.0 / square
    gain = 0.5 * slope**2 / precision - 0.5 * np.log1p(square * information)
    odds = gain + np.array([one.log_prior for one in tried])
    unseen = np.array([not one.part.recorded for one in tried], dtype=bool) & (information < 1e-9)
    return Scores(
        np.where(unseen, -np.inf, odds),
        slope / precision,
        1.0 / np.sqrt(precision),
        among / np.outer(size, size),
    )


def series_rates(readings: ClassReadings, terms: Terms, sigma: FloatArray) -> FloatArray:
    """Posterior mean of rate and running-in wear, array (S, 2) [µm/kh, µm]."""
    made = one_pass(readings, terms, sigma[None], None, np.arange(readings.n_series))
    out = np.empty((readings.n_series, 2))
    out[made.series] = made.mean[0, :, 1:]
    return out


def _hours_gained(readings: ClassReadings, part: Part) -> FloatArray:
    """Effective hours each reading would gain by a unit of the logarithm, array (n,)."""
    if part.kind is Kind.AGE:
        step = 1e-3
        return np.asarray((clocked(readings, Clock(part, step))[0].tau_kh - readings.tau_kh) / step)
    gained = exposure(readings, part).readings_kh
    if part.scope is Scope.CLASS and readings.tau_kh.any():
        gained = gained - readings.tau_kh * (gained.sum() / readings.tau_kh.sum())
    return gained


@dataclass(frozen=True)
class _Slopes:
    """Inverse total covariance P (n, n), Pr (n,), and the slope of the log-likelihood by the hours (n,)."""

    precision: FloatArray
    weighted: FloatArray
    by_hours: FloatArray

    @staticmethod
    def of(readings: ClassReadings, terms: Terms, sigma: FloatArray) -> _Slopes:
        covariance, residual = total_covariance(readings, terms, sigma)
        precision = np.linalg.inv(covariance)
        weighted = precision @ residual
        hours, shell = readings.tau_kh, readings.reading_shell
        spread = _rate_covariance(readings, terms, sigma)
        by_hours = weighted * (spread @ (hours * weighted)) - (precision * spread) @ hours
        by_hours += terms.means[0] * weighted
        earlier = (hours[:, None] < hours[None]).astype(float) + 0.5 * np.eye(len(hours))
        moment = np.outer(weighted, weighted) - precision
        by_hours += _square(terms, sigma, "uneven_wear") * (_same(shell) * earlier * moment).sum(1)
        return _Slopes(np.asarray(precision), weighted, by_hours)


def _rate_covariance(readings: ClassReadings, terms: Terms, sigma: FloatArray) -> FloatArray:
    """Covariance of the rates of all readings, array (n, n) [µm²/kh²]."""
    shell = readings.reading_shell
    position, engine = _same(readings.shell_position[shell]), _same(readings.shell_engine[shell])
    made = np.full(position.shape, terms.sds[0] ** 2)
    made += _square(terms, sigma, "position_rate") * position
    made += _square(terms, sigma, "engine_rate") * engine
    made += _square(terms, sigma, "place_rate") * position * engine
    made += _square(terms, sigma, "shell_rate") * _same(shell)
    return made + _square(terms, sigma, "point_rate") * _same(readings.series)


def total_covariance(
    readings: ClassReadings, terms: Terms, sigma: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Covariance of all readings (n, n), coefficients in, and their residual from the prior mean (n,)."""
    layout = build_layout(readings, terms, np.unique(readings.shell_position))
    n, n_class = readings.n_readings, len(terms.columns)
    weights = kernel_weights(layout, sigma[None], None)
    total, residual, design = np.zeros((n, n)), np.zeros(n), np.zeros((n, n_class))
    for blocks in layout.buckets:
        covariance = block_covariance(blocks, weights)[0]
        real = blocks.reading >= 0
        both = real[:, :, None] & real[:, None, :]
        rows = np.broadcast_to(blocks.reading[:, :, None], both.shape)[both]
        cols = np.broadcast_to(blocks.reading[:, None, :], both.shape)[both]
        total[rows, cols] = covariance[both]
        residual[blocks.reading[real]] = blocks.columns[..., -1][real]
        design[blocks.reading[real]] = blocks.columns[..., 1 : 1 + n_class][real]
    shell = readings.reading_shell
    hours = readings.tau_kh if readings.gain is None else readings.gain * readings.tau_kh
    slope = np.full((n, n), terms.sds[0] ** 2)
    slope += _square(terms, sigma, "position_rate") * _same(readings.shell_position[shell])
    slope += _square(terms, sigma, "engine_rate") * _same(readings.shell_engine[shell])
    total += slope * np.outer(hours, hours) + (design * terms.sds[1:] ** 2) @ design.T
    together = _same(readings.opening) * (readings.opening >= 0)
    engine = readings.shell_engine[shell]
    of_gauge = _same(layout.gauge_slot) * (layout.gauge_slot >= 0) * _same(engine)
    total += terms.gauge_bias_sd**2 * of_gauge
    return total + _square(terms, sigma, "opening_error") * together, residual


def _square(terms: Terms, sigma: FloatArray, name: str) -> float:
    at = terms.index(name)
    return float(sigma[at] ** 2) if at >= 0 else 0.0


def _same(labels: IntArray) -> FloatArray:
    return np.asarray(labels[:, None] == labels[None], dtype=float)
