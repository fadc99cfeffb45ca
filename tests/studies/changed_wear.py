"""Does the forecast stay honest where wear does not go on as it went? Classes from many truths, followed to limits.

    python tests/studies/changed_wear.py --classes 60 --out table.md

Three to six engines, six to eight places, openings 8 to 14 kh apart, wear by gamma increments, gauge errors,
rounding to 1 or 10 µm, half the new walls known; forecast as the tool does it, doubted readings left out. Beside
it stands the model without a clock. Hours beyond 200 kh count as 200 kh; ranges as in `other_truths.py`.
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
import warnings
import zlib
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from changed_fleets import TRUTHS, ChangedClass, draw_class, without_calendar

from wearcast.wear.crossing import LONGEST_KH, hours_to_limit
from wearcast.wear.pooled import ClassReadings, Posterior, posterior
from wearcast.wear.pooled.clock import Kind
from wearcast.wear.pooled.clock_said import said_changes
from wearcast.wear.pooled.mixture import mixed
from wearcast.wear.pooled.screening import Screened, screen
from wearcast.wear.priors import Priors
from wearcast.wear.scores import clustered_mean, pinball_loss

SEED = 20261128
RIGHT_DATE_YEARS = 1.5


@dataclass(frozen=True)
class Held:
    """Figures of one class under one model, arrays over its shells in service (nan: not counted)."""

    inside: np.ndarray
    before: np.ndarray
    loss: np.ndarray
    seconds: float


@dataclass(frozen=True)
class Followed:
    """One class: with the clock, without, and what was asked."""

    clock: Held
    plain: Held
    asked: bool
    right_date: bool
    right_factor: bool
    steady: float
    seen_twice: bool
    concerned: np.ndarray
    gone_held: np.ndarray
    gone_asked: np.ndarray
    sound_asked: np.ndarray


def follow(truth: str, number: int, seed: int = SEED, plain: bool = True) -> Followed:
    """Draw one class and forecast it; it depends on its arguments alone."""
    rng = np.random.default_rng([seed, zlib.crc32(truth.encode()), number])
    one = draw_class(TRUTHS[truth], rng)
    clock, found = _forecast(one, True)
    other = _forecast(one, False)[0] if plain else clock
    asked, date, factor = _asked(one, truth, found)
    engine = one.readings.shell_engine[one.current]
    concerned = np.isin(engine, [one.engine]) if one.engine >= 0 else np.ones(len(engine), dtype=bool)
    quick = np.isin(one.current, [shell.shell for shell in found.shells if shell.score > 0])
    wrong = np.isin(np.arange(len(engine)), one.gone)
    early = np.where(np.isnan(clock.before), 0.0, clock.before)[wrong]
    return Followed(
        clock, other, asked, date, factor, _steady(found), _seen_twice(one), concerned,
        1.0 - early, quick[wrong], quick[~wrong],
    )  # fmt: skip


def _forecast(one: ChangedClass, with_clock: bool) -> tuple[Held, Screened]:
    start = time.process_time()
    readings = one.readings if with_clock else without_calendar(one.readings)
    found = screen(readings, Priors(), changes=with_clock)
    made = hours_to_limit(_known(readings, found, one.current))
    seconds = time.process_time() - start
    now, hours = made.curve[:, 0], made.hours_kh
    late = np.where(np.isnan(hours), np.inf, hours)
    true = one.hours_kh
    inside = np.where(now < 0.05, (true >= late[:, 0]) & (true <= late[:, 6]), np.nan)
    before = np.where(now < 0.10, true <= late[:, 1], np.nan)
    closed = np.minimum(late, LONGEST_KH)
    loss = pinball_loss(np.minimum(true, LONGEST_KH), closed, np.asarray(made.probabilities)).mean(1)
    return Held(inside, before, loss, seconds), found


def _known(readings: ClassReadings, found: Screened, series: np.ndarray) -> Posterior:
    """The forecast as the tool makes it: both halves where a doubted reading may be a fault coming on."""
    slips = posterior(found.without(readings), found.estimate, series)
    if not found.towards.any():
        return slips
    faults = posterior(found.with_faults(readings), found.estimate, series)
    return mixed(slips, faults, found.fault_chance)


def _steady(found: Screened) -> float:
    changed = [j.weight for j in found.estimate.judged if j.part.kind is not Kind.NONE]
    return 1.0 - sum(changed)


def _asked(one: ChangedClass, truth: str, found: Screened) -> tuple[bool, bool, bool]:
    """Whether a changed rate is asked about, with about the right date and the true factor in its range."""
    said = said_changes(one.readings, found.estimate)
    if not said:
        return False, False, False
    date = any(abs(s.year - one.changed_year) <= RIGHT_DATE_YEARS for s in said)
    factor = any(s.factor_p05 <= TRUTHS[truth].factor <= s.factor_p95 for s in said)
    return True, date, factor


def _seen_twice(one: ChangedClass) -> bool:
    """Two openings followed the change (at the engine concerned, at half of all)."""
    if np.isnan(one.changed_year):
        return False
    r, calendar = one.readings, one.readings.calendar
    at = int(np.argmin(np.abs(calendar.years - one.changed_year)))
    shift = (one.changed_year - calendar.years[at]) * 5.5
    total = r.shell_start_kh[r.reading_shell] + r.tau_kh
    engine = r.shell_engine[r.reading_shell]
    since = total > calendar.hours_at(at, engine) + shift
    counts = [len(np.unique(total[since & (engine == e) & ~r.is_new_wall])) for e in np.unique(engine)]
    return bool((counts[one.engine] if one.engine >= 0 else np.median(counts)) >= 2)


def _share(values: list[np.ndarray]) -> str:
    every = np.concatenate(values)
    return f"{100 * every.mean():.1f}" if len(every) else ""


def row(truth: str, fleets: list[Followed]) -> str:
    """One row of the table."""

    def share(values: list[np.ndarray]) -> str:
        kept = [v[~np.isnan(v)] for v in values]
        cluster = np.repeat(np.arange(len(kept)), [len(v) for v in kept])
        mean, error = clustered_mean(np.concatenate(kept).astype(float), cluster)
        return f"{100 * mean:.1f} ± {100 * error:.1f}"

    loss, plain = (
        float(np.concatenate([getattr(f, n).loss for f in fleets]).mean()) for n in ("clock", "plain")
    )
    asked = [f for f in fleets if f.asked]
    twice = [f for f in fleets if f.seen_twice]
    cells = [
        truth,
        str(sum(len(f.concerned) for f in fleets)),
        share([f.clock.inside for f in fleets]),
        share([f.clock.before for f in fleets]),
        share([f.plain.inside for f in fleets]),
        share([f.plain.before for f in fleets]),
        f"{loss:.2f}",
        f"{loss / plain:.3f}",
        f"{100 * np.mean([f.asked for f in fleets]):.0f}",
        f"{100 * np.mean([f.asked for f in twice]):.0f}" if twice else "",
        f"{100 * np.mean([f.right_date for f in asked]):.0f}" if asked and twice else "",
        f"{100 * np.mean([f.right_factor for f in asked]):.0f}" if asked and twice else "",
        f"{np.mean([f.steady for f in fleets]):.2f}",
        _share([f.gone_held for f in fleets]),
        _share([f.gone_asked for f in fleets]),
        _share([f.sound_asked for f in fleets]),
        f"{sum(f.clock.seconds for f in fleets) / sum(f.plain.seconds for f in fleets):.2f}",
    ]
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| truth | shells | 90 % range holds | before the 10 % hour | without a clock: holds | before | pinball kh | "
    "over that without | asked % | seen twice, asked % | right date % | factor in range % | weight of no change | "
    "gone: at or past p10 % | gone, asked % | sound, asked quickened % | time |"
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", type=int, default=60)
    parser.add_argument("--truths", nargs="+", default=list(TRUTHS), choices=list(TRUTHS))
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    lines = [
        f"Changed wear: {options.classes} classes a truth; seed {options.seed}, {dt.date.today().isoformat()}.",
        "",
        HEAD,
        "|" + "---|" * 17,
    ]
    print("\n".join(lines), flush=True)
    with ProcessPoolExecutor(options.processes) as pool:
        for truth in options.truths:
            fleets = list(
                pool.map(
                    follow,
                    [truth] * options.classes,
                    range(options.classes),
                    [options.seed] * options.classes,
                )
            )
            lines.append(row(truth, fleets))
            print(lines[-1], flush=True)
            if options.out:
                options.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    main()
