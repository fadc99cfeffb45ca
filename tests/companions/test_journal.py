"""Journal: shape, size, temperature and wear; the line is the one certified elsewhere, asked through this door."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from wearcast.companions.journal import journal_trends, journals_at_openings, nearest_size, shape_of
from wearcast.lives.temperature import at_20_c

REFERENCE = Path(__file__).parents[1] / "reference_data"


def all_of(history):
    return np.ones(len(history.readings), dtype=bool)


def journal(date: str, hours: int, **points: str) -> list[dict[str, str]]:
    return [
        {"quantity": "journal_diameter", "half": "", "date": date, "counter_h": str(hours), "point": point,
         "value": value, "state": "as_found"}
        for point, value in points.items()
    ]  # fmt: skip


def test_steel_at_20_degrees() -> None:
    """11.5 µm/(m·K) on 220 mm and 10 K: 25.3 µm (handbook value; ISO 1 for the 20 °C)."""
    assert at_20_c(220.0, 30.0) == pytest.approx(220.0 - 0.0253, abs=5e-6)
    assert at_20_c(220.0, 10.0) == pytest.approx(220.0 + 0.0253, abs=5e-6)
    assert at_20_c(220.0, float("nan")) == 220.0


def test_a_warm_diameter_is_corrected_and_shown(history_of) -> None:
    rows = [row | {"temperature_c": "30"} for row in journal("2020-01-01", 9000, v1="220.020", h1="220.020")]
    (row,) = journals_at_openings(history := history_of(rows), all_of(history)).to_dict("records")
    assert row["diameter_mm"] == pytest.approx(219.9947, abs=5e-5)
    assert row["correction_um"] == pytest.approx(-25.3, abs=0.01)
    assert row["temperature_c"] == 30.0


def test_ovality_is_vertical_less_horizontal_at_the_worst_station() -> None:
    shape = shape_of(
        {"v1": 219.990, "h1": 219.995, "v2": 219.970, "h2": 219.995, "v3": 219.985, "h3": 219.985}
    )
    assert (round(shape.ovality_um), shape.station) == (-25, "2")
    assert shape.taper_um == pytest.approx(7.5)


def test_one_diameter_has_no_shape() -> None:
    shape = shape_of({"v1": 219.99})
    assert np.isnan([shape.ovality_um, shape.taper_um]).all()


@pytest.mark.parametrize(
    ("diameter_mm", "size", "off_um", "step_mm"),
    [
        (220.000, "standard", 0.0, 0.0),
        (219.965, "standard", 0.0, 0.0),
        (219.500, "U50", 0.0, 0.5),
        (219.750, "standard", -210.0, 0.25),
        (219.250, "U50", -210.0, 0.75),
        (220.030, "standard", 25.0, 0.0),
    ],
)
def test_the_nearest_size_lies_between_its_limit_and_new(
    history_of, diameter_mm, size, off_um, step_mm
) -> None:
    """Undersize steps of 0.25 mm in diameter: common practice, no source."""
    history = history_of(journal("2020-01-01", 9000, v1="220.000"))
    found, off, step = nearest_size(history, "Hexa", "main", diameter_mm)
    assert (found, round(off, 6), step) == (size, off_um, step_mm)


def test_the_shells_on_a_ground_journal(history_of) -> None:
    events = [
        {"half": half, "date": "2018-09-10", "counter_h": "33800", "event": "renewal", "shell_size": "U50"}
        for half in ("upper", "lower")
    ] + [{"half": "", "date": "2018-09-10", "counter_h": "33800", "event": "regrind", "shell_size": "U50"}]
    rows = journal("2018-09-10", 33800, v1="220.000")
    rows += [row | {"state": "as_left"} for row in journal("2018-09-10", 33800, v1="219.500")]
    history = history_of(rows, events)
    found, left = journals_at_openings(history, all_of(history)).to_dict("records")
    assert (found["shell_size"], found["size"], found["matches"], found["grinding"]) == (
        "standard",
        "standard",
        True,
        0,
    )
    assert (left["shell_size"], left["size"], left["matches"], left["grinding"]) == ("U50", "U50", True, 1)


def test_wear_of_a_journal_begins_anew_at_its_grinding(history_of) -> None:
    ground = {"half": "", "date": "2015-01-01", "counter_h": "20000", "event": "regrind", "shell_size": "U50"}
    fitted = [ground | {"event": "renewal", "half": half} for half in ("upper", "lower")]
    rows = journal("2012-01-01", 10000, v1="220.000") + journal("2015-01-01", 20000, v1="219.990")
    rows += [row | {"state": "as_left"} for row in journal("2015-01-01", 20000, v1="219.500")]
    history = history_of(rows, [ground, *fitted])
    first, second = journal_trends(history, all_of(history)).to_dict("records")
    assert first["wear_rate_um_per_kh"] == pytest.approx(1.0)
    assert (second["openings"], np.isnan(second["wear_rate_um_per_kh"])) == (1, True)


def test_the_rate_of_a_journal_is_the_gum_line(history_of) -> None:
    """JCGM 100:2008 H.3: slope 0.002 18 °C/°C; its u there is of the scatter, here of the stated u of each reading.

    The thermometer's corrections b against t, written as diameters [mm] against hours [kh]; with the residual sd of
    the example stated as u, u(slope) is the printed 0.000 67.
    """
    case = json.loads((REFERENCE / "gum_h3.json").read_text(encoding="utf-8"))
    rows = []
    for k, (t, b) in enumerate(zip(case["t"], case["b"], strict=True)):
        rows += journal(f"{2000 + k}-01-01", round(t * 1000), v1=f"{220 - b:.4f}")
    for row in rows:
        row["u_um"] = f"{case['published']['s'] * 1000}"
    history = history_of(rows)
    (trend,) = journal_trends(history, all_of(history)).to_dict("records")
    published = case["published"]
    assert trend["wear_rate_um_per_kh"] == pytest.approx(published["y2"] * 1000, abs=0.005)
    assert trend["wear_rate_u_um_per_kh"] == pytest.approx(published["u_y2"] * 1000, abs=0.005)


def test_no_journal_read_gives_an_empty_table(history_of) -> None:
    history = history_of([{}])
    assert len(journals_at_openings(history, all_of(history))) == 0
    assert len(journal_trends(history, all_of(history))) == 0
