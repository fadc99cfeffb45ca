"""Do the stated chances come true? Fleets drawn from the model, forecast, and followed to their limits.

    python tests/studies/calibration.py --fleets 1000 --out table.md

For every cell (number of sister engines) standard deviations and coefficients are drawn from the priors and
a fleet from the model, drawn again whole where any rate is 0 or less. Every shell is read 1 to 5 times. At
the hour where the forecast states the chance q, the wear trend should stand at or past the limit in a share
q of the shells; shells whose chance at hour 0 is already above q are left out of that q. The pinball loss of
the forecast is set beside that of the same model told the true standard deviations. Hours beyond 200 kh
count as 200 kh. Standard errors are clustered by fleet.
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from simulate import Fleet, FleetPlan, draw_fleet

from wearcast.wear.crossing import LONGEST_KH, QUANTILES, hours_to_limit
from wearcast.wear.pooled import Estimate, estimate, posterior
from wearcast.wear.priors import Priors
from wearcast.wear.scores import clustered_mean, pinball_loss

ENGINES = (2, 4, 8)
SEED = 20261125
PLAN = FleetPlan(renewal_share=0.0)
LARGEST_GAP = {2: 0.08, 4: 0.055, 8: 0.03}  # of the pinball loss over that with the true θ


@dataclass(frozen=True)
class Cell:
    """Forecasts and truth of all shells of one cell; lengths N shells, q chances."""

    n_engines: int
    seed: int
    fleet: np.ndarray
    true_kh: np.ndarray
    forecast_kh: np.ndarray
    chance_now: np.ndarray
    told_kh: np.ndarray
    seconds: float
    not_found: int


def told_the_truth(found: Estimate, fleet: Fleet) -> Estimate:
    """The same estimate with the true standard deviations plugged in."""
    sigma = np.array([[fleet.sigma[name] for name in found.terms.variances]])
    return replace(found, sigma=sigma[0], sigma_points=sigma, weights=np.ones(1))


def run_cell(n_engines: int, n_fleets: int, seed: int = SEED, plan: FleetPlan = PLAN) -> Cell:
    """Draw, forecast and follow the fleets of one cell; fleet k depends on the seed and k alone."""
    priors, plan = Priors(), replace(plan, n_engines=n_engines)
    parts, seconds, not_found = [], 0.0, 0
    for k in range(n_fleets):
        fleet = draw_fleet(plan, priors, np.random.default_rng([seed, n_engines, k]))
        start = time.process_time()
        found = estimate(fleet.readings, priors)
        made = hours_to_limit(posterior(fleet.readings, found, fleet.current))
        seconds += time.process_time() - start
        not_found += not found.found
        told = hours_to_limit(posterior(fleet.readings, told_the_truth(found, fleet), fleet.current))
        parts.append(
            (
                np.full(len(fleet.current), k),
                fleet.hours_to_limit_kh[fleet.current],
                made.hours_kh,
                made.curve[:, 0],
                told.hours_kh,
            )
        )
    fleet_of, true, forecast, now, told_kh = (np.concatenate(p) for p in zip(*parts, strict=True))
    return Cell(n_engines, seed, fleet_of, true, forecast, now, told_kh, seconds / n_fleets, not_found)


def reached(cell: Cell) -> list[tuple[float, int, float, float]]:
    """For each chance q: q, shells counted, share that reached the limit by then, standard error."""
    rows = []
    for j, q in enumerate(QUANTILES):
        counted = (cell.chance_now < q) & ~np.isnan(cell.forecast_kh[:, j])
        hit = (cell.true_kh <= cell.forecast_kh[:, j])[counted].astype(float)
        share, error = clustered_mean(hit, cell.fleet[counted])
        rows.append((q, int(counted.sum()), share, error))
    return rows


def losses(cell: Cell) -> tuple[float, float, float, float]:
    """Pinball loss of the forecast and with the true θ [kh], their ratio less 1, its standard error."""
    levels = np.array(QUANTILES)
    true = np.minimum(cell.true_kh, LONGEST_KH)
    ours, told = (
        pinball_loss(true, np.where(np.isnan(h), LONGEST_KH, h), levels).mean(1)
        for h in (cell.forecast_kh, cell.told_kh)
    )
    ratio = ours.mean() / told.mean()
    _, error = clustered_mean(ours - ratio * told, cell.fleet)
    return float(ours.mean()), float(told.mean()), float(ratio - 1), error / float(told.mean())


def table(cells: list[Cell]) -> str:
    """The study's table in Markdown."""
    lines = [
        f"Calibration on fleets from the model; seed {cells[0].seed}, {dt.date.today().isoformat()}.",
        "",
        "| engines | fleets | shells | "
        + " | ".join(f"at {100 * q:.0f} %" for q in QUANTILES)
        + " | pinball kh | with true θ | gap | s a fleet |",
        "|" + "---|" * (len(QUANTILES) + 7),
    ]
    for cell in cells:
        shares = " | ".join(f"{100 * s:.1f} ± {100 * e:.1f}" for _, _, s, e in reached(cell))
        ours, told, gap, error = losses(cell)
        lines.append(
            f"| {cell.n_engines} | {len(np.unique(cell.fleet))} | {len(cell.fleet)} | {shares} | {ours:.3f} | "
            f"{told:.3f} | {100 * gap:+.1f} ± {100 * error:.1f} % | {cell.seconds:.2f} |"
        )
    lines += [
        "",
        "Share of shells whose wear trend stood at or past the limit at the hour of the stated chance, ± one "
        "standard error clustered by fleet; shells past that chance at hour 0 and open-ended ones left out.",
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fleets", type=int, default=1000)
    parser.add_argument("--engines", type=int, nargs="+", default=list(ENGINES))
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    cells = []
    for n in options.engines:
        cells.append(run_cell(n, options.fleets, options.seed))
        text = table(cells)
        print(text, flush=True)
        if options.out:
            options.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
