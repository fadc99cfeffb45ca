"""How many swapped ends and gauge errors the fitted model finds, and how many clean openings it asks about.

    python tests/studies/model_doubts.py --fleets 400 --out table.md

Fleets are drawn from the model (4 sisters, 7 positions, 5 readings a shell). A swapped end is planted in one opening
with at least 4 positions where the other openings tell the ends apart: Σ (μ_i − μ_reversed,i)² / var_i of at least 24,
μ and var predicted from all other openings. A gauge error of 4 to 8 times √(σ_c² + v_c) is planted on top of what an
opening has, in its own direction; v_c is the variance of its error by all other openings. Clean fleets are looked at
as they are.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from simulate import FleetPlan, draw_fleet

from wearcast.wear.pooled import ClassReadings, posterior
from wearcast.wear.pooled.estimation import mode_only
from wearcast.wear.pooled.openings import opening_errors
from wearcast.wear.pooled.screening import screen
from wearcast.wear.predict import predict_readings
from wearcast.wear.priors import Priors

SEED = 20261127
PRIORS = Priors()
PLAN = FleetPlan(n_engines=4, fewest_readings=5, renewal_share=0.0)
TELLS_ENDS_APART = 24.0
STANDS_OUT = (4.0, 8.0)


@dataclass
class Counts:
    """Planted and found; clean openings and those asked about."""

    ends: int = 0
    ends_found: int = 0
    gauges: int = 0
    gauges_found: int = 0
    openings: int = 0
    asked: int = 0

    @property
    def rows(self) -> list[str]:
        """Rows of the table."""
        return [
            f"| swapped end | {self.ends_found} of {self.ends} |",
            f"| gauge error | {self.gauges_found} of {self.gauges} |",
            f"| clean openings asked about | {self.asked} of {self.openings} |",
        ]


def last_opening(readings: ClassReadings) -> int:
    """The opening of the first engine read last, at the most positions."""
    mine = readings.shell_engine[readings.reading_shell] == 0
    labels = np.unique(readings.opening[mine])
    shell = readings.reading_shell

    def weight(label: int) -> tuple[int, float]:
        rows = readings.opening == label
        return len(np.unique(readings.shell_position[shell[rows]])), float(readings.tau_kh[rows].mean())

    return int(max(labels, key=weight))


def ends_apart(readings: ClassReadings, rows: np.ndarray) -> tuple[float, np.ndarray]:
    """Σ (μ_i − μ_reversed,i)² / var_i of an opening by all others, and the wear as written from the other end."""
    kept = np.ones(readings.n_readings, dtype=bool)
    kept[rows] = False
    others = readings.only(kept)
    shell = readings.reading_shell[rows]
    now = others.shell_tau_now_kh.copy()
    now[shell] = readings.tau_kh[rows]
    known = posterior(replace(others, shell_tau_now_kh=now), mode_only(others, PRIORS), readings.series[rows])
    ahead = predict_readings(
        known, np.arange(len(rows)), np.zeros(len(rows)), readings.u_um[rows], readings.step_um[rows]
    )
    position = readings.shell_position[shell]
    at = {int(p): k for k, p in enumerate(position)}
    turned = readings.shell_position.min() + readings.shell_position.max() - position
    pair = np.array([at.get(int(p), -1) for p in turned])
    both = pair >= 0
    apart = ((ahead.mean_um - ahead.mean_um[pair])[both] / ahead.sd_um[both]) ** 2
    z = readings.z_um.copy()
    z[rows[both]] = readings.z_um[rows[pair[both]]]
    return float(apart.sum()), z


def plant(counts: Counts, readings: ClassReadings, rng: np.random.Generator) -> None:
    """Plant an end and a gauge error in one clean class, each on its own, and count what is found."""
    label = last_opening(readings)
    rows = np.flatnonzero(readings.opening == label)
    shell = readings.reading_shell
    if len(np.unique(readings.shell_position[shell[rows]])) < 4:
        return
    latest = np.array([readings.tau_kh[shell == shell[row]].max() for row in rows])
    if (latest <= readings.tau_kh[rows]).all():
        apart, turned = ends_apart(readings, rows)
        if apart >= TELLS_ENDS_APART:
            found = screen(replace(readings, z_um=turned), PRIORS).ends
            counts.ends += 1
            counts.ends_found += any(end.opening == label for end in found)
    mode = mode_only(readings, PRIORS)
    errors = opening_errors(readings, PRIORS, mode)
    here = errors.opening == label
    usual_um = float(np.hypot(mode.sigma[mode.terms.index("opening_error")], errors.error_sd_um[here][0]))
    z = readings.z_um.copy()
    z[rows] += np.sign(errors.error_um[here][0]) * rng.uniform(*STANDS_OUT) * usual_um
    found_gauges = screen(replace(readings, z_um=z), PRIORS).gauges
    counts.gauges += 1
    counts.gauges_found += any(gauge.opening == label for gauge in found_gauges)


def look_at_clean(counts: Counts, readings: ClassReadings) -> None:
    """Count the openings of a clean class that are asked about at all."""
    found = screen(readings, PRIORS)
    asked = {one.opening for one in (*found.gauges, *found.ends)}
    asked |= {int(readings.opening[one.row]) for one in found.readings}
    counts.openings += len(np.unique(readings.opening))
    counts.asked += len(asked)


def run(fleets: int, seed: int = SEED) -> Counts:
    """Plant and count in that many fleets."""
    rng = np.random.default_rng(seed)
    counts = Counts()
    for _ in range(fleets):
        readings = draw_fleet(PLAN, PRIORS, rng).readings
        plant(counts, readings, rng)
        look_at_clean(counts, readings)
    return counts


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=400)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    counts = run(asked.fleets)
    lines = [f"{asked.fleets} fleets of 4 sisters; seed {SEED}, {date.today().isoformat()}.", ""]
    lines += ["| kind | found |", "|---|---|", *counts.rows]
    print("\n".join(lines))
    if asked.out:
        asked.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
