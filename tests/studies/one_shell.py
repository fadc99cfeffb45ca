"""Is a shell that begins to fail asked about, and does its forecast hold? One in each class, followed to its limit.

    python tests/studies/one_shell.py --classes 60 --out table.md

Classes as in `changed_fleets.py`. One shell wears five times as fast since its last opening but one (or for two
intervals, or since the middle of the last). Shells that no more than the gauge's error tells apart cannot be asked
about by anybody: those that wore at least 25 µm beyond their own pace stand in a column of their own.
"""

from __future__ import annotations

import argparse
import datetime as dt
import warnings
import zlib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from changed_fleets import TRUTHS, draw_class

from wearcast.wear.known import Known, KnownEither
from wearcast.wear.pooled.screening import screen
from wearcast.wear.priors import Priors

SEED = 20261128
ROWS = (
    "one shell 5 ×",
    "one shell 5 ×, two intervals",
    "one shell 5 ×, half the last",
    "ordinary",
    "heavy errors",
)


@dataclass(frozen=True)
class Followed:
    """Counts of one class: its shell gone wrong (arrays of 0 or 1 shell) and its sound ones."""

    held: np.ndarray
    asked: np.ndarray
    plain: np.ndarray
    sound: int
    quickened: int
    slowed: int


def follow(truth: str, number: int, seed: int = SEED) -> Followed:
    """Draw one class and forecast it; it depends on its arguments alone."""
    one = draw_class(TRUTHS[truth], np.random.default_rng([seed, zlib.crc32(truth.encode()), number]))
    priors, series = Priors(), one.current
    found = screen(one.readings, priors)
    slips, faults = (
        Known(part, found.estimate, series)
        for part in (found.without(one.readings), found.with_faults(one.readings))
    )
    known = KnownEither(slips.readings, found.estimate, series, slips, faults, priors.fault_chance)
    early = np.nan_to_num((known if found.towards.any() else slips).hours.hours_kh[:, 1], nan=np.inf)
    quick = np.isin(series, [shell.shell for shell in found.shells if shell.score > 0])
    slow = np.isin(series, [shell.shell for shell in found.shells if shell.score < 0])
    sound = ~np.isin(np.arange(len(series)), one.gone)
    return Followed(
        (one.hours_kh >= early)[one.gone],
        quick[one.gone],
        one.beyond_um[one.gone] >= 25.0,
        int(sound.sum()),
        int((quick & sound).sum()),
        int((slow & sound).sum()),
    )


def row(truth: str, classes: list[Followed]) -> str:
    """One row of the table."""
    held, asked, plain = (
        np.concatenate([getattr(c, name) for c in classes]) for name in ("held", "asked", "plain")
    )
    sound = sum(c.sound for c in classes)

    def share(values: np.ndarray) -> str:
        return f"{100 * values.mean():.0f}" if len(values) else ""

    cells = (
        truth,
        str(len(held)),
        share(held),
        share(asked),
        f"{share(asked[plain])} of {int(plain.sum())}" if len(held) else "",
        str(sound),
        f"{100 * sum(c.quickened for c in classes) / sound:.2f}",
        f"{100 * sum(c.slowed for c in classes) / sound:.2f}",
    )
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| truth | shells gone wrong | true hours at or past the 10 % hour % | asked % | of those 25 µm beyond % | "
    "sound shells | of them quickened % | slowed % |"
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", type=int, default=60)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    lines = [
        f"One shell: {options.classes} classes a truth; seed {options.seed}, {dt.date.today().isoformat()}."
    ]
    lines += ["", HEAD, "|" + "---|" * 8]
    print("\n".join(lines), flush=True)
    with ProcessPoolExecutor(options.processes) as pool:
        for truth in ROWS:
            numbers = range(options.classes)
            made = pool.map(
                follow, [truth] * options.classes, numbers, [options.seed] * options.classes, chunksize=5
            )
            lines.append(row(truth, list(made)))
            print(lines[-1], flush=True)
            if options.out:
                options.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    main()
