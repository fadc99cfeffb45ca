"""How long the own lines of a million shells take, against the sums they are made of.

    python tests/benchmarks/own_line.py             10 million readings of 1 million series, some 1 GB
    python tests/benchmarks/own_line.py 20000       a short one

The yardstick is five sums by ``numpy.bincount`` with weights, the least a straight line needs (n, Στ, Σz, Στ²,
Στz); the goal is to stay under ten times that. Figures are processor seconds, which other work on the machine
disturbs least (all of this runs in one thread): the first run in its row, pages still cold, and the second.
"""

from __future__ import annotations

import argparse
import datetime
import platform
import time
from collections.abc import Callable
from functools import partial

import numpy as np

from wearcast.wear.inverse import hours_at_limit
from wearcast.wear.own_line import fit_lines

SEED = 7
READINGS_A_SERIES = 10
GOAL = 10.0


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    parser = argparse.ArgumentParser(description="Own lines of many shells against five bincount sums")
    parser.add_argument("series", nargs="?", type=int, default=1_000_000)
    n_series = parser.parse_args().series

    rng = np.random.default_rng(SEED)
    n = n_series * READINGS_A_SERIES
    in_order = np.repeat(np.arange(n_series), READINGS_A_SERIES)
    tau = rng.uniform(2, 60, n)
    wear = 20 + 4 * tau + rng.normal(0, 10, n)
    stated, unstated = rng.uniform(5, 20, n), np.full(n, np.nan)

    today = datetime.datetime.now(datetime.UTC).date()
    print(f"{n:,} readings of {n_series:,} series; seed {SEED}; {today}; numpy {np.__version__}; ", end="")
    print(f"Python {platform.python_version()} on {platform.machine()}")
    print(
        f"{'rows':<10}{'u':<10}{'5 sums [s]':>12}{'lines [s]':>20}{'ratio':>16}{'goal':>7}{'limits [s]':>12}"
    )
    for rows, series in (("in order", in_order), ("shuffled", rng.permutation(in_order))):
        for label, u in (("unstated", unstated), ("stated", stated)):
            # The quickest of five: a slow yardstick would flatter the ratio.
            add = partial(np.bincount, series, weights=wear, minlength=n_series)
            sums = 5 * min(seconds(add) for _ in range(5))
            runs = [seconds(partial(fit_lines, tau, wear, u, series, n_series)) for _ in range(2)]
            limits = seconds(partial(hours_at_limit, fit_lines(tau, wear, u, series, n_series), 500.0))
            lines, ratio = (f"{runs[0]:.2f} / {runs[1]:.2f}", f"{runs[0] / sums:.1f} / {runs[1] / sums:.1f}")
            print(f"{rows:<10}{label:<10}{sums:>12.3f}{lines:>20}{ratio:>16}{GOAL:>7.0f}{limits:>12.2f}")


if __name__ == "__main__":
    main()
