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

from dataclasses import dataclass, replace
from math import inf
from types import MappingProxyType
from typing import Literal

from wearcast.clock import EARLIEST_YEAR
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
    least, most : float
        For numbers: the range its quantity can have, far beyond any engine (judgement).
    finest : float
        For numbers: the smallest size of one that is not 0.
    whole : bool
        For numbers: a count.
    past : bool
        For dates: cannot lie after the date of the run.
    since : int
        For dates: the first year.
    """

    name: str
    cell: Cell
    required: bool = False
    filled: bool = False
    choices: tuple[str, ...] = ()
    default: str = ""
    least: float = -inf
    most: float = inf
    finest: float = 0.0
    whole: bool = False
    past: bool = False
    since: int = EARLIEST_YEAR


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


def _number(name: str, least: float, most: float, must: bool = False, **more: object) -> Column:
    return Column(name, "number", must, must, least=least, most=most, **more)  # type: ignore[arg-type]


def _length(name: str, least: float = -1e7, must: bool = True) -> Column:
    """In any unit: ten kilometres written as mm, or ten metres written as um, are still asked about as a slip."""
    return _number(name, least, 1e7, must, finest=1e-6)


def _dial(name: str, must: bool = False, required: bool = False) -> Column:
    column = _number(name, 0.0, 1e6, must)
    return replace(column, required=must or required)


def _days(name: str, must: bool = False) -> Column:
    return _number(name, 0.0, 3_650.0, must)


def _count(name: str, most: float, least: float = 0.0, must: bool = False, default: str = "") -> Column:
    return _number(name, least, most, must, whole=True, default=default)


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
                    _length("value"),  # sign and zero depend on the quantity
                    _must("unit", "choice", choices=UNITS),
                    _must("date", "date", past=True),
                    _dial("counter_h", required=True),  # empty: from dates
                    Column("state", "choice", choices=STATES),  # an empty state is resolved with the lives
                    Column("instrument", "text"),
                    _number("u_um", 0.01, 10_000.0),
                    _number("temperature_c", -60.0, 250.0),
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
                    _number("hours_per_year", 1.0, 8_784.0),
                    _number("hours_per_year_sd", 0.0, 8_784.0),
                    Column("in_service", "date"),
                    Column("duty", "text"),
                    _count("mains", 100.0, 1.0),
                    _count("throws", 100.0, 1.0),
                    _count("first_main", 1_000.0, default="1"),
                    Column("thrust_at", "place"),
                    Column("deflection_sign", "choice", choices=("opening_plus", "opening_minus")),
                    _number("housing_bore_mm", 1.0, 10_000.0),
                    _number("stroke_mm", 1.0, 10_000.0),
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
                    _length("new_min"),
                    _length("new_max"),
                    _length("limit"),
                    _must("limit_side", "choice", choices=("min", "max")),
                    _must("unit", "choice", choices=UNITS),
                    _number("overlay_um", 0.1, 10_000.0),
                    _number("renew_at_h", 1.0, 1e6),
                    _must("limit_source", "text"),
                    Column("part_reference", "text"),
                    Column("approved_by", "text"),
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
                    _dial("counter_h", required=True),
                    _must("event", "choice", choices=EVENTS),
                    Column("shell_size", "text"),
                    _length("new_value", 1e-6, must=False),
                    Column("unit", "choice", choices=UNITS),
                    _dial("new_counter_h"),
                    Column("finding", "text"),
                    Column("remark", "text"),
                    Column("approved_by", "text"),
                ),
                ("new_value",),
            ),
            Table(
                "windows",
                False,
                (
                    _must("vessel", "text"),
                    Column("engine", "place"),
                    _must("date", "date", since=2000),
                    Column("name", "text"),
                    Column("kind", "choice", choices=WINDOW_KINDS),
                    _count("max_openings", 10_000.0),
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
                    _count("on_hand", 100_000.0, must=True),
                    _count("on_order", 100_000.0),
                    _days("lead_time_days", must=True),
                    _days("forwarding_days"),
                    _days("margin_days"),
                    _count("minimum_on_board", 100_000.0),
                    _number("unit_cost", 0.0, 1e12),
                    Column("currency", "text"),
                ),
            ),
            Table(
                "gauges",
                False,
                (
                    _must("instrument", "text"),
                    Column("vessel", "text"),
                    Column("kind", "text"),
                    Column("certificate", "text"),
                    Column("calibrated_on", "date", past=True),
                    Column("due_on", "date"),
                    Column("by", "text"),
                    _number("u_um", 0.01, 10_000.0),
                ),
            ),
            Table(
                "corrections",
                False,
                (
                    _must("table", "choice", choices=("readings", "events")),
                    _count("row", 2**31 - 1, 2.0, must=True),
                    Column("column", "text", required=True),
                    Column("old", "verbatim", required=True),
                    Column("new", "text", required=True),
                    _must("action", "choice", choices=CORRECTION_ACTIONS),
                    _must("reason", "text"),
                    _must("by", "text"),
                    _must("date", "date", past=True),
                    Column("approved_by", "text"),
                ),
            ),
        )
    }
)
"""Every table by name."""
