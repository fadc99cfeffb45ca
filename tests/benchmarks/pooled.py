"""How long the pooled forecast of a big class takes, and what the same fleets cost other ways.

    python tests/benchmarks/pooled.py                    100 000 engines x 8 positions x 6 readings
    python tests/benchmarks/pooled.py --engines 10000    a short one

Wall and processor seconds and peak memory of: the own lines; the pooled estimate (on 2000 engines), posterior
and hours to the limit of all shells; then, on a few engines, statsmodels MixedLM (one random rate by shell)
and a loop of statsmodels OLS over the shells, carried up to the same size by simple proportion. The pooled row
is also run on a tenth of the engines: ten times the engines should take at most eleven times as long.
"""

from __future__ import annotations

import argparse
import datetime as dt
import platform
import resource
import time
import warnings
from collections.abc import Callable

import numpy as np

from wearcast.wear.crossing import hours_to_limit
from wearcast.wear.own_line import fit_lines
from wearcast.wear.pooled import ClassReadings, estimate, posterior
from wearcast.wear.priors import Priors

SEED = 11
POSITIONS = 8
READINGS = 6
GOAL_S, GOAL_GB, GOAL_GROWTH = 90.0, 6.0, 11.0
SMALL_ENGINES = 25


def big_class(n_engines: int, rng: np.random.Generator) -> ClassReadings:
    """A fleet from the model at its prior medians: every shell read at all six openings of its engine."""
    n_shells, n = n_engines * POSITIONS, n_engines * POSITIONS * READINGS
    per_kh = 50.0 / 60.0
    hours = np.cumsum(rng.uniform(2.0, 6.0, (n_engines, READINGS)), axis=1)
    engine, position = np.divmod(np.arange(n_shells), POSITIONS)
    rate = per_kh * (
        1.0
        + 0.25 * rng.normal(size=n_engines)[engine]
        + 0.2 * rng.normal(size=POSITIONS)[position]
        + 0.33 * rng.normal(size=n_shells)
    )
    rate = np.maximum(rate, 0.05 * per_kh)
    tau = hours[engine]
    steps = np.diff(tau, axis=1, prepend=0.0)
    uneven = per_kh * np.cumsum(np.sqrt(steps) * rng.normal(size=tau.shape), axis=1)
    gauge = 1.5 * rng.normal(size=(n_engines, READINGS))[engine]
    z = 2.0 + rate[:, None] * tau + uneven + 4.0 * rng.normal(size=(n_shells, 1)) + gauge
    z = z + 6.0 * rng.normal(size=tau.shape)
    return ClassReadings(
        z_um=z.ravel(),
        tau_kh=tau.ravel(),
        u_um=np.full(n, np.nan),
        step_um=np.zeros(n),
        series=np.repeat(np.arange(n_shells), READINGS),
        opening=(engine[:, None] * READINGS + np.arange(READINGS)).ravel(),
        is_new_wall=np.zeros(n, dtype=bool),
        series_shell=np.arange(n_shells),
        series_group=np.zeros(n_shells, dtype=np.intp),
        series_limit_um=np.full(n_shells, 50.0),
        shell_engine=engine,
        shell_position=position,
        shell_fitting_known=np.ones(n_shells, dtype=bool),
        shell_tau_now_kh=hours[engine, -1],
        shell_delta_sd_um=np.full(n_shells, 4.3),
        allowance_um=50.0,
        default_u_um=6.0,
    )


def clock() -> np.ndarray:
    """Wall and processor seconds now; the latter say more where other work shares the machine."""
    return np.array([time.perf_counter(), time.process_time()])


def timed(work: Callable[[], object]) -> np.ndarray:
    """Wall and processor seconds of one run."""
    start = clock()
    work()
    return clock() - start


def pooled_forecast(readings: ClassReadings) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds of the estimate, the posterior and the hours to the limit."""
    start = clock()
    found = estimate(readings, Priors())
    estimated = clock()
    made = posterior(readings, found)
    solved = clock()
    hours_to_limit(made)
    return estimated - start, solved - estimated, clock() - solved


def mixed_lm(readings: ClassReadings) -> np.ndarray:
    """Seconds of statsmodels MixedLM with one random rate by shell."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    tau = readings.tau_kh[:, None] / readings.tau_kh.std()
    z = readings.z_um / readings.z_um.std()
    exog = np.column_stack([np.ones(len(z)), tau])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return timed(lambda: MixedLM(z, exog, readings.series, exog_re=tau).fit(reml=True))


def ols_loop(readings: ClassReadings) -> np.ndarray:
    """Seconds of a loop of statsmodels OLS over the shells."""
    from statsmodels.regression.linear_model import OLS

    tau = readings.tau_kh.reshape(-1, READINGS)
    z = readings.z_um.reshape(-1, READINGS)

    def loop() -> None:
        for hours, wear in zip(tau, z, strict=True):
            OLS(wear, np.column_stack([np.ones(READINGS), hours])).fit()

    return timed(loop)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--engines", type=int, default=100_000)
    n_engines = parser.parse_args().engines
    rng = np.random.default_rng(SEED)
    small = big_class(SMALL_ENGINES, rng)
    scale = n_engines / SMALL_ENGINES
    pooled_forecast(small)  # imports and first pages
    tenth = pooled_forecast(big_class(n_engines // 10, rng))
    readings = big_class(n_engines, rng)
    own = timed(
        lambda: fit_lines(readings.tau_kh, readings.z_um, readings.u_um, readings.series, readings.n_series)
    )
    whole = pooled_forecast(readings)
    peak_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    mixed, loop = mixed_lm(small), ols_loop(small)

    print(
        f"{n_engines:,} engines x {POSITIONS} positions x {READINGS} readings = {readings.n_readings:,}; seed {SEED}; "
        f"{dt.date.today().isoformat()}; numpy {np.__version__}; Python {platform.python_version()} on "
        f"{platform.machine()}\n"
    )
    print("| what | engines | wall s | processor s | goal |")
    print("|---|---|---|---|---|")
    rows = [
        ("own lines", n_engines, own, ""),
        ("pooled: estimate on 2000 engines", n_engines, whole[0], ""),
        ("pooled: posterior of all shells", n_engines, whole[1], ""),
        ("pooled: hours to the limit", n_engines, whole[2], ""),
        ("pooled, whole", n_engines, sum(whole), f"{GOAL_S:.0f} s"),
        ("pooled, a tenth of the engines", n_engines // 10, sum(tenth), ""),
        ("MixedLM, one random rate", SMALL_ENGINES, mixed, ""),
        ("MixedLM, in proportion", n_engines, mixed * scale, ""),
        ("OLS loop over shells", SMALL_ENGINES, loop, ""),
        ("OLS loop, in proportion", n_engines, loop * scale, ""),
    ]
    for what, engines, seconds, goal in rows:
        print(f"| {what} | {engines:,} | {seconds[0]:,.1f} | {seconds[1]:,.1f} | {goal} |")
    growth = sum(whole) / sum(tenth)
    print(
        f"| growth for ten times the engines | | x {growth[0]:.1f} | x {growth[1]:.1f} | x {GOAL_GROWTH:.0f} |"
    )
    print(f"\nPeak memory {peak_gb:.1f} GB (goal {GOAL_GB:.0f} GB).")


if __name__ == "__main__":
    main()
