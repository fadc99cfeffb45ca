"""What pages carry for what if: little, the same every time, and enough to read the forecast back from it."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from demo_results import demo_forecast, demo_ordered, demo_planned
from scipy.interpolate import CubicHermiteSpline
from scipy.stats import norm

from wearcast.decide.what_if import UseOf, WhatIf, changed_records
from wearcast.forecasting.run import Forecast, forecast
from wearcast.records.read import read
from wearcast.report.sheets import render
from wearcast.report.what_if import WhatIfSource
from wearcast.report.what_if_form import STAYS_ORDER, STAYS_ORDER_OF_ENGINE, what_if_view

RUN = dt.date(2026, 11, 1)
BYTES_A_ROW = 1100
NASTY = "</script><script>alert(1)</script>"


@pytest.fixture(scope="module")
def demo() -> WhatIfSource:
    return WhatIfSource(demo_forecast(), demo_planned(), demo_ordered())


def read_back(payload: dict[str, Any], carried: list[Any]) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and values of a carried curve: hours [kh] and the chance within them."""
    first, shared, *own = carried
    unit = 1e-5 if own else 1e-4
    hours = [payload["grid_h"][first + k] / 1000 for k in range(len(shared))]
    nodes = dict(zip(hours, (z * unit for z in shared), strict=True))
    nodes |= {h / 1000: z * 1e-5 for h, z, *_ in (own[0] if own else [])}
    ordered = sorted(nodes)
    return np.array(ordered), norm.cdf([nodes[h] for h in ordered])


def test_a_row_costs_about_a_thousand_bytes(demo: WhatIfSource) -> None:
    payload = demo.payload()
    text = json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    assert len(payload["rows"]) == len(demo.forecast.table)
    assert len(text.encode()) / len(payload["rows"]) < BYTES_A_ROW


def test_the_same_forecast_carries_the_same(demo: WhatIfSource) -> None:
    again = WhatIfSource(demo.forecast, demo.plan, demo.order)
    assert json.dumps(again.payload()) == json.dumps(demo.payload())


def test_hours_of_the_table_can_be_read_back(demo: WhatIfSource) -> None:
    """By a cubic of SciPy on log(hours) and Φ⁻¹(chance) through the carried nodes."""
    payload, checked = demo.payload(), 0
    for row in payload["rows"]:
        values = demo.forecast.table.iloc[row["row"]]
        if "hours" not in row:
            assert np.isnan(values["hours_to_limit_p10"])
            continue
        for h, z, *_ in row["hours"][2]:
            for q in (5, 10, 25, 50, 75, 90, 95):
                told = values[f"hours_to_limit_p{q:02d}"]
                if abs(z * 1e-5 - norm.ppf(q / 100)) < 1e-4:
                    assert h == pytest.approx(told, rel=1e-3, abs=1.0)
                    checked += 1
    assert checked > 6 * len(payload["rows"]) / 2


def test_between_its_nodes_a_curve_goes_on_as_the_forecast_has_it(demo: WhatIfSource) -> None:
    payload = demo.payload()
    numbers = {row["row"]: row for row in payload["rows"]}
    by_life = {row.life: k for k, row in enumerate(demo.forecast.rows)}
    worst = 0.0
    for outlook in demo.forecast.classes:
        hours = outlook.hours
        at = np.geomspace(1.0, 150.0, 40)
        exact = hours.probability_before(np.broadcast_to(at, (len(outlook.lives), 40)))
        for k, life in enumerate(outlook.lives.tolist()):
            carried = numbers[by_life[life]].get("hours")
            if carried is None:
                continue
            first, shared, own = carried
            nodes = {payload["grid_h"][first + j] / 1000: (z * 1e-5, None) for j, z in enumerate(shared)}
            nodes |= {h / 1000: (z * 1e-5, [s * 1e-3 for s in slopes]) for h, z, *slopes in own}
            h = np.array(sorted(node for node in nodes if node > 0))
            z = np.array([nodes[node][0] for node in h])
            inner = (at > h[1]) & (at < h[-1]) & (exact[k] > 1e-5) & (exact[k] < 1 - 1e-5)
            slope = np.gradient(z, np.log(h))  # another rule for the slopes: near, not the same
            near = norm.cdf(CubicHermiteSpline(np.log(h), z, slope)(np.log(at[inner])))
            worst = max(worst, float(np.abs(near - exact[k][inner]).max(initial=0.0)))
    assert worst < 0.01


def test_level_rate_and_their_covariance_stand_beside(demo: WhatIfSource) -> None:
    rows = [row for row in demo.payload()["rows"] if "level_um" in row]
    assert len(rows) > 100
    for row in rows:
        values = demo.forecast.table.iloc[row["row"]]
        variance, between, of_rate = row["covariance"]
        assert np.sqrt(variance) == pytest.approx(values["estimate_u_um"], rel=1e-4)
        assert abs(between) <= np.sqrt(variance * of_rate)
        assert row["uneven_um2_per_kh"] >= 0


def test_facts_are_those_behind_the_statements(demo: WhatIfSource) -> None:
    damaged, unread = 0, 0
    for row in demo.payload()["rows"]:
        values = demo.forecast.table.iloc[row["row"]]
        told = {values["statement"], *values["reasons"].replace("also: ", "").split("; ")}
        assert bool(row.get("damage")) == ("damage noted" in told)
        damaged += bool(row.get("damage"))
        if "level_um" in row:
            under = {values["rests_on"], *told}
            assert ("few own readings" in under, "sisters alone" in under) == (
                row["openings"] == 1,
                row["openings"] == 0,
            )
            unread += row["openings"] < 2
    assert damaged >= 1
    assert unread >= 1


WALLS = [
    {
        "position": str(position), "half": half, "date": f"{2012 + age // 5000}-01-15", "counter_h": str(age),
        "value": f"{7.9925 - age / 1e6 + 0.0001 * (age // 5000 % 2):.4f}",
    }
    for position in (1, 2) for half in ("lower", "upper") for age in (10_000, 20_000, 30_000, 40_000)
]  # fmt: skip
CLEARANCE_LIMIT = {
    "half": "", "quantity": "clearance", "new_min": "0.220", "new_max": "0.250", "limit": "0.330", "limit_side": "max",
}  # fmt: skip


def disagreeing(made: Forecast) -> set[tuple[str, str]]:
    """Positions and quantities whose rows carry that their readings disagree whatever the dates."""
    rows = [row for row in WhatIfSource(made).payload()["rows"] if row.get("disagree")]
    values = [made.table.iloc[row["row"]] for row in rows]
    assert all(one["rests_on"] == "readings disagree" for one in values)
    return {(one["position"], one["quantity"]) for one in values}


@pytest.mark.parametrize(("off_mm", "where"), [(0.0, set()), (0.12, {("1", "wall"), ("1", "clearance")})])
def test_walls_and_clearance_that_disagree_are_carried_at_their_place_alone(
    record_folder, off_mm, where
) -> None:
    """c = H - d - t_upper - t_lower with H - d fixed; the last clearance of position 1 stands off."""
    clearance = [
        {
            **row, "half": "", "quantity": "clearance",
            "value": f"{0.235 + 2 * (7.9925 - float(row['value'])) + off_mm * (k == 3):.3f}",
        }
        for k, row in enumerate(row for row in WALLS if row["half"] == "lower")
    ]  # fmt: skip
    folder = record_folder(
        readings=WALLS + clearance, limits=[{}, {"half": "upper"}, CLEARANCE_LIMIT], windows=[{}]
    )
    assert disagreeing(forecast(read(folder, run_date=RUN))) == where


def test_a_shell_whose_event_was_lost_is_carried_as_one_whose_readings_disagree(record_folder) -> None:
    lost = {"position": "2", "event": "renewal", "date": "15/02/20", "counter_h": "30000"}
    folder = record_folder(
        readings=[row for row in WALLS if row["half"] == "lower"], events=[lost], windows=[{}]
    )
    made = forecast(read(folder, run_date=RUN), leave_out_faulty=True)
    assert disagreeing(made) == {("2", "wall")}


def test_a_sheet_of_one_engine_carries_its_own_rows_alone(demo: WhatIfSource) -> None:
    key = ("Merrow Dain", "ME")
    payload = demo.payload([key])
    assert {demo.forecast.rows[row["row"]].vessel for row in payload["rows"]} == {"Merrow Dain"}
    assert {row["engine"] for row in payload["rows"]} == {0}
    assert all("needs" not in line for line in payload["order"]["lines"])
    assert STAYS_ORDER_OF_ENGINE in what_if_view(demo, [key]).stays
    assert STAYS_ORDER in what_if_view(demo).stays


def test_without_decisions_only_dates_and_statements_are_spoken_of(demo: WhatIfSource) -> None:
    view = what_if_view(WhatIfSource(demo.forecast))
    assert not {"plan", "order"} & set(view.payload)
    assert "openings" not in view.intro
    names = [field.name for group in view.groups for field in group.fields]
    assert not any(name == "risk" or name.startswith("lead") for name in names)


def test_every_engine_window_and_part_has_a_labelled_field(demo: WhatIfSource) -> None:
    view = what_if_view(demo)
    fields = {field.name: field for group in view.groups for field in group.fields}
    assert sum(name.startswith("use") for name in fields) == len(demo.forecast.history.engines)
    assert sum(name.startswith("window") for name in fields) == len(demo.forecast.history.records.windows)
    assert fields["use-2"].value == "6100"
    assert fields["window-0"].value == "2027-03-15"
    assert fields["risk"].value == "0.1"
    assert {field.value for name, field in fields.items() if name.startswith("lead")} == {"98", "182"}
    assert all(field.label for field in fields.values())


def test_names_from_users_are_escaped_in_form_and_payload(fleet: Forecast) -> None:
    made = render(fleet, "0.0.0+test", what_if=WhatIfSource(fleet))
    for page in made.values():
        assert NASTY not in page
        assert "<em>yard" not in page
        data = re.search(r'<script type="application/json" id="what-if-data">(.*?)</script>', page, re.S)
        assert data
        assert "<" not in data[1]
        assert len(json.loads(data[1])["engines"]) >= 1
    assert "&lt;em&gt;yard" in made["alder-1.html"]


def test_an_engine_of_unknown_use_has_an_empty_field_and_takes_a_share_for_its_spread(
    fleet: Forecast,
) -> None:
    source = WhatIfSource(fleet)
    engine = next(one for one in source.payload()["engines"] if one["vessel"] == NASTY)
    assert engine["hours_per_year"] is None
    assert engine["sd_share"] == 0.10
    field = next(
        field for group in what_if_view(source).groups if group.title == NASTY for field in group.fields
    )
    assert field.value == ""


@pytest.mark.parametrize(
    ("given", "hours"),
    [({"hours_per_year_sd": "400"}, 5600.0), ({}, 5600.0), ({"hours_per_year": ""}, 4000.0)],
)
def test_the_spread_follows_another_use_as_it_would_in_the_records(
    given: dict[str, str], hours: float, tmp_path: Path, write_folder: Callable[..., Path]
) -> None:
    counter = [{"date": f"{2016 + k}-05-17", "counter_h": str(5000 * k + 300 * (k % 2))} for k in range(3, 9)]
    folder = write_folder(tmp_path / "records", readings=counter, engines=[given])
    records = read(folder, run_date=dt.date(2026, 1, 1))
    carried = WhatIfSource(forecast(records)).payload()["engines"][0]
    changed = forecast(changed_records(records, WhatIf(hours_per_year=(UseOf("", hours),))))
    use = next(iter(changed.history.engines.values())).use
    spread = carried["sd_h"] if carried["sd_h"] is not None else carried["sd_share"] * hours
    assert spread == pytest.approx(use.sd_h, rel=1e-6)
    assert use.years == 1.0


def test_engines_of_a_vessel_share_its_window(tmp_path: Path, write_folder: Callable[..., Path]) -> None:
    folder = write_folder(
        tmp_path / "records",
        readings=[{}, {"engine": "2"}],
        engines=[{}, {"engine": "2"}],
        windows=[{"engine": ""}, {"engine": "2", "date": "2028-01-01", "name": "yard"}],
    )
    view = what_if_view(WhatIfSource(forecast(read(folder, run_date=dt.date(2026, 1, 1)))))
    assert [window["engines"] for window in view.payload["windows"]] == [[0, 1], [1]]
    assert [field.label for field in view.groups[0].fields] == [
        "1 hours per year",
        "2 hours per year",
        "docking",
        "2 yard",
    ]


def test_nothing_is_carried_of_a_shell_whose_history_is_incomplete(demo: WhatIfSource) -> None:
    """A row without a curve has no dates in the page, whatever is typed in."""
    source = WhatIfSource(demo.forecast)
    row = next(row for row in demo.forecast.rows if row.governing >= 0)
    life = demo.forecast.history.lives[row.life]
    fault = replace(
        demo.forecast.queries[0], table="events", vessel=life.place.vessel, engine=life.place.engine,
        bearing=life.place.bearing, position=life.place.position, half=life.place.half,
    )  # fmt: skip
    source.forecast = replace(demo.forecast, history=replace(demo.forecast.history, left_out=(fault,)))
    number = demo.forecast.rows.index(row)
    assert "hours" not in source.payload()["rows"][number]
    assert "hours" in demo.payload()["rows"][number]
