"""What it tells that no shell grows thicker: all rates of a class are above 0 at once.

Each forecast truncates its own rate at 0. The rates of the other shells are above 0 as well,
and through the class rate β that says something of every shell, the more the less is known.
Given β the rates are taken as independent, so one integral over β gives the chance that all
are above 0 and the mean and spread of β where the others are (Dunnett & Sobel 1955,
Biometrika 42, 258-260, for the integral).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from wearcast.wear.pooled.arrays import FloatArray, IntArray

_NODES = np.linspace(-7.0, 7.0, 57)
_LOG_DENSITY = -0.5 * _NODES**2 - np.log(np.exp(-0.5 * _NODES**2).sum())
_LARGEST_LOADING = 0.985


@dataclass(frozen=True)
class PositiveRates:
    """The class rate where rates are above 0, in its own standard deviations.

    Attributes
    ----------
    log_chance : array (T,)
        Logarithm of the chance that all rates are above 0.
    mean, sd : arrays (T, M)
        Of the standardised class rate where the rates of all shells but this are.
    """

    log_chance: FloatArray
    mean: FloatArray
    sd: FloatArray


def positive_rates(
    rate: FloatArray, variance: FloatArray, with_class: FloatArray, class_variance: FloatArray
) -> PositiveRates:
    """Chance that all rates are above 0, and the class rate given that the others are.

    Parameters
    ----------
    rate, variance : arrays (T, M)
        Posterior of the rate of every shell, not truncated.
    with_class : array (T, M)
        Its covariance with the class rate.
    class_variance : array (T,)
        Variance of the class rate.

    Returns
    -------
    PositiveRates
    """
    sd = np.sqrt(np.maximum(variance, 1e-24))
    class_sd = np.sqrt(np.maximum(class_variance, 1e-24))[:, None]
    loading = np.clip(with_class / (class_sd * sd), -_LARGEST_LOADING, _LARGEST_LOADING)
    own = np.sqrt(1.0 - loading**2)[..., None]
    log_each = log_ndtr(((rate / sd)[..., None] + loading[..., None] * _NODES) / own)
    log_all = log_each.sum(axis=1) + _LOG_DENSITY
    top = log_all.max(axis=1)
    log_chance = top + np.log(np.exp(log_all - top[:, None]).sum(axis=1))
    log_others = log_all[:, None] - log_each
    weight = np.exp(log_others - log_others.max(axis=-1, keepdims=True))
    weight /= weight.sum(axis=-1, keepdims=True)
    mean = weight @ _NODES
    square = weight @ _NODES**2
    return PositiveRates(log_chance, mean, np.sqrt(np.maximum(square - mean**2, 1e-12)))


def one_series_a_shell(shell: IntArray) -> tuple[IntArray, IntArray]:
    """First series of every shell, and the place of every series' shell among them.

    Parameters
    ----------
    shell : int array (S,)

    Returns
    -------
    first : int array (M,)
    of : int array (S,)
    """
    _, first, of = np.unique(shell, return_index=True, return_inverse=True)
    return first, of
