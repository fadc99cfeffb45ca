"""Fleets as new users brought them, in names of our own: the sentence each must see, at 80 columns and whole."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wearcast.cli import show
from wearcast.cli.main import run

Rows = list[dict[str, Any]]
WINDOW = {"engine": "", "date": "2027-06-01"}
SPARES = {"on_hand": "1", "lead_time_days": "90", "unit_cost": "700", "currency": "EUR"}


def walls(places: list[str], openings: list[tuple[str, int]], rate: float, seed: int, **cells: Any) -> Rows:
    """Walls that wear by a rate [µm per 1000 h] of each place's own, read to 2 µm."""
    rng = np.random.default_rng(seed)
    inch, new = cells.get("unit") == "in", cells.pop("new", 7.9925)
    found = []
    for place in places:
        mine = rate * rng.uniform(0.85, 1.15)
        for on, hours in openings:
            value = new - mine * hours / 1e6 + rng.normal(0, 0.002)
            text = f"{value / 25.4:.5f}" if inch else f"{value:.3f}"
            found.append(cells | {"position": place, "date": on, "counter_h": str(hours), "value": text})
    return found


def openings(first: int, count: int, hours: int) -> list[tuple[str, int]]:
    return [(f"{first + 2 * k}-03-12", hours * (k + 1)) for k in range(count)]


def three_sisters() -> dict[str, Rows]:
    mains = [str(k) for k in range(1, 10)]
    ships = {"Harl Sound": 0.66, "Fenby Reach": 0.4, "Ossin Vale": 0.42}
    return {
        "engines": [{"vessel": ship, "engine": "ME", "mains": "9", "throws": "8"} for ship in ships],
        "readings": [
            row
            for k, (ship, rate) in enumerate(ships.items())
            for row in walls(mains, openings(2018, 4, 10_400), rate, k, vessel=ship, engine="ME")
        ],
        "windows": [WINDOW | {"vessel": "Harl Sound"}],
        "spares": [SPARES],
    }


def six_sets() -> dict[str, Rows]:
    sets = [(ship, f"DG{k}") for ship in ("Arden Trader", "Arden Merchant") for k in (1, 2, 3)]
    there = {"bearing": "big_end", "half": "upper"}
    return {
        "engines": [{"vessel": ship, "engine": name} for ship, name in sets],
        "limits": [there],
        "readings": [
            row
            for k, (ship, name) in enumerate(sets)
            for row in walls(list("123"), openings(2018, 4, 7_600), 1.2, k, vessel=ship, engine=name, **there)
        ],
        "windows": [WINDOW | {"vessel": "Arden Trader", "max_openings": "2"}],
        "spares": [SPARES | there],
    }


def vee_in_inches() -> dict[str, Rows]:
    there = {"bearing": "big_end", "half": "upper"}
    inches = {"unit": "in", "new_min": "0.31437", "new_max": "0.31496", "limit": "0.31299"}
    crank = [f"{bank}{k}" for k in (1, 2, 3) for bank in "AB"]
    return {
        "engines": [{"vessel": "Pell Strand"}],
        "limits": [there | inches],
        "readings": walls(crank, openings(2018, 4, 6_200), 1.0, 3, vessel="Pell Strand", unit="in", **there),
        "spares": [SPARES | there],
    }


def second_hand() -> dict[str, Rows]:
    readings = walls([str(k) for k in range(1, 8)], [("2025-11-10", 88_000)], 0.4, 9, vessel="Marl Point")
    return {"engines": [{"vessel": "Marl Point", "hours_per_year": ""}], "readings": readings}


def mixed_types() -> dict[str, Rows]:
    ships = (("Corrie Isle", "Birch Seven", 0.9, 7), ("Dunmore", "Larch Nine", 0.5, 9))
    damage = {"vessel": "Dunmore", "position": "4", "event": "finding", "finding": "bond failure",
              "date": "2025-12-10", "counter_h": "44000", "shell_size": ""}  # fmt: skip
    return {
        "engines": [{"vessel": ship, "engine_type": kind, "mains": str(n)} for ship, kind, _, n in ships],
        "limits": [{"engine_type": kind} for _, kind, _, _ in ships],
        "readings": [
            row
            for ship, _, rate, n in ships
            for row in walls(
                [str(k) for k in range(1, n + 1)], openings(2018, 4, 9_000), rate, n, vessel=ship
            )
        ],
        "windows": [WINDOW | {"vessel": "Dunmore"}],
        "events": [damage],
    }


SEEN = [
    (three_sisters, "compare", r"Harl Sound ME wears 1\.[4-7] × \(1\.\d-1\.\d\) its sisters over 9 places\."),
    (
        three_sisters,
        "compare",
        r"With these readings a difference under \d+ % at one place would not be named\.",
    ),
    (three_sisters, "brief", r"Engine out of line: Harl Sound ME wears 1\.[4-7] ×"),
    (six_sets, "compare", r"Arden Merchant DG3 wears \d\.\d × .* its sisters over 3 places"),
    (six_sets, "brief", r"Open next: Arden Merchant: no window is known\."),
    (six_sets, "plan", r"No window is listed: find a chance to open it:"),
    (six_sets, "plan", r"the openings allowed on 2027-06-01 are taken by others"),
    (six_sets, "order", r"\d+ for Arden Trader, the first by \d{4}-\d\d-\d\d \(big end"),
    (vee_in_inches, "forecast", r"Pell Strand 1 big end B3 upper wall"),
    (
        vee_in_inches,
        "order",
        r"Pell Strand 1: fewer than two windows are listed: from .* one every 24 months is counted",
    ),
    (second_hand, "forecast", r"limit may be passed, few own readings"),
    (second_hand, "forecast", r"not dated"),
    (second_hand, "plan", r"No yearly use is known, so there are no dates and no plan\."),
    (second_hand, "brief", r"perhaps past, with its chance: lower wall of main \d \("),
    (second_hand, "order", r"only what may be past its limit already is counted"),
    (
        mixed_types,
        "brief",
        r"^As of .* decide\. Damage noted: Dunmore 1 main 4, bond failure, found 2025-12-10\.",
    ),
    (
        mixed_types,
        "brief",
        r"Order today: \d Larch Nine main lower standard, for Dunmore\. Its lead time is not known\.",
    ),
    (mixed_types, "plan", r"Dunmore 1 The first window is 2027-06-01.*main 4 lower wall: damage noted"),
    (mixed_types, "forecast", r"Dunmore 1 main 4 lower wall damage noted"),
]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, write_folder: Any) -> Iterator[Callable[..., str]]:
    """``told(fleet, command)``: what is printed on 80 columns; every command of a fleet once."""
    printed: dict[tuple[str, str], str] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1767225600")  # 2026-01-01
        patch.setattr(show, "WIDTH", 80)

        def tell(fleet: Callable[[], dict[str, Rows]], command: str) -> str:
            key = fleet.__name__, command
            if key not in printed:
                folder = tmp_path_factory.mktemp(fleet.__name__) / "records"
                write_folder(folder, **fleet())
                printed[key] = _run(patch, folder, command)
            return printed[key]

        yield tell


def _run(patch: pytest.MonkeyPatch, folder: Path, command: str) -> str:
    import contextlib
    import io

    patch.setattr("sys.argv", ["wearcast", command, os.fspath(folder)])
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.suppress(SystemExit):
        run()
    return out.getvalue()


@pytest.mark.parametrize(
    ("fleet", "command", "sentence"), SEEN, ids=lambda one: getattr(one, "__name__", None)
)
def test_the_sentence_is_seen(told: Callable[..., str], fleet: Any, command: str, sentence: str) -> None:
    assert re.search(sentence, " ".join(told(fleet, command).split()))


@pytest.mark.parametrize(("fleet", "command"), dict.fromkeys((fleet, command) for fleet, command, _ in SEEN),
                         ids=lambda one: getattr(one, "__name__", None))  # fmt: skip
def test_nothing_is_cut_or_runs_over(told: Callable[..., str], fleet: Any, command: str) -> None:
    text = told(fleet, command)
    assert max(map(len, text.splitlines())) <= 80
    assert "…" not in text
    assert not re.search(r"\bp 0\.0+\b|\d um\b|nan|None", text)


def test_windows_typed_further_ahead_change_no_order(told: Callable[..., str], write_folder: Any) -> None:
    """Once every shell fell due at the last window that happened to be typed."""

    def with_more() -> dict[str, Rows]:
        more = [WINDOW | {"vessel": "Harl Sound", "date": f"{year}-06-01"} for year in (2029, 2031)]
        return three_sisters() | {"windows": [WINDOW | {"vessel": "Harl Sound"}, *more]}

    ordered = [
        re.search(r"order (\d+), order now", told(fleet, "order")) for fleet in (three_sisters, with_more)
    ]
    assert ordered[0] is not None
    assert ordered[1] is not None
    assert abs(int(ordered[0][1]) - int(ordered[1][1])) <= 1
