"""What was planted can be found again in what was written.

All values here are the demo's own inventions; nothing is checked against a published figure.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict

import pytest


def test_clearance_identity_holds_within_its_uncertainty(readings, truth):
    """c = H − d − t_upper − t_lower with nominal H, worn d, reground main and planted slips apart."""
    parts = defaultdict(dict)
    for row in readings:
        if row["sound"] and row["bearing"] == "main" and row["point"] in ("crown", ""):
            state = row["state"] or "as_found"
            place = (row["vessel"], row["date"], row["true_position"], state)
            parts[place][row["quantity"], row["half"]] = float(row["value"])
    total_h = {(x["vessel"], x["date"]): x["total_h"] for x in truth["openings"]}
    residual_um = [  # the journal is not nominal but worn, at the planted rate
        1000 * (236.220 - 220.000 - x["wall", "upper"] - x["wall", "lower"] - x["clearance", ""])
        + truth["journal_wear_um_per_kh"] * total_h[place[:2]] / 1000
        for place, x in parts.items()
        if {("wall", "upper"), ("wall", "lower"), ("clearance", "")} <= set(x) and x["wall", "lower"] < 8.1
    ]
    shared_um = math.hypot(2 * 3, 4)  # both walls by one gauge, and the clearance
    own_um = math.sqrt(11**2 + 2.9**2 + 2 * 6**2 + 2.5**2)  # 2.5: bore and journal about nominal
    n = len(residual_um)
    assert n > 120
    assert max(map(abs, residual_um)) < 3.5 * math.hypot(shared_um, own_um)
    mean_sd = math.hypot(own_um / math.sqrt(n), shared_um / math.sqrt(len({place[:2] for place in parts})))
    assert sum(residual_um) / n == pytest.approx(0, abs=3 * mean_sd)


def test_errors_of_sound_readings_are_as_planted(readings, truth):
    sd = {
        quantity: math.hypot(
            truth["errors"]["reading_sd_um"][quantity], truth["errors"]["opening_sd_um"][quantity]
        )
        for quantity in ("wall", "clearance", "axial_clearance")
    }
    for quantity, planted_um in sd.items():
        error_um = [
            1000 * (float(row["value"]) - row["true_mm"])
            for row in readings
            if row["quantity"] == quantity and row["sound"]
        ]
        n = len(error_um)
        openings = len({(row["vessel"], row["date"]) for row in readings if row["quantity"] == quantity})
        mean_sd = math.hypot(
            truth["errors"]["reading_sd_um"][quantity] / math.sqrt(n),
            truth["errors"]["opening_sd_um"][quantity] / math.sqrt(openings),
        )
        assert sum(error_um) / n == pytest.approx(0, abs=3 * mean_sd)
        assert math.sqrt(sum(e * e for e in error_um) / n) == pytest.approx(planted_um, rel=0.2)
        assert max(map(abs, error_um)) < 3.3 * math.hypot(planted_um, 2.9)


def test_planted_rates_are_recovered_on_average(readings, truth):
    """Mean of (last − first) / hours over all lives of the loaded halves with two readings far apart."""
    by_place = defaultdict(list)
    for row in readings:
        if row["quantity"] == "wall" and row["sound"] and row["point"] == "crown":
            by_place[row["vessel"], row["bearing"], row["true_position"], row["half"]].append(row)
    error = []
    for shell in truth["shells"]:
        here = [
            row
            for row in by_place[shell["vessel"], shell["bearing"], shell["position"], shell["half"]]
            if shell["fitted_h"] + 2000 < row["total_h"] <= (shell["removed_h"] or math.inf)
            and not (row["total_h"] == shell["removed_h"] and row["state"] == "as_left")
        ]
        if len(here) > 1 and (span := here[-1]["total_h"] - here[0]["total_h"]) > 15_000:
            rate = 1e6 * (float(here[0]["value"]) - float(here[-1]["value"])) / span
            error.append((rate - shell["rate_um_per_kh"]) * span / 1000 / (6.7 * math.sqrt(2)))
    assert len(error) > 40
    assert sum(error) / len(error) == pytest.approx(0, abs=4 / math.sqrt(len(error)))
    assert math.sqrt(sum(e * e for e in error) / len(error)) == pytest.approx(1, abs=0.3)


def test_loaded_shells_wear_as_the_demo_world_says(truth):
    rates = [
        shell["rate_um_per_kh"]
        for shell in truth["shells"]
        if (shell["bearing"], shell["half"]) in (("main", "lower"), ("big_end", "upper"))
        and shell["rate_um_per_kh"] != 2.9
    ]
    assert 0.55 < min(rates) < max(rates) < 1.35
    new = [
        s["new_wall_mm"] for s in truth["shells"] if s["bearing"] == "main" and s["shell_size"] == "standard"
    ]
    assert 7.985 <= min(new) < max(new) <= 8.000


def test_no_bearing_shows_the_same_set_twice(tables):
    sets = defaultdict(set)
    for row in tables["readings"]:
        if row["quantity"] in ("wall", "clearance"):
            opened = (row["vessel"], row["bearing"], row["position"], row["date"], row["state"] == "as_left")
            sets[opened].add((row["quantity"], row["half"], row["point"], row["value"]))
    seen = Counter((place[:3], frozenset(values)) for place, values in sets.items() if len(values) > 1)
    assert max(seen.values()) == 1


def test_no_shell_in_service_has_a_wall_at_its_limit(tables, truth):
    """Whatever was found at the limit was renewed there."""
    size = {
        (s["vessel"], s["bearing"], s["position"], s["half"]): s
        for s in truth["shells"]
        if s["removed_h"] is None
    }
    limit = {
        (x["bearing"], x["half"], x["shell_size"]): float(x["limit"])
        for x in tables["limits"]
        if x["overlay_um"]
    }
    for row in tables["readings"]:
        shell = size.get((row["vessel"], row["bearing"], row["position"], row["half"]))
        if row["quantity"] == "wall" and shell and row["date"] > shell["fitted_on"]:
            assert float(row["value"]) > limit[row["bearing"], row["half"], shell["shell_size"]]
