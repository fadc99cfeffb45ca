"""Recorded standard deviations against those estimated anew from the same records."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wearcast.evidence.run import Fitted
from wearcast.evidence.theta import ClassTheta, Recorded, cells_left_out
from wearcast.forecasting.run import Forecast

OBJECTIVE_GAIN = 1e-4
"""A search made anew may end this much higher in log posterior: where it stops depends on the machine."""
HOURS_APART = 0.01
"""Hours at 10 and 50 % may differ by this share between recorded and anew: the sets averaged over are not unique."""
_SOON_H = 100.0
_COLUMNS = ("hours_to_limit_p10", "hours_to_limit_p50")


def against_anew(again: Fitted, anew: Fitted, recorded: Recorded) -> tuple[list[str], float]:
    """What does not hold of the recorded standard deviations, in sentences, and the largest gain found.

    Parameters
    ----------
    again : Fitted
        At the recorded standard deviations.
    anew : Fitted
        Estimated anew.
    """
    faults: list[str] = []
    gains = [0.0]
    for name, at_recorded, estimated, classes in (
        ("forecast", again.forecast, anew.forecast, recorded.forecast),
        ("plan and order", again.stand, anew.stand, recorded.stand),
    ):
        faults += _doubted_apart(name, estimated, classes)
        said, gain = _higher(name, at_recorded, estimated, classes)
        faults += said
        gains.append(gain)
        faults += _hours_apart(name, at_recorded, estimated)
    return list(dict.fromkeys(faults)), max(gains)


def _doubted_apart(name: str, estimated: Forecast, classes: Sequence[ClassTheta]) -> list[str]:
    by_key = {one.key: one.left_out for one in classes}
    said = []
    for fit in estimated.classes:
        then, now = by_key[fit.key], frozenset(cells_left_out(estimated, fit))
        for cells, words in ((then - now, "then and not now"), (now - then, "now and not then")):
            rows = ", ".join(f"{table} row {row}" for table, row in sorted(cells))
            said += [f"{fit.key} ({name}): doubted {words}: {rows}."] if rows else []
    return said


def _higher(
    name: str, at_recorded: Forecast, estimated: Forecast, classes: Sequence[ClassTheta]
) -> tuple[list[str], float]:
    """Classes whose objective is higher anew or not what was recorded, where both see the same readings."""
    by_key = {one.key: one for one in classes}
    said, largest = [], 0.0
    for held, fit in zip(at_recorded.classes, estimated.classes, strict=True):
        if not np.array_equal(held.doubted, fit.doubted):
            continue
        then, now = held.objective, fit.objective
        largest = max(largest, now - then)
        if now - then > OBJECTIVE_GAIN:
            said.append(
                f"{fit.key} ({name}): estimated anew, the standard deviations raise the objective from {then:.6f} "
                f"to {now:.6f}; allowed are {OBJECTIVE_GAIN:g}. The recorded ones are not the estimate of these "
                "readings."
            )
        written = by_key[fit.key].objective
        if abs(written - then) > OBJECTIVE_GAIN:
            said.append(f"{fit.key} ({name}): objective recorded {written:.6f}, worked out again {then:.6f}.")
    return said, largest


def _hours_apart(name: str, at_recorded: Forecast, estimated: Forecast) -> list[str]:
    """Classes whose hours move when the standard deviations are estimated anew: the recorded sets are not theirs."""
    said = []
    life = np.array([row.life for row in estimated.rows], dtype=np.intp)
    for held, fit in zip(at_recorded.classes, estimated.classes, strict=True):
        if not np.array_equal(held.doubted, fit.doubted):
            continue  # told already: other readings are doubted
        mine = np.isin(life, fit.one.lives)
        for column in _COLUMNS:
            then = np.where(mine, at_recorded.table[column].to_numpy(dtype=np.float64), np.nan)
            now = estimated.table[column].to_numpy(dtype=np.float64)
            apart = np.abs(then - now) / np.maximum(HOURS_APART * np.maximum(then, now), _SOON_H)
            if not (apart > 1).any():
                continue
            k = int(np.nanargmax(apart))
            row = estimated.table.iloc[k]
            place = " ".join(filter(None, (row.vessel, row.engine, row.bearing, row.position, row.half)))
            said.append(
                f"{fit.key} ({name}), {column}: {then[k]:.0f} h at the recorded standard deviations, "
                f"{now[k]:.0f} h at those estimated anew, at {place}, the furthest of {int((apart > 1).sum())}. The "
                "recorded sets averaged over are not the estimate of these readings."
            )
    return said
