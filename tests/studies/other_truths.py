"""Does the forecast hold where the world is not the model? Fleets from other truths, followed to their limits.

    python tests/studies/other_truths.py --fleets 500 --out table.md

The fleets wear by gamma increments at log-normal rates, one place three times as fast as its sisters; they are
read to 10 µm with a common gauge error at every opening, one reading in thirty is grossly wrong, and some
shells were renewed. They are forecast as the tool does it: doubted readings left out, standard deviations
averaged over. Beside the forecast stand the same model with the best constant standard deviations, found on
other fleets, and the own line. Open ends and hours beyond 200 kh count as 200 kh.
"""

from __future__ import annotations

import argparse
import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from simulate import FleetPlan, OtherTruth, draw_other_fleet

from wearcast.wear.crossing import LONGEST_KH, hours_to_limit
from wearcast.wear.inverse import hours_at_limit
from wearcast.wear.own_line import fit_lines
from wearcast.wear.pooled import ClassReadings, Estimate, posterior
from wearcast.wear.pooled.screening import screen
from wearcast.wear.priors import Priors
from wearcast.wear.scores import clustered_mean, pinball_loss

SEED = 20261126
PLAN = FleetPlan(renewal_share=0.3, step_um=10.0)
TRUTH = OtherTruth()
OWN_LEVELS = (0.05, 0.50, 0.95)
RUNNING_IN_KH = 2.0  # younger readings stay out of the own line


@dataclass(frozen=True)
class Followed:
    """One fleet: what the tool kept and found, and the truth of its shells in service."""

    readings: ClassReadings
    estimate: Estimate
    shells: np.ndarray
    true_kh: np.ndarray
    slips: int
    slips_found: int
    left_out: int


def follow(n_engines: int, fleet: int, seed: int, plan: FleetPlan = PLAN) -> Followed:
    """Draw one fleet and let the tool choose what to keep; it depends on seed and number alone."""
    priors = Priors()
    rng = np.random.default_rng([seed, n_engines, fleet])
    drawn = draw_other_fleet(replace(plan, n_engines=n_engines), priors, TRUTH, rng)
    found = screen(drawn.readings, priors)
    return Followed(
        drawn.readings.only(~found.left_out),
        found.estimate,
        drawn.current,
        drawn.hours_to_limit_kh[drawn.current],
        int(drawn.slipped.sum()),
        int((drawn.slipped & found.left_out).sum()),
        int(found.left_out.sum()),
    )


def forecast(one: Followed, sigma: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Hours at 5 to 95 % (m, 7) and chance now (m,), averaged over θ or with a constant one."""
    found = one.estimate
    if sigma is not None:
        found = replace(found, sigma=sigma, sigma_points=sigma[None], weights=np.ones(1))
    made = hours_to_limit(posterior(one.readings, found, one.shells))
    return made.hours_kh, made.curve[:, 0]


def own_lines(one: Followed) -> np.ndarray:
    """Hours from now of the own line at 5, 50 and 95 %, (m, 3); nan where open or no line."""
    r = one.readings
    used = r.tau_kh >= RUNNING_IN_KH
    series = r.series[used]
    lines = fit_lines(r.tau_kh[used], r.z_um[used], r.u_um[used], series, r.n_series)
    found = hours_at_limit(lines, r.series_limit_um)
    ends = np.stack([found.lower_kh, found.line_kh, found.upper_kh], axis=1)
    now = r.shell_tau_now_kh[r.series_shell][:, None]
    return np.maximum(ends - now, 0.0)[one.shells]


def mean_loss(fleets: list[Followed], sigma: np.ndarray) -> float:
    """Mean pinball loss of the model with constant standard deviations [kh]."""
    return float(np.mean(np.concatenate([_loss(f.true_kh, forecast(f, sigma)[0]) for f in fleets])))


def _loss(true: np.ndarray, hours: np.ndarray, levels: tuple[float, ...] | None = None) -> np.ndarray:
    chances = np.array(levels or (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95))
    closed = np.where(np.isnan(hours), LONGEST_KH, np.minimum(hours, LONGEST_KH))
    return pinball_loss(np.minimum(true, LONGEST_KH), closed, chances).mean(1)


def best_constant(fleets: list[Followed], rounds: int = 2) -> np.ndarray:
    """Standard deviations that would have done best on these fleets, by coordinate search."""
    log_sigma = np.mean([np.log(f.estimate.sigma) for f in fleets], axis=0)
    best, step = mean_loss(fleets, np.exp(log_sigma)), 0.5
    for _ in range(rounds):
        for k in range(len(log_sigma)):
            for sign in (1.0, -1.0):
                trial = log_sigma.copy()
                trial[k] += sign * step
                loss = mean_loss(fleets, np.exp(trial))
                if loss < best:
                    best, log_sigma = loss, trial
                    break
        step /= 2
    return np.exp(log_sigma)


@dataclass(frozen=True)
class Outcome:
    """Figures of one cell; shares with their standard errors clustered by fleet."""

    n_engines: int
    shells: int
    held_90: tuple[float, float]
    before_10: tuple[float, float]
    loss: float
    loss_constant: float
    loss_ends: float
    loss_own: float
    loss_where_lined: float
    loss_own_where_lined: float
    lined: float
    slips_found: float
    left_out: float


def run_cell(n_engines: int, n_fleets: int, n_other: int, seed: int = SEED) -> Outcome:
    """Follow the fleets of one cell and, on other fleets, find the best constant θ."""
    others = [follow(n_engines, 1_000_000 + k, seed) for k in range(n_other)]
    constant = best_constant(others) if others else None
    fleets = [follow(n_engines, k, seed) for k in range(n_fleets)]
    made = [forecast(f) for f in fleets]
    true = np.concatenate([f.true_kh for f in fleets])
    hours = np.concatenate([m[0] for m in made])
    now = np.concatenate([m[1] for m in made])
    own = np.concatenate([own_lines(f) for f in fleets])
    cluster = np.repeat(np.arange(n_fleets), [len(f.true_kh) for f in fleets])
    late = np.where(np.isnan(hours), np.inf, hours)
    held = ((true >= late[:, 0]) & (true <= late[:, 6])).astype(float)
    ends, own_loss = _loss(true, hours[:, [0, 3, 6]], OWN_LEVELS), _loss(true, own, OWN_LEVELS)
    lined = np.isfinite(own[:, 1])
    loss_constant = float("nan")
    if constant is not None:
        loss_constant = mean_loss(fleets, constant)
    sums = np.array([[f.slips, f.slips_found, f.left_out, f.readings.n_readings] for f in fleets]).sum(0)
    return Outcome(
        n_engines,
        len(true),
        clustered_mean(held[now < 0.05], cluster[now < 0.05]),
        clustered_mean((true <= late[:, 1])[now < 0.10].astype(float), cluster[now < 0.10]),
        float(_loss(true, hours).mean()),
        loss_constant,
        float(ends.mean()),
        float(own_loss.mean()),
        float(ends[lined].mean()),
        float(own_loss[lined].mean()),
        float(lined.mean()),
        float(sums[1] / max(sums[0], 1)),
        float(sums[2] / (sums[2] + sums[3])),
    )


def table(outcomes: list[Outcome], fleets: int, others: int, seed: int) -> str:
    """The study's table in Markdown."""
    lines = [
        f"Fleets from other truths: {fleets} a cell, best constant θ on {others} others; seed {seed}, "
        f"{dt.date.today().isoformat()}.",
        "",
        "| engines | shells | 90 % range holds | before the 10 % hour | pinball kh | constant θ | gap | at 5, 50, "
        "95 % | own line | of shells with a rising own line: ours | own line | share of shells | slips found | "
        "left out |",
        "|" + "---|" * 14,
    ]
    for o in outcomes:
        gap = 100 * (o.loss / o.loss_constant - 1)
        lines.append(
            f"| {o.n_engines} | {o.shells} | {100 * o.held_90[0]:.1f} ± {100 * o.held_90[1]:.1f} % | "
            f"{100 * o.before_10[0]:.1f} ± {100 * o.before_10[1]:.1f} % | {o.loss:.3f} | {o.loss_constant:.3f} | "
            f"{gap:+.1f} % | {o.loss_ends:.2f} | {o.loss_own:.2f} | {o.loss_where_lined:.2f} | "
            f"{o.loss_own_where_lined:.2f} | {100 * o.lined:.0f} % | {100 * o.slips_found:.0f} % | "
            f"{100 * o.left_out:.1f} % |"
        )
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fleets", type=int, default=500)
    parser.add_argument("--others", type=int, default=500)
    parser.add_argument("--engines", type=int, nargs="+", default=[4, 1])
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    outcomes = []
    for n in options.engines:
        outcomes.append(run_cell(n, options.fleets, options.others, options.seed))
        text = table(outcomes, options.fleets, options.others, options.seed)
        print(text, flush=True)
        if options.out:
            options.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
