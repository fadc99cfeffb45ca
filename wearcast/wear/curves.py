"""Curves of a chance over the hours, row by row: read at given hours, and turned round."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from wearcast.wear.pooled.arrays import FloatArray

LONGEST_KH = 200.0
"""Hours beyond which a forecast is open-ended [kh]."""


def hours_at_levels(hours: FloatArray, curve: FloatArray, levels: FloatArray) -> FloatArray:
    """Hours (M, q) at which an ascending curve reaches given levels; nan where it does not.

    Linear between neighbours on the scales log(hours) and Φ⁻¹(chance), on which the curves are
    nearly straight.
    """
    above = curve[:, None, :] >= levels[:, None]
    reached = above.any(-1)
    right = above.argmax(-1)
    left = np.maximum(right - 1, 0)
    t0, t1 = np.take_along_axis(hours, left, 1), np.take_along_axis(hours, right, 1)
    y0, y1 = np.take_along_axis(curve, left, 1), np.take_along_axis(curve, right, 1)
    z0, z1, z = (ndtri(np.clip(v, 1e-12, 1 - 1e-12)) for v in (y0, y1, levels))
    share = np.clip((z - z0) / np.maximum(z1 - z0, 1e-12), 0.0, 1.0)
    straight = t0 + share * (t1 - t0)
    logs = np.log(np.where(t0 > 0, t0, 1.0)), np.log(np.where(t1 > 0, t1, 1.0))
    found = np.where(t0 > 0, np.exp(logs[0] + share * (logs[1] - logs[0])), straight)
    found = np.where(right == 0, 0.0, found)
    return np.where(reached, found, np.nan)


def curve_nodes(hours: FloatArray, curve: FloatArray) -> FloatArray:
    """Hours, chance, both on the scales log(hours) and Φ⁻¹(chance), and the slope there, of every node.

    Parameters
    ----------
    hours, curve : arrays (M, H)
        Ascending along each row, the first hours 0.

    Returns
    -------
    array (M, H, 5)
        Slopes by Fritsch & Butland (1984), SIAM J. Sci. Stat. Comput. 5, 300-304.
    """
    # Hours of 0 stand one step below the first node on the scale of logarithms.
    x = np.log(np.maximum(hours, 0.1 * _first(hours)))
    z = ndtri(np.clip(curve, 1e-12, 1 - 1e-12))
    run = np.diff(x)
    secant = np.zeros((len(hours), hours.shape[1] + 1))
    secant[:, 1:-1] = np.where(run > 0, np.diff(z) / np.where(run > 0, run, 1.0), 0.0)
    return np.stack([hours, curve, x, z, _monotone(secant[:, :-1], secant[:, 1:])], axis=-1)


def _first(hours: FloatArray) -> FloatArray:
    return np.maximum(hours[:, 1:2], 1e-6)


def interpolate_curve(curve: FloatArray, at: FloatArray) -> FloatArray:
    """Chance at given hours, row by row, by monotone cubics on the scales log(hours) and Φ⁻¹(chance).

    Parameters
    ----------
    curve : array (M, H, 5)
        From `curve_nodes`.
    at : array (M, n)
        Held within 0 and 200 kh.

    Returns
    -------
    array (M, n)
    """
    n_rows, n_nodes = curve.shape[:2]
    hours, nodes = curve[..., 0], curve.reshape(-1, 5)
    clipped = np.clip(at, 0.0, LONGEST_KH)
    shift = 10 * LONGEST_KH * np.arange(n_rows)[:, None]
    place = np.searchsorted((hours + shift).ravel(), (clipped + shift).ravel(), side="right")
    right = np.clip(place.reshape(at.shape) - np.arange(n_rows)[:, None] * n_nodes, 1, n_nodes - 1)
    of_right = right + np.arange(n_rows)[:, None] * n_nodes
    t_left, y_left, x_left, low, left_end = np.moveaxis(nodes[of_right - 1], -1, 0)
    t_right, y_right, x_right, high, right_end = np.moveaxis(nodes[of_right], -1, 0)
    width = x_right - x_left
    u = (np.log(np.maximum(clipped, 0.1 * _first(hours))) - x_left) / np.where(width > 0, width, 1.0)
    u = np.clip(np.where(width > 0, u, 1.0), 0.0, 1.0)
    cubic = (
        low * (1 + 2 * u) * (1 - u) ** 2
        + high * u**2 * (3 - 2 * u)
        + width * u * (1 - u) * (left_end * (1 - u) - right_end * u)
    )
    # Within the first step Φ⁻¹(chance) is straight in the hours.
    share = clipped / np.where(t_right > 0, t_right, 1.0)
    found = ndtr(np.where(t_left > 0, cubic, low + share * (high - low)))
    return np.asarray(np.clip(found, y_left, y_right))


def _monotone(before: FloatArray, after: FloatArray) -> FloatArray:
    """Slope at a node between two secants: their harmonic mean, 0 where they turn."""
    total = before + after
    same = before * after > 0
    return np.where(same, 2 * before * after / np.where(same, total, 1.0), 0.0)
