"""How many planted slips are found, and how many clean openings raise a query.

    python tests/studies/planted_slips.py --fleets 4 --out table.md
    python tests/studies/planted_slips.py --whole        # with the doubts of the fitted model as well

Every engine of a seeded invented fleet (see invented_fleets.py) gets one slip of one kind at rows that are written
down. A slip counts as found where queries or refusals of its kind name at least a quarter of these rows (an opening is
asked about quantity by quantity). `reachable` are the slips that the readings can tell at all, by the rule beside
each kind; the other column is all of them. Clean fleets are run as they are: every query there is false.
"""

from __future__ import annotations

import argparse
import datetime as dt
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from invented_fleets import MAINS, Fleet, Gauge, Row, clean_fleet

from wearcast.doubts.doubt import doubt
from wearcast.lives.build import build
from wearcast.queries import Query
from wearcast.records.read import read

SEED = 20261125
ENGINES, OPENINGS = 25, 8
READING_VAR = 6.0**2 + 3.0**2
"""Variance of a wall reading, its opening's common error included [µm²]."""

FINE_GAUGE = Gauge(wall_um=3.0, opening_um=1.5, clearance_um=8.0, stated_u="3")
"""A digital ball micrometer in good hands: 20 µm are then four uncertainties of a difference."""


@dataclass(frozen=True)
class Planted:
    """Rows that a slip was planted in, and whether the readings can tell it."""

    rows: list[Row]
    reachable: bool = True
    table: str = "readings"


Plant = Callable[[Fleet, str, np.random.Generator], Planted | None]


def _days(fleet: Fleet, vessel: str) -> list[str]:
    return [day for name, day in fleet.openings if name == vessel]


def _read(fleet: Fleet, vessel: str, day: str, **where: str) -> list[Row]:
    return [fleet.readings[k] for k in fleet.rows_of(vessel, day, **where)]


def _one(rows: list[Row], rng: np.random.Generator) -> Row:
    return rows[int(rng.integers(len(rows)))]


def _unit_slip(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    quantity = str(rng.choice(["wall", "clearance", "axial_clearance"]))
    rows = [row for row in fleet.readings if row["vessel"] == vessel and row["quantity"] == quantity]
    row = _one(rows, rng)
    match int(rng.integers(4)):
        case 0:
            row["value"] = f"{float(row['value']) * 1000:.0f}"
        case 1:
            row["value"] = f"{float(row['value']) / 25.4:.4f}"
        case 2:
            row["unit"] = "in"
        case _:
            row["unit"] = "um"
    return Planted([row])


def _decimal_slip(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    quantity = str(rng.choice(["wall", "clearance", "axial_clearance"]))
    rows = [row for row in fleet.readings if row["vessel"] == vessel and row["quantity"] == quantity]
    row = _one(rows, rng)
    row["value"] = f"{float(row['value']) * float(rng.choice([10, 0.1])):.4f}"
    return Planted([row])


def _duplicate(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    row = _one([row for row in fleet.readings if row["vessel"] == vessel], rng)
    again = dict(row)
    if rng.random() < 0.5:
        again["value"] = f"{float(row['value']) + 0.03:.3f}"
    fleet.readings.append(again)
    return Planted([row, again])


def _gauge_disagreement(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """A flat anvil beside the ball: every wall once more, 48 µm thicker."""
    day = str(rng.choice(_days(fleet, vessel)))
    rows = _read(fleet, vessel, day, quantity="wall", state="as_found")
    again = [
        row
        | {"instrument": "flat anvil", "value": f"{float(row['value']) + 0.048 + rng.normal(0, 0.006):.3f}"}
        for row in rows
    ]
    fleet.readings += again
    return Planted(again)


def _repeated_set(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted | None:
    """Walls and clearances of one opening copied from an earlier one, at least four places."""
    days = _days(fleet, vessel)
    later = int(rng.integers(1, len(days)))
    earlier = int(rng.integers(later))
    names = ("position", "half", "quantity", "state")
    source = {tuple(row[n] for n in names): row["value"] for row in _read(fleet, vessel, days[earlier])}
    copied = [
        row
        for row in _read(fleet, vessel, days[later], state="as_found")
        if row["quantity"] in ("wall", "clearance") and tuple(row[n] for n in names) in source
    ]
    if len({row["position"] for row in copied}) < 4:
        return None
    for row in copied:
        row["value"] = source[tuple(row[n] for n in names)]
    return Planted(copied)


def _date_mismatch(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """Half the places of an opening dated three days later under the same dial."""
    day = str(rng.choice(_days(fleet, vessel)))
    rows = _read(fleet, vessel, day, bearing="main")
    places = sorted({row["position"] for row in rows})
    moved = [row for row in rows if row["position"] in places[len(places) // 2 :]]
    later = (dt.date.fromisoformat(day) + dt.timedelta(days=3)).isoformat()
    for row in moved:
        row["date"] = later
    for event in fleet.events:
        if (event["vessel"], event["date"]) == (vessel, day) and event["position"] in places[
            len(places) // 2 :
        ]:
            event["date"] = later
    return Planted(moved)


def _half_swap(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """Every place of an opening; reachable where Σ (difference of the halves)²·2/var reaches 24."""
    day = str(rng.choice(_days(fleet, vessel)[1:]))
    rows = _read(fleet, vessel, day, quantity="wall", state="as_found")
    by_place = {(row["position"], row["half"]): float(row["value"]) for row in rows}
    apart = [1000 * (by_place[p, "upper"] - by_place[p, "lower"]) for p, half in by_place if half == "upper"]
    for row in rows:
        row["half"] = "lower" if row["half"] == "upper" else "upper"
    return Planted(rows, sum(2 * d**2 / (2 * READING_VAR) for d in apart) >= 24)


def _mean_var(before: list[Row], after: list[Row], other_um: float) -> float:
    """Variance of the difference of two means [µm²]: readings, rounding, `other_um` a reading, 5 µm uneven wear."""
    u_um = float(before[0]["u_um"] or 6.0) if other_um < 10 else 6.0
    step_um = 10.0 if len(before[0]["value"].split(".")[1]) == 2 else 1.0
    one = u_um**2 + step_um**2 / 12 + other_um**2
    return one * (1 / len(before) + 1 / len(after)) + 25.0


def _unrecorded_renewal(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted | None:
    """A renewal left out of the events with the readings of the new shell, the wall read 20 µm thicker or more.

    Reachable: the means before and after differ by 4 + 1.65 standard uncertainties, the clearance helping.
    """
    mine = [event for event in fleet.events if event["vessel"] == vessel]
    rng.shuffle(mine)
    for event in mine:
        where = {"position": event["position"], "half": event["half"]}
        days = _days(fleet, vessel)
        fitted = [e["date"] for e in mine if all(e[name] == value for name, value in where.items())]
        begun = max((day for day in fitted if day < event["date"]), default="")
        ended = min((day for day in fitted if day > event["date"]), default="9999")
        walls = [
            row
            for day in days
            if begun < day <= ended
            for row in _read(fleet, vessel, day, quantity="wall", state="as_found", **where)
        ]
        before = [row for row in walls if row["date"] <= event["date"]]
        after = [row for row in walls if row["date"] > event["date"]]
        if not before or not after:
            continue
        growth_um = 1000 * (float(after[0]["value"]) - float(before[-1]["value"]))
        if growth_um < 20.0:
            continue
        left = {
            id(row) for row in _read(fleet, vessel, event["date"], quantity="wall", state="as_left", **where)
        }
        fleet.readings = [row for row in fleet.readings if id(row) not in left]
        fleet.events = [row for row in fleet.events if row is not event]
        in_u = growth_um * (1 / _mean_var(before, after, 3.0) + 1 / _mean_var(before, after, 13.0)) ** 0.5
        return Planted([after[0]], in_u >= 5.65)
    return None


def _dial_fault(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """One row's dial with a digit dropped, doubled or two exchanged."""
    row = _one([row for row in fleet.readings if row["vessel"] == vessel], rng)
    digits = str(row["counter_h"])
    k = int(rng.integers(len(digits) - 1))
    wrong = [
        digits[:k] + digits[k + 1 :],
        digits[:k] + digits[k] + digits[k:],
        digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :],
    ]
    row["counter_h"] = wrong[int(rng.integers(3))]
    return Planted([row], abs(int(row["counter_h"]) - int(digits)) > 24)


def _unknown_engine(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    row = _one([row for row in fleet.readings if row["vessel"] == vessel], rng)
    row["vessel"] = vessel.replace("Invented", "Invneted")
    return Planted([row])


def _clearance(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """One clearance 150 µm too large."""
    row = _one(
        [row for row in fleet.readings if row["vessel"] == vessel and row["quantity"] == "clearance"], rng
    )
    row["value"] = f"{float(row['value']) + 0.150:.3f}"
    return Planted([row])


def _journal(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted | None:
    """A journal that measures half a millimetre less than its shells are for.

    Where shells are put in after it, that is refused as journal_size; here are those where none are.
    """
    fitted = [(event["position"], event["date"]) for event in fleet.events if event["vessel"] == vessel]
    rows = [
        row
        for row in fleet.readings
        if row["vessel"] == vessel
        and row["quantity"] == "journal_diameter"
        and not any(position == row["position"] and on >= row["date"] for position, on in fitted)
    ]
    if not rows:
        return None
    one = _one(rows, rng)
    both = [row for row in rows if (row["date"], row["position"]) == (one["date"], one["position"])]
    for row in both:
        row["value"] = f"{float(row['value']) - 0.5:.3f}"
    return Planted(both)


def _closure(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted | None:
    """A web gauge that slipped by 0.04 mm on the way round."""
    rows = [row for row in fleet.readings if row["vessel"] == vessel and row["point"] == "bottom_s"]
    if not rows:
        return None
    row = _one(rows, rng)
    row["value"] = f"{float(row['value']) + 0.04:.3f}"
    return Planted([row])


def _axial(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    row = _one([row for row in fleet.readings if row["vessel"] == vessel and row["bearing"] == "thrust"], rng)
    row["value"] = f"{rng.uniform(0.15, 0.245):.3f}"
    return Planted([row])


def _end_swap(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted | None:
    """Position i becomes 8 - i; reachable with four places and Σ (wall - wall there)²/var of at least 24.

    var is taken as two and a half times that of a reading, for what the other openings expect is uncertain too.
    """
    renewed = {event["date"] for event in fleet.events if event["vessel"] == vessel}
    days = [day for day in _days(fleet, vessel)[1:] if day not in renewed]
    if not days:
        return None
    day = str(rng.choice(days))
    rows = _read(fleet, vessel, day, bearing="main")
    walls = {(r["position"], r["half"]): float(r["value"]) for r in rows if r["quantity"] == "wall"}
    places = {position for position, _ in walls}
    for row in rows:
        row["position"] = MAINS[0] + MAINS[-1] - row["position"]
    apart = [1000 * (mm - walls[8 - p, half]) for (p, half), mm in walls.items() if (8 - p, half) in walls]
    reachable = len(places) >= 4 and sum(d**2 / (2.5 * READING_VAR) for d in apart) >= 24
    return Planted(rows, reachable)


def _opening_error(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """A flat anvil: all walls of an opening 48 µm thicker."""
    day = str(rng.choice(_days(fleet, vessel)))
    rows = _read(fleet, vessel, day, quantity="wall")
    for row in rows:
        row["value"] = f"{float(row['value']) + 0.048:.3f}"
    return Planted(rows)


def _outlier(fleet: Fleet, vessel: str, rng: np.random.Generator) -> Planted:
    """One wall 60 µm off, either way."""
    row = _one([row for row in fleet.readings if row["vessel"] == vessel and row["quantity"] == "wall"], rng)
    row["value"] = f"{float(row['value']) + float(rng.choice([-0.06, 0.06])):.3f}"
    return Planted([row])


DIAL = ("counter_fall", "hours_per_day")
PLANTS: dict[str, tuple[tuple[str, ...], Plant]] = {
    "unit slip": (("unit_slip",), _unit_slip),
    "decimal slip": (("decimal_slip", "unit_slip", "outlier"), _decimal_slip),
    "duplicate row": (("duplicate",), _duplicate),
    "two gauges": (("gauge_disagreement",), _gauge_disagreement),
    "repeated set": (("repeated_set",), _repeated_set),
    "two dates": (("date_mismatch",), _date_mismatch),
    "halves swapped": (("half_swap",), _half_swap),
    "renewal left out, wall 20 µm thicker or more": (("unrecorded_renewal",), _unrecorded_renewal),
    "dial": (DIAL, _dial_fault),
    "unknown vessel": (("unknown_engine",), _unknown_engine),
    "clearance 150 µm off": (("walls_clearance",), _clearance),
    "journal of another size": (("journal_query",), _journal),
    "deflection does not close": (("deflection_closure",), _closure),
    "axial clearance under its minimum": (("axial_minimum",), _axial),
}
"""Slips found without a fitted model: what they are called, the kinds that name them, and how they are planted."""

PLANTS_OF_MODEL: dict[str, tuple[tuple[str, ...], Plant]] = {
    "end swap": (("end_swap",), _end_swap),
    "opening error (flat anvil, 48 µm)": (("opening_error", "walls_clearance"), _opening_error),
    "outlier of 60 µm": (("outlier", "unrecorded_renewal"), _outlier),
}
"""Slips that the pooled model finds; planted with --whole."""


def queries_without_model(folder: Path) -> tuple[Query, ...]:
    """Refusals and the doubts that need no fitted model."""
    history = build(read(folder, run_date=dt.date(2100, 1, 1)), leave_out_faulty=True)
    return (*history.left_out, *doubt(history).queries)


def all_queries(folder: Path) -> tuple[Query, ...]:
    """What `wearcast check` lists."""
    from wearcast.forecasting.check import check

    return check(read(folder, run_date=dt.date(2100, 1, 1)))


Look = Callable[[Path], tuple[Query, ...]]


@dataclass
class Score:
    """Planted, reachable, found of each; queries about other rows, and other kinds about the same rows."""

    planted: int = 0
    reachable: int = 0
    found: int = 0
    found_reachable: int = 0
    elsewhere: int = 0
    others: Counter[str] | None = None


def plant_and_look(
    kinds: tuple[str, ...],
    plant: Plant,
    seed: int,
    look: Look = queries_without_model,
    engines: int = ENGINES,
    gauge: Gauge | None = None,
) -> Score:
    """One fleet with one slip in every engine."""
    rng = np.random.default_rng(seed)
    fleet = clean_fleet(rng, engines, OPENINGS, gauge)
    planted = {row["vessel"]: plant(fleet, row["vessel"], rng) for row in fleet.engines}
    with tempfile.TemporaryDirectory() as folder:
        queries = look(fleet.write(Path(folder) / "fleet"))
    number = {id(row): k + 2 for k, row in enumerate(fleet.readings)}
    every = {number[id(row)] for slip in planted.values() if slip is not None for row in slip.rows}
    score = Score(others=Counter(), elsewhere=sum(not every & set(query.rows) for query in queries))
    for slip in planted.values():
        if slip is None:
            continue
        rows = {number[id(row)] for row in slip.rows}
        named = {row for q in queries if q.kind in kinds for row in q.rows} & rows
        hit = bool(named) and 4 * len(named) >= len(rows)
        score.planted += 1
        score.reachable += slip.reachable
        score.found += hit
        score.found_reachable += hit and slip.reachable
        score.others.update(q.kind for q in queries if q.kind not in kinds and rows & set(q.rows))
    return score


def clean_openings_with_queries(
    seed: int, engines: int, look: Look = queries_without_model
) -> tuple[int, int, Counter[str]]:
    """Openings of a clean fleet, how many of them raise any query, and which."""
    fleet = clean_fleet(np.random.default_rng(seed), engines, 10)
    with tempfile.TemporaryDirectory() as folder:
        queries = look(fleet.write(Path(folder) / "fleet"))
    openings = {
        (fleet.readings[row - 2]["vessel"], fleet.readings[row - 2]["date"])
        for query in queries
        for row in query.rows[:1]
    }
    return len(fleet.openings), len(openings), Counter(query.kind for query in queries)


def _share(part: int, whole: int) -> str:
    return f"{part}/{whole} ({100 * part / whole:.1f} %)" if whole else "none"


def table(
    fleets: int,
    look: Look,
    plants: Iterable[tuple[str, tuple[tuple[str, ...], Plant]]],
    gauge: Gauge | None = None,
) -> list[str]:
    """The table in Markdown."""
    lines = [
        "| planted | found, reachable | found, all | also said of these rows | queries about other rows |",
        "|---|---|---|---|---|",
    ]
    for name, (kinds, plant) in plants:
        total, others = Score(), Counter[str]()
        for k in range(fleets):
            score = plant_and_look(kinds, plant, SEED + k, look, gauge=gauge)
            for field in ("planted", "reachable", "found", "found_reachable", "elsewhere"):
                setattr(total, field, getattr(total, field) + getattr(score, field))
            others.update(score.others or {})
        said = ", ".join(f"{kind} {n}" for kind, n in others.most_common()) or "nothing"
        found = f"{_share(total.found_reachable, total.reachable)} | {_share(total.found, total.planted)}"
        lines.append(f"| {name} | {found} | {said} | {total.elsewhere} |")
        print(lines[-1], flush=True)
    return lines


def main() -> None:
    """Print the tables; write them where asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--fleets", type=int, default=4, help=f"fleets of {ENGINES} engines a kind")
    parser.add_argument(
        "--clean", type=int, default=3, help="clean fleets of 100 engines, 1000 openings each"
    )
    parser.add_argument("--kinds", nargs="*", help="only the kinds whose name holds one of these words")
    parser.add_argument("--whole", action="store_true", help="with the doubts of the fitted model")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    look = all_queries if asked.whole else queries_without_model
    plants = {**PLANTS, **(PLANTS_OF_MODEL if asked.whole else {})}
    if asked.kinds:
        plants = {name: one for name, one in plants.items() if any(word in name for word in asked.kinds)}
    lines = [f"Planted slips, seed {SEED}, {dt.date.today().isoformat()}", ""]
    lines += table(asked.fleets, look, plants.items())
    fine = {name: one for name, one in plants.items() if "renewal" in name}
    if fine:
        lines += ["", "With a gauge of u = 3 µm:", ""]
        lines += table(asked.fleets, look, fine.items(), FINE_GAUGE)
    lines += ["", "| clean openings | with any query | kinds |", "|---|---|---|"]
    for k in range(asked.clean):
        openings, doubted, kinds = clean_openings_with_queries(SEED + k, 100, look)
        said = ", ".join(f"{kind} {n}" for kind, n in kinds.most_common()) or "none"
        lines.append(f"| {openings} | {_share(doubted, openings)} | {said} |")
        print(lines[-1], flush=True)
    if asked.out:
        asked.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
