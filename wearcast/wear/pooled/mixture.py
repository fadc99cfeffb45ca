"""A doubted reading towards the limit is a slip or a fault coming on: one forecast that holds both halves."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from wearcast.wear.pooled.draws import JointDraws
from wearcast.wear.pooled.posteriors import Bend, Posterior

_BY_DRAW = ("level_um", "rate_um_per_kh", "running_in_um", "unevenness", "sigma_b", "hours_kh")


def mixed(slips: Posterior, faults: Posterior, fault_chance: float) -> Posterior:
    """Posterior of the same series, π with the faults and 1 − π with slips.

    The halves are sets of one mixture, like those of the standard deviations, so whatever is asked of it, the
    chances over the hours, moments, readings yet to come, is F = π F_with + (1 − π) F_without.

    Parameters
    ----------
    slips, faults : Posterior
        Of the same series.
    fault_chance : float
        π.
    """
    by_set: dict[str, Any] = {
        one.name: np.concatenate([getattr(slips, one.name), getattr(faults, one.name)])
        for one in fields(Posterior)
        if one.name not in ("series", "pair")
        and isinstance(getattr(slips, one.name), np.ndarray)
        and getattr(slips, one.name).shape[:1] == slips.weights.shape
    }
    if slips.bend is not None and faults.bend is not None:
        halves = (slips.bend, faults.bend)
        by_set["bend"] = Bend(
            *(np.concatenate([getattr(half, one.name) for half in halves]) for one in fields(Bend))
        )
    by_set["weights"] = np.concatenate([(1.0 - fault_chance) * slips.weights, fault_chance * faults.weights])
    return replace(slips, **by_set)


def mixed_draws(slips: JointDraws, faults: JointDraws, rng: np.random.Generator) -> JointDraws:
    """Draws of both halves, as many of each as its share, in random order.

    In each draw all doubted readings of the class are faults, or all are slips: needs hang together more than
    they may, which errs on the side of more spares.
    """
    n = len(slips.level_um) + len(faults.level_um)
    order = rng.permutation(n)
    parts = {name: np.concatenate([getattr(slips, name), getattr(faults, name)])[order] for name in _BY_DRAW}
    return replace(slips, **parts)
