"""The tables of a record set as data: columns, kinds of cell, which must be there.

After reading, every table is a pandas DataFrame with one row a data row, in file order, holding

* each contract column below, present or not in the file, in canonical form: text columns as stripped
  ``str`` (empty ``""`` where the cell is empty; choices in their listed spelling), numbers as float64
  (NaN where empty), dates as ``datetime64[ns]`` (NaT where empty);
* the derived columns of the table: lengths in mm (``value_mm``; ``new_min_mm``, ``new_max_mm``, ``limit_mm``;
  ``new_value_mm``); ``value_text`` (readings) and ``new_value_text`` (events), the digits as found, with a
  decimal point, for the rounding step; in readings and events ``old_text`` (``""``, or each corrected cell as
  ``value: 7982 -> 7.982 (unit slip; A. Bell, 2024-06-01)``) and ``confirmed`` (bool: measured again, it is right);
* ``file``, ``sheet`` (``""`` for CSV) and ``row`` (int, as a spreadsheet shows it: the header is row 1; in
  corrections, where ``row`` is a column of the contract, ``own_row``);
* unknown columns, as text, after all others.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from wearcast.quantities import BEARINGS, HALVES, QUANTITIES
from wearcast.units import MM_PER_UNIT

Cell = Literal["text", "choice", "number", "date", "place", "verbatim"]
"""``place``: a position or point label; a number cell such as 3.0 is written ``3``. ``verbatim``: a text kept
even where it is one that no other column takes, such as ``#REF!``."""


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes
    ----------
    required : bool
        The column must exist.
    filled : bool
        Every cell of it must be filled.
    choices : tuple of str
        For ``choice``: the spellings allowed (compared without regard to case; units to the letter).
    default : str
        What an empty cell stands for.
    least, above : float or None
        For numbers: the smallest value allowed, or the bound it must exceed.
    whole : bool
        For numbers: a count.
    past : bool
        For dates: cannot lie after the date of the run.
    """

    name: str
    cell: Cell
    required: bool = False
    filled: bool = False
    choices: tuple[str, ...] = ()
    default: str = ""
    least: float | None = None
    above: float | None = None
    whole: bool = False
    past: bool = False


@dataclass(frozen=True)
class Table:
    """One table; `lengths` names the number columns that `unit` applies to (each gains ``<name>_mm``)."""

    name: str
    required: bool
    columns: tuple[Column, ...]
    lengths: tuple[str, ...] = ()

    def column(self, name: str) -> Column | None:
        """The column of that name, or None for an unknown one."""
        return next((column for column in self.columns if column.name == name), None)


def _must(name: str, cell: Cell, **more: object) -> Column:
    return Column(name, cell, required=True, filled=True, **more)  # type: ignore[arg-type]


UNITS = tuple(MM_PER_UNIT)
STATES = ("as_found", "as_left")
EVENTS = (
    "fitted", "renewal", "refit", "regrind", "counter_change", "counter", "change", "finding", "opened",
)  # fmt: skip
WINDOW_KINDS = ("survey", "docking", "port_stay")
CORRECTION_ACTIONS = ("replace", "withdraw", "confirm")

TABLES = MappingProxyType(
    {
        table.name: table
        for table in (
            Table(
                "readings",
                True,
                (
                    _must("vessel", "text"),
                    _must("engine", "place"),
                    _must("bearing", "choice", choices=BEARINGS),
                    _must("position", "place"),
                    Column("half", "choice", choices=HALVES),
                    Column("point", "choice"),  # choices depend on the quantity
                    _must("quantity", "choice", choices=tuple(QUANTITIES)),
                    _must("value", "number"),  # sign and zero depend on the quantity
                    _must("unit", "choice", choices=UNITS),
                    _must("date", "date", past=True),
                    Column("counter_h", "number", required=True, least=0.0),  # empty: from dates
                    Column("state", "choice", choices=STATES),  # an empty state is resolved with the lives
                    Column("instrument", "text"),
                    Column("u_um", "number", above=0.0),
                    Column("temperature_c", "number"),
                    Column("conditions", "text"),
                    Column("measured_by", "text"),
                    Column("remark", "text"),
                ),
                ("value",),
            ),
            Table(
                "engines",
                True,
                (
                    _must("vessel", "text"),
                    _must("engine", "place"),
                    _must("engine_type", "text"),
                    _must("numbered_from", "choice", choices=("flywheel", "free_end")),
                    Column("hours_per_year", "number", above=0.0),
                    Column("hours_per_year_sd", "number", least=0.0),
                    Column("in_service", "date"),
                    Column("duty", "text"),
                    Column("mains", "number", above=0.0, whole=True),
                    Column("throws", "number", above=0.0, whole=True),
                    Column("first_main", "number", default="1", least=0.0, whole=True),
                    Column("thrust_at", "place"),
                    Column("deflection_sign", "choice", choices=("opening_plus", "opening_minus")),
                    Column("housing_bore_mm", "number", above=0.0),
                    Column("stroke_mm", "number", above=0.0),
                ),
            ),
            Table(
                "limits",
                True,
                (
                    _must("engine_type", "text"),
                    _must("bearing", "choice", choices=BEARINGS),
                    Column("half", "choice", choices=HALVES),
                    _must("quantity", "choice", choices=tuple(QUANTITIES)),
                    _must("shell_size", "text"),
                    Column("point", "choice"),
                    _must("new_min", "number"),
                    _must("new_max", "number"),
                    _must("limit", "number"),
                    _must("limit_side", "choice", choices=("min", "max")),
                    _must("unit", "choice", choices=UNITS),
                    Column("overlay_um", "number", above=0.0),
                    Column("renew_at_h", "number", above=0.0),
                    _must("limit_source", "text"),
                    Column("part_reference", "text"),
                ),
                ("new_min", "new_max", "limit"),
            ),
            Table(
                "events",
                False,
                (
                    _must("vessel", "text"),
                    Column(
                        "engine", "place", required=True
                    ),  # may be empty for a `change` of the whole vessel
                    Column("bearing", "choice", choices=BEARINGS),
                    Column("position", "place"),
                    Column("half", "choice", choices=HALVES),
                    Column(
                        "date", "date", required=True, past=True
                    ),  # may be empty for `fitted` at an unknown time
                    Column("counter_h", "number", required=True, least=0.0),
                    _must("event", "choice", choices=EVENTS),
                    Column("shell_size", "text"),
                    Column("new_value", "number", above=0.0),
                    Column("unit", "choice", choices=UNITS),
                    Column("new_counter_h", "number", least=0.0),
                    Column("finding", "text"),
                    Column("remark", "text"),
                ),
                ("new_value",),
            ),
            Table(
                "windows",
                False,
                (
                    _must("vessel", "text"),
                    Column("engine", "place"),
                    _must("date", "date"),
                    Column("name", "text"),
                    Column("kind", "choice", choices=WINDOW_KINDS),
                    Column("max_openings", "number", least=0.0, whole=True),
                ),
            ),
            Table(
                "spares",
                False,
                (
                    _must("engine_type", "text"),
                    _must("bearing", "choice", choices=BEARINGS),
                    Column("half", "choice", choices=(*HALVES, "pair")),
                    _must("shell_size", "text"),
                    Column("part_reference", "text"),
                    _must("on_hand", "number", least=0.0, whole=True),
                    Column("on_order", "number", least=0.0, whole=True),
                    _must("lead_time_days", "number", least=0.0),
                    Column("forwarding_days", "number", least=0.0),
                    Column("margin_days", "number", least=0.0),
                    Column("minimum_on_board", "number", least=0.0, whole=True),
                    Column("unit_cost", "number", least=0.0),
                    Column("currency", "text"),
                ),
            ),
            Table(
                "corrections",
                False,
                (
                    _must("table", "choice", choices=("readings", "events")),
                    _must("row", "number", least=2.0, whole=True),
                    Column("column", "text", required=True),
                    Column("old", "verbatim", required=True),
                    Column("new", "text", required=True),
                    _must("action", "choice", choices=CORRECTION_ACTIONS),
                    _must("reason", "text"),
                    _must("by", "text"),
                    _must("date", "date", past=True),
                ),
            ),
        )
    }
)
"""Every table by name."""
