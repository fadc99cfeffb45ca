"""Do orders cover and plans hold? Fleets drawn from the model, decided on, and followed.

    nice -n 10 python tests/studies/decisions.py --fleets 500 --out table.md

Fleet k depends on the seed and k alone. Four sister engines with seven places each are drawn from the model at
standard deviations drawn from the priors; every engine has a mean use, its spread, a docking every two and a half
years (special and intermediate survey) from some day on, and a port stay about halfway between. One part serves all
places; nothing is in store.

*Order.* The list of windows is cut to none, one or two, or left whole: the rule goes on past its end at the usual
spacing; where fewer than two are listed, at that of the last five openings, which fell on dockings and port stays as
those ahead do. Beside it none listed and no opening known: 30 months, at a time drawn for every engine, which is all
that is left to say. For each of three review periods the order of the rule (95 % of the joint draws) is set against
the true number needed before the period ends, with the true use and all windows; beside it the same rule told the true
standard deviations and all windows, a set of shells for every engine, and the line through the last two readings with
everything due inside the period, at the mean use. The two-points rule is brought to the same cover by adding shells
alike to every order.

*Plan.* Over five years the openings of the integer program at an accepted risk of 10 % are set against opening every
place at every docking. What is opened is renewed. A stay is the time between two openings of a place (or from now,
or to the end); counted is the share of stays in which the shell passes its limit before the stay ends. Shells for
which even the first window comes too late for the accepted risk are counted apart: no plan can keep them.
"""

from __future__ import annotations

import argparse
import datetime as dt
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from calibration import told_the_truth
from simulate import Fleet, FleetPlan, draw_fleet

from wearcast.decide.fewest import fewest_openings
from wearcast.decide.need_dates import at_windows, count_within, enough, years_until
from wearcast.forecasting.windows import going_on
from wearcast.wear.crossing import HoursToLimit, hours_to_limit
from wearcast.wear.dates import probability_within
from wearcast.wear.pooled import Estimate, estimate, posterior
from wearcast.wear.pooled.draws import joint_draws
from wearcast.wear.pooled.new_shells import with_new_shells
from wearcast.wear.priors import Priors
from wearcast.wear.scores import pit

SEED = 20261126
PLAN = FleetPlan(renewal_share=0.0)
SERVICE, RISK, HORIZON_YEARS, DOCKING_YEARS = 0.95, 0.10, 5.0, 2.5
DAYS_TO_COME, REVIEW_DAYS = 126.0, (182.0, 365.0, 730.0)
DRAWS = 2000
OPENED = 5
NOW = dt.date(2026, 1, 1)
LISTS: tuple[tuple[int | None, bool], ...] = ((None, True), (0, True), (1, True), (2, True), (0, False))
"""How many windows are listed, and whether past openings are known."""


@dataclass(frozen=True)
class World:
    """What surrounds a fleet: use, windows and the truth ahead; lengths E engines, k shells."""

    engine: np.ndarray
    use: tuple[np.ndarray, np.ndarray, np.ndarray]
    windows: list[np.ndarray]
    dockings: list[np.ndarray]
    opened: list[np.ndarray]
    z: np.ndarray

    def of_shells(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Use of the engine of every shell."""
        return tuple(part[self.engine] for part in self.use)  # type: ignore[return-value]


def draw_world(fleet: Fleet, rng: np.random.Generator, stays_too: bool = True) -> World:
    """Use, windows (port stays too, or dockings alone), and how the use will turn out, z deviations from its mean."""
    labels, engine = np.unique(fleet.readings.shell_engine[fleet.current], return_inverse=True)
    n = len(labels)
    mean = rng.uniform(4.5, 6.5, n)
    windows, dockings, opened = [], [], []
    for _ in labels:
        docked = rng.uniform(0.0, DOCKING_YEARS) + DOCKING_YEARS * np.arange(-5, 5)
        stays = docked + DOCKING_YEARS * rng.uniform(0.35, 0.65, 10)
        every = np.r_[docked, stays if stays_too else []]
        order = np.argsort(every)
        ahead = every[order] > 0
        windows.append(every[order][ahead])
        dockings.append((order < len(docked))[ahead])
        opened.append(every[order][~ahead][-OPENED:])
    return World(engine, (mean, 0.1 * mean, np.ones(n)), windows, dockings, opened, rng.standard_normal(n))


def needed(
    world: World,
    hours_kh: np.ndarray,
    z: np.ndarray,
    known: tuple[int | None, bool] = (None, True),
    phase: np.ndarray | None = None,
) -> np.ndarray:
    """Years until each shell is needed, array (N, k), where so many windows are listed (None: all), past openings known
    or not."""
    years = years_until(hours_kh, *world.of_shells(), z[:, world.engine])
    listed, openings_known = known
    for e, every_window in enumerate(world.windows):
        mine, windows = world.engine == e, every_window[:listed]
        rule = going_on([day(at) for at in windows], {day(at) for at in world.opened[e] if openings_known})
        every = rule.every_days / 365.25
        last = phase[:, [e]] * every if rule.last is None else np.full((len(years), 1), years_of(rule.last))
        years[:, mine] = at_windows(years[:, mine], windows, last, every)
    return years


def day(years: float) -> dt.date:
    """A day so many years from now."""
    return NOW + dt.timedelta(days=round(365.25 * years))


def years_of(on: dt.date) -> float:
    """Years from now to a day."""
    return (on - NOW).days / 365.25


def drawn_needs(
    fleet: Fleet, found: Estimate, world: World, seed: int, lists: tuple[tuple[int | None, bool], ...]
) -> list[np.ndarray]:
    """Needs by the joint posterior, as `wearcast order` draws them, for every list of windows."""
    rng = np.random.default_rng(seed)
    z = rng.standard_normal((DRAWS, len(world.windows)))
    phase = rng.random((DRAWS, len(world.windows)))
    drawn = joint_draws(posterior(fleet.readings, found, fleet.current), found, DRAWS, rng)
    return [needed(world, drawn.hours_kh, z, known, phase) for known in lists]


def two_points_due(fleet: Fleet, world: World, years: float) -> int:
    """Shells due inside the period by the line through their last two readings."""
    r, due = fleet.readings, 0
    for k, shell in enumerate(fleet.current):
        mine = np.flatnonzero(r.reading_shell == shell)
        last = mine[np.argsort(r.tau_kh[mine], kind="stable")][-2:]
        if len(last) < 2 or np.ptp(r.tau_kh[last]) == 0:
            continue
        rate = np.diff(r.z_um[last])[0] / np.diff(r.tau_kh[last])[0]
        now = r.z_um[last[1]] + rate * (r.shell_tau_now_kh[shell] - r.tau_kh[last[1]])
        ahead = rate * world.use[0][world.engine[k]] * years
        due += bool(max(now, now + ahead) >= r.series_limit_um[shell])
    return due


@dataclass(frozen=True)
class Orders:
    """One row a fleet x period: what was needed, what the rules ordered, and the randomised PIT of the need."""

    true: np.ndarray
    ours: np.ndarray
    told: np.ndarray
    two_points: np.ndarray
    sets: np.ndarray
    pit: np.ndarray
    none: np.ndarray
    one: np.ndarray
    two: np.ndarray
    nothing: np.ndarray


@dataclass(frozen=True)
class Plans:
    """One row a fleet: openings and stays of our plan and of every docking, and the stays that passed a limit."""

    openings: np.ndarray
    stays: np.ndarray
    passed: np.ndarray
    docked_openings: np.ndarray
    docked_stays: np.ndarray
    docked_passed: np.ndarray
    too_late: np.ndarray
    too_late_passed: np.ndarray


def orders_of(
    fleet: Fleet, found: Estimate, world: World, rng: np.random.Generator
) -> list[tuple[float, ...]]:
    """The order of every period."""
    seed = int(rng.integers(2**32))
    ours, *cut = drawn_needs(fleet, found, world, seed, LISTS)
    (told,) = drawn_needs(fleet, told_the_truth(found, fleet), world, seed, LISTS[:1])
    true = needed(world, fleet.hours_to_limit_kh[fleet.current][None], world.z[None])
    rows = []
    for review in REVIEW_DAYS:
        years = (DAYS_TO_COME + review) / 365.25
        counts, n = count_within(ours, years), int(count_within(true, years)[0])
        below, at_or_below = (counts < n).mean(), (counts <= n).mean()
        rows.append(
            (
                n,
                enough(counts, SERVICE),
                enough(count_within(told, years), SERVICE),
                two_points_due(fleet, world, years),
                len(fleet.current),
                float(pit(np.array([below]), np.array([at_or_below]), rng)[0]),
                *(enough(count_within(one, years), SERVICE) for one in cut),
            )
        )
    return rows


def steps(world: World, e: int, nodes: np.ndarray, serving: HoursToLimit, fresh: HoursToLimit) -> np.ndarray:
    """Chances from node to node of the places of one engine, array (places, w + 1, w + 2)."""
    mine = world.engine == e
    n = len(nodes)
    made = np.full((int(mine.sum()), n, n + 1), np.nan)
    use = world.of_shells()
    shells = len(world.engine)
    made[:, 0, 1:] = probability_within(serving, np.tile(nodes, (shells, 1)), *use)[mine]
    for start in range(1, n):
        between = np.tile(nodes[start:] - nodes[start - 1], (shells, 1))
        made[:, start, start + 1 :] = probability_within(fresh, between, *use)[mine]
    return made


def new_hours(fleet: Fleet, rng: np.random.Generator, rate: np.ndarray) -> np.ndarray:
    """True hours to the limit of new shells at places that wear at given rates [kh]."""
    r, s = fleet.readings, fleet.sigma
    rate = np.maximum(rate + np.sqrt(2.0) * s["shell_rate"] * rng.standard_normal(len(rate)), 0.02)
    grid = np.arange(1, 481) * 0.25
    path = np.cumsum(s["uneven_wear"] * 0.5 * rng.standard_normal((len(rate), len(grid))), axis=1)
    wall = PLAN.new_wall_sd_um * rng.standard_normal((len(rate), 1))
    worn = wall + rate[:, None] * grid + fleet.coefficients["running_in"] * -np.expm1(-grid) + path
    over = worn >= r.series_limit_um[fleet.current][0]
    return np.where(over.any(1), grid[over.argmax(1)], np.inf)


def years_run(world: World, e: int, hours_kh: np.ndarray) -> np.ndarray:
    """Years in which an engine truly runs given hours."""
    use = (np.full(len(hours_kh), part[e]) for part in world.use)
    return years_until(hours_kh[None], *use, np.full((1, len(hours_kh)), world.z[e]))[0]


def stays_of(
    fleet: Fleet, world: World, e: int, nodes: np.ndarray, opened: np.ndarray, rng: np.random.Generator
) -> list[tuple[bool, bool]]:
    """For every stay of every place of an engine: the first one or not, and whether the limit was passed in it."""
    mine = np.flatnonzero(world.engine == e)
    first = years_run(world, e, fleet.hours_to_limit_kh[fleet.current[mine]])
    found = []
    for k, row in enumerate(opened):
        ends = [*nodes[:-1][row], nodes[-1]]
        found.append((True, bool(first[k] < ends[0])))
        rate = fleet.rate_um_per_kh[fleet.current[mine[k]]]
        later = years_run(world, e, new_hours(fleet, rng, np.full(len(ends) - 1, rate)))
        found += [(False, bool(life < b - a)) for life, a, b in zip(later, ends[:-1], ends[1:], strict=True)]
    return found


def plan_of(fleet: Fleet, found: Estimate, world: World, rng: np.random.Generator) -> tuple[float, ...]:
    """Openings, stays and limits passed over the horizon, ours and at every docking."""
    serving = hours_to_limit(posterior(fleet.readings, found, fleet.current))
    wider, asked = with_new_shells(fleet.readings, fleet.current)
    fresh = hours_to_limit(posterior(wider, found, asked))
    total = np.zeros(8)
    for e, windows in enumerate(world.windows):
        nodes = np.r_[windows[windows < HORIZON_YEARS], HORIZON_YEARS]
        chance = steps(world, e, nodes, serving, fresh)
        kept = chance[:, 0, 1] <= RISK
        made = fewest_openings(chance, RISK, np.full(len(nodes) - 1, np.inf))
        docking = np.tile(world.dockings[e][windows < HORIZON_YEARS], (len(chance), 1))
        for at, opened in ((0, made.opened), (3, docking)):
            stays = stays_of(fleet, world, e, nodes, opened, rng)
            own = [kept[k] for k, row in enumerate(opened) for _ in range(int(row.sum()) + 1)]
            counted = [
                passed for (is_first, passed), ok in zip(stays, own, strict=True) if ok or not is_first
            ]
            total[at : at + 3] += opened.sum(), len(counted), sum(counted)
            if at == 0:
                late = [p for (is_first, p), ok in zip(stays, own, strict=True) if is_first and not ok]
                total[6:] += len(late), sum(late)
    return tuple(total)


def run(
    n_fleets: int, seed: int = SEED, first: int = 0, stays_too: bool = True
) -> tuple[Orders, Plans, float]:
    """Draw, decide and follow fleets; the third is CPU seconds a fleet."""
    priors = Priors()
    orders, plans = [], []
    start = time.process_time()
    for k in range(first, first + n_fleets):
        rng = np.random.default_rng([seed, k])
        fleet = draw_fleet(PLAN, priors, rng)
        world = draw_world(fleet, rng, stays_too)
        found = estimate(fleet.readings, priors)
        orders += orders_of(fleet, found, world, rng)
        plans.append(plan_of(fleet, found, world, rng))
    seconds = (time.process_time() - start) / n_fleets
    return Orders(*np.array(orders).T), Plans(*np.array(plans).T), seconds


def covers(true: np.ndarray, ordered: np.ndarray) -> float:
    """Share of orders that hold."""
    return float((ordered >= true).mean())


def added_for_cover(orders: Orders) -> int:
    """Shells to add to every order of the two-points rule for the cover of ours."""
    return next(
        k
        for k in range(100)
        if covers(orders.true, orders.two_points + k) >= covers(orders.true, orders.ours)
    )


def distance_from_uniform(u: np.ndarray) -> float:
    """Kolmogorov distance."""
    from scipy.stats import kstest

    return float(kstest(u, "uniform").statistic)


def table(orders: Orders, plans: Plans, seconds: float, seed: int = SEED) -> str:
    """The study's tables in Markdown."""
    n, added = len(plans.openings), added_for_cover(orders)
    rules = (
        ("joint draws, 95 %", orders.ours),
        ("the same, two windows listed", orders.two),
        ("the same, one window listed", orders.one),
        ("the same, no window listed", orders.none),
        ("the same, no window listed and no opening known", orders.nothing),
        ("the same, told the true standard deviations and all windows", orders.told),
        ("last two points, all due inside the period", orders.two_points),
        (f"the same and {added} more each time", orders.two_points + added),
        ("one set for every engine", orders.sets),
    )
    lines = [
        f"Decisions on {n} fleets; seed {seed}, {dt.date.today().isoformat()}; {seconds:.1f} s of CPU a fleet.",
        "",
        "| order | cover | shells bought | of these needed | over told the truth |",
        "|---|---|---|---|---|",
        *(
            f"| {name} | {100 * covers(orders.true, bought):.1f} % | {bought.mean():.2f} | {orders.true.mean():.2f} | "
            f"{100 * (bought.mean() / orders.told.mean() - 1):+.1f} % |"
            for name, bought in rules
        ),
        "",
        f"Kolmogorov distance of the randomised PIT of the need from uniform: {distance_from_uniform(orders.pit):.3f}; "
        f"bought over told the truth: {100 * (orders.ours.mean() / orders.told.mean() - 1):+.1f} %.",
        "",
        "| plan over five years, accepted risk 10 % | openings a fleet | stays past the limit |",
        "|---|---|---|",
        f"| fewest openings | {plans.openings.mean():.1f} | {100 * plans.passed.sum() / plans.stays.sum():.1f} % |",
        f"| every place at every docking | {plans.docked_openings.mean():.1f} | "
        f"{100 * plans.docked_passed.sum() / plans.docked_stays.sum():.1f} % |",
        "",
        f"Shells for which the first window comes too late for that risk, counted apart: {plans.too_late.mean():.1f} a "
        f"fleet, {100 * plans.too_late_passed.sum() / max(plans.too_late.sum(), 1):.0f} % past their limit before it "
        "is opened.",
    ]
    return "\n".join(lines)


def main() -> None:
    """Run the study and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=500)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--dockings-only", action="store_true", help="No port stays between the dockings.")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    text = table(*run(given.fleets, given.seed, stays_too=not given.dockings_only), given.seed)
    print(text)
    if given.out:
        given.out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
