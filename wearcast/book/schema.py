"""The tables of a record book as they now are; `migrations` makes them.

Every cell is text as it came, brought to one way of writing (numbers with a decimal point and their own digits,
dates as 2024-05-17); empty is ``''``, never NULL, for an absent column and an empty cell mean the same. What
readings of one place or of one opening share is kept once, so that a million of them are read in seconds; the
view ``readings_as_found`` shows them whole. Ids count from 2, as rows of a spreadsheet below its header do: in an
exported table the row of a reading is its id.
"""

from __future__ import annotations

from types import MappingProxyType

from sqlalchemy import Column, ForeignKey, Integer, LargeBinary, MetaData, Table, Text, UniqueConstraint

FIRST_ID = 2

PLACE = ("vessel", "engine", "bearing", "position", "half", "point", "quantity")
CIRCUMSTANCES = (
    "unit", "date", "counter_h", "state", "instrument", "u_um", "temperature_c", "conditions", "measured_by",
    "remark", "more",
)  # fmt: skip
"""What readings of one opening mostly share; ``more`` holds columns the contract does not know, as JSON."""

PLAIN = MappingProxyType(
    {
        "events": (
            "vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size",
            "new_value", "unit", "new_counter_h", "finding", "remark", "more",
        ),
        "engines": (
            "vessel", "engine", "engine_type", "numbered_from", "hours_per_year", "hours_per_year_sd",
            "in_service", "duty", "mains", "throws", "first_main", "thrust_at", "deflection_sign",
            "housing_bore_mm", "stroke_mm", "more",
        ),
        "limits": (
            "engine_type", "bearing", "half", "quantity", "shell_size", "point", "new_min", "new_max", "limit",
            "limit_side", "unit", "overlay_um", "renew_at_h", "limit_source", "part_reference", "more",
        ),
        "windows": ("vessel", "engine", "date", "name", "kind", "max_openings", "more"),
        "spares": (
            "engine_type", "bearing", "half", "shell_size", "part_reference", "on_hand", "on_order",
            "lead_time_days", "forwarding_days", "margin_days", "minimum_on_board", "unit_cost", "currency", "more",
        ),
        "gauges": (
            "instrument", "vessel", "kind", "certificate", "calibrated_on", "due_on", "by_name", "u_um", "more",
        ),
        "corrections": (
            "target_table", "target_id", "target_column", "old", "new", "action", "reason", "by_name", "date",
            "more",
        ),
    }
)  # fmt: skip
"""The other tables, whose rows are stored whole."""

LATER = MappingProxyType(
    {"events": ("approved_by",), "limits": ("approved_by",), "corrections": ("approved_by",)}
)
"""Columns that came to a table of the contract after its schema: they are kept in ``more``."""

ROW_TABLES = ("readings", *PLAIN)

metadata = MetaData()


def _id() -> Column[int]:
    return Column("id", Integer, primary_key=True, autoincrement=False)


def _texts(names: tuple[str, ...]) -> list[Column[str]]:
    return [Column(name, Text, nullable=False) for name in names]


def _import_id() -> Column[int]:
    key = ForeignKey("imports.id", deferrable=True, initially="DEFERRED")
    return Column("import_id", Integer, key, nullable=False)


def _row_of_sheet() -> list[Column[int]]:
    return [
        Column("sheet_id", Integer, ForeignKey("sheets.id"), nullable=False),
        Column("row", Integer, nullable=False),
    ]


imports = Table(
    "imports",
    metadata,
    _id(),
    *_texts(("kind", "by_name", "at", "source", "tables", "previous", "digest")),
    UniqueConstraint("previous", name="imports_one_after_another"),
)
"""One row an import: who, when (UTC), from what; rows of each table with their last digest; the digest before."""

contents = Table(
    "contents",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("data", LargeBinary, nullable=False),
)
"""The bytes of original files, each once."""

files = Table(
    "files",
    metadata,
    _id(),
    _import_id(),
    *_texts(("name", "role")),
    Column("sha256", Text, ForeignKey("contents.sha256"), nullable=False),
)
"""The files of each import; ``role`` is records, mapping or corrections."""

sheets = Table(
    "sheets",
    metadata,
    _id(),
    _import_id(),
    Column("file_id", Integer, ForeignKey("files.id"), nullable=False),
    *_texts(("sheet", "table_name")),
)
"""The table of one file (and sheet) that rows came from."""

places = Table("places", metadata, _id(), *_texts(PLACE), UniqueConstraint(*PLACE, name="places_once"))

circumstances = Table("circumstances", metadata, _id(), *_texts(CIRCUMSTANCES))

readings = Table(
    "readings",
    metadata,
    _id(),
    *_row_of_sheet(),
    Column("place_id", Integer, ForeignKey("places.id"), nullable=False, index=True),
    Column("circumstances_id", Integer, ForeignKey("circumstances.id"), nullable=False),
    *_texts(("value",)),
    Column("digest", LargeBinary, nullable=False),
)

plain = MappingProxyType(
    {
        name: Table(
            name,
            metadata,
            _id(),
            *_row_of_sheet(),
            *_texts(columns),
            Column("digest", LargeBinary, nullable=False),
        )
        for name, columns in PLAIN.items()
    }
)
"""The tables stored whole, by name."""

row_tables = MappingProxyType({"readings": readings, **plain})
