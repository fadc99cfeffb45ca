"""The wear clocks a fit averages over, written down and read again."""

from __future__ import annotations

from typing import Any

import numpy as np

from wearcast.wear.pooled import Theta
from wearcast.wear.pooled.clock import Clock, Kind, Part, Scope
from wearcast.wear.pooled.problem import JudgedPart


def clocks_json(theta: Theta) -> dict[str, Any]:
    """Clocks, the clock of every set of standard deviations, and the changes weighed."""
    return {
        "rate_scale": theta.rate_scale,
        "clocks": [
            {
                **_part_json(clock.part),
                "log_factor": clock.log_factor,
                "lines": None if clock.line is None else clock.line.tolist(),
            }
            for clock in theta.clocks
        ],
        "clock_of_set": theta.set_clock.tolist(),
        "changes_weighed": [
            {
                **_part_json(one.part),
                "weight": one.weight,
                "log_factor": one.log_factor,
                "log_factor_sd": one.log_factor_sd,
            }
            for one in theta.judged
        ],
    }


def clocks_from(said: dict[str, Any]) -> dict[str, Any]:
    """The same back, as arguments of `Theta`.

    Raises
    ------
    ValueError, KeyError, TypeError
        If it is not understood.
    """
    clocks = tuple(
        Clock(
            _part(one),
            float(one["log_factor"]),
            None if one["lines"] is None else np.array(one["lines"], dtype=np.float64).reshape(-1, 2),
        )
        for one in said["clocks"]
    )
    of = np.array(said["clock_of_set"], dtype=np.intp)
    if len(of) != len(said["weights"]) or not np.all(
        (of >= 0) & (of < len(clocks)) & (np.diff(of, prepend=0) >= 0)
    ):
        raise ValueError("clock_of_set does not fit the clocks and the sets")
    judged = tuple(
        JudgedPart(_part(one), float(one["weight"]), float(one["log_factor"]), float(one["log_factor_sd"]))
        for one in said["changes_weighed"]
    )
    scale = float(said["rate_scale"])
    if not 1e-3 < scale < 1e3:
        raise ValueError("rate_scale is not between 0.001 and 1000")
    return {"clocks": clocks, "set_clock": of, "judged": judged, "rate_scale": scale}


def _part_json(part: Part) -> dict[str, Any]:
    return {
        "kind": part.kind.value,
        "scope": part.scope.value,
        "label": part.label,
        "date": part.date,
        "until": part.until,
        "depth": None if np.isnan(part.depth) else part.depth,
        "recorded": part.recorded,
    }


def _part(said: dict[str, Any]) -> Part:
    return Part(
        Kind(said["kind"]),
        Scope(said["scope"]),
        int(said["label"]),
        int(said["date"]),
        int(said["until"]),
        float("nan") if said["depth"] is None else float(said["depth"]),
        bool(said["recorded"]),
    )
