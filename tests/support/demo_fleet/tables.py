"""The demo record set as tables, with the slips of story F in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from demo_fleet import world as w
from demo_fleet.events import COLUMNS as EVENT_COLUMNS
from demo_fleet.events import event_rows
from demo_fleet.histories import bearing_history
from demo_fleet.measuring import Crew, Reading
from demo_fleet.shells import Chance, Shell

READING_COLUMNS = (
    "vessel", "engine", "bearing", "position", "half", "point", "quantity", "value", "unit", "date",
    "counter_h", "state", "instrument", "u_um", "temperature_c", "conditions", "measured_by", "remark",
)  # fmt: skip

# Of the first few seeds the one whose fleet is plainest: nothing but story D stands out of line by chance.
DEFAULT_SEED = 4

Rows = list[dict[str, str]]


@dataclass(frozen=True)
class Slip:
    """One slip of the pen: where it stands, what was measured and what was written."""

    where: dict[str, str]
    measured: str
    written: str
    how: str


SLIPS = (
    Slip(
        {
            "vessel": w.TARN, "date": "2024-11-11", "bearing": "main", "position": "2", "half": "lower",
            "quantity": "wall", "state": "as_found",
        },
        "7.982", "7982", "micrometres typed under the unit mm",
    ),
    Slip(
        {
            "vessel": w.MERROW, "date": "2014-08-25", "bearing": "main", "position": "4",
            "quantity": "clearance",
        },
        "0.24", "0.024", "the decimal point slipped one place",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Fleet:
    """The invented fleet of one seed: what was true and what was written."""

    shells: dict[str, tuple[Shell, ...]]
    readings: tuple[Reading, ...]
    tables: dict[str, Rows]


def build(seed: int) -> Fleet:
    """Make the fleet; the same seed gives the same fleet on every machine."""
    chance = Chance(seed)
    shells: dict[str, tuple[Shell, ...]] = {}
    readings: tuple[Reading, ...] = ()
    for name, vessel in w.VESSELS.items():
        bearings = [("main", main) for main in w.MAINS] + [("big_end", throw) for throw in w.THROWS]
        histories = [bearing_history(vessel, *bearing, seed) for bearing in bearings]
        shells[name] = tuple(shell for lives, _ in histories for shell in lives)
        shaft = Crew(vessel, shells[name], chance, chance).readings_of_the_shaft()
        there = [reading for _, found in histories for reading in found] + shaft
        readings += tuple(sorted(there, key=_file_order))
    for slip in SLIPS:
        (spoilt,) = (reading for reading in readings if slip.where.items() <= reading.row.items())
        spoilt.row["value"] = slip.written
    tables = {
        "readings": [{column: reading.row[column] for column in READING_COLUMNS} for reading in readings],
        "engines": w.engine_rows(),
        "limits": w.limit_rows(),
        "events": [{column: row[column] for column in EVENT_COLUMNS} for row in event_rows(shells, chance)],
        "windows": w.window_rows(),
        "spares": w.spare_rows(),
    }
    return Fleet(shells, readings, tables)


def _file_order(reading: Reading) -> tuple[Any, ...]:
    row = reading.row
    quantities = ("wall", "clearance", "journal_diameter", "axial_clearance", "web_deflection")
    kinds = ("main", "thrust", "big_end")
    return (
        row["date"], row["quantity"] == "web_deflection", kinds.index(row["bearing"]), int(row["position"]),
        row["state"] == "as_left", quantities.index(row["quantity"]), row["half"],
    )  # fmt: skip
