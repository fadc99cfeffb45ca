"""The demo record set as tables, with the slips of story F in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wearcast.records.demo import world as w
from wearcast.records.demo.events import COLUMNS as EVENT_COLUMNS
from wearcast.records.demo.events import event_rows
from wearcast.records.demo.measuring import Crew, Reading
from wearcast.records.demo.shells import Chance, Shell, shells_of

READING_COLUMNS = (
    "vessel", "engine", "bearing", "position", "half", "point", "quantity", "value", "unit", "date",
    "counter_h", "state", "instrument", "u_um", "temperature_c", "conditions", "measured_by", "remark",
)  # fmt: skip

# Chosen among the first thousand so that the stories keep their dates (wear is uneven by chance) and no
# sound reading strays beyond 3 sd of its error: whatever the tool doubts here was planted.
DEFAULT_SEED = 416

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
    shells = {name: shells_of(vessel, chance) for name, vessel in w.VESSELS.items()}
    readings = tuple(
        reading
        for name, vessel in w.VESSELS.items()
        for reading in sorted(Crew(vessel, shells[name], chance).readings(), key=_file_order)
    )
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
