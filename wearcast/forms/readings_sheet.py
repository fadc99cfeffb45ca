"""The sheet of readings: one row a value, in the order of the work and along the shaft."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from wearcast.forms.asked import FormContent
from wearcast.forms.cells import (
    HAIR,
    NEXT,
    ROW_PT,
    UNDER,
    choices,
    formula,
    number,
    numbers,
    page,
    protect,
    text,
    to_fill,
    widths,
)
from wearcast.forms.places import FOUND, RENEWED, Asked
from wearcast.quantities import QUANTITIES
from wearcast.records.form_layout import (
    READING_GAUGE,
    READING_REMARK,
    READING_TEMPERATURE,
    READING_VALUE,
    VERSION,
    FormReading,
    place_label,
)
from wearcast.units import MM_PER_UNIT

SHAPES = {"mm": "0.000", "um": "0", "in": "0.0000"}
COLUMNS = (
    ("A", 10, "place"), ("B", 22, "measure"), ("C", 20, "point"), ("D", 9, "when"), ("E", 14, "value"),
    ("F", 5, "unit"), ("G", 19, "last read"), ("H", 10, "expected from"), ("I", 9, "to"), ("J", 12, "limit"),
    ("K", 27, "what the form says"), ("L", 16, "gauge, if another"), ("M", 6, "°C"), ("N", 18, "remark"),
)  # fmt: skip
WITH_TEMPERATURE = tuple(one.name for one in QUANTITIES.values() if one.at_20_c)
LARGEST = 3.0
"""Times the greatest value expected beyond which a number is not taken: the unit is another one (judgement)."""

OUTSIDE = "Outside the expected range: measure again. "
PAST = "At or past the limit: tell the chief engineer."
NO_NUMBER = "A number is needed."


def write_readings(sheet: Worksheet, content: FormContent, lists: Mapping[str, str]) -> list[FormReading]:
    """Write the sheet; what stands on its rows."""
    widths(sheet, [(column, width) for column, width, _ in COLUMNS])
    engine = content.engine
    text(
        sheet,
        "A1",
        f"{engine.vessel}, {engine.engine}: readings, opening planned {content.opening}",
        bold=True,
        size=12,
    )
    text(sheet, "L1", "initials", align="right")
    sheet["M1"].border = sheet["N1"].border = UNDER
    for column, _, title in COLUMNS:
        align = "right" if column in "HIJ" else "left"
        indent = int(column in "FGK")
        text(sheet, f"{column}2", title, bold=True, align=align, wrap=True, indent=indent).border = UNDER
    sheet.row_dimensions[2].height = 26
    rows = _rows(sheet, content)
    _validate(sheet, rows, lists)
    page(sheet, True, "1:2", f"N{sheet.max_row}", f"form version {VERSION}")
    sheet.freeze_panes = "A3"
    protect(sheet)
    return [made for made, _ in rows]


def _rows(sheet: Worksheet, content: FormContent) -> list[tuple[FormReading, Asked]]:
    found = []
    row, part, place = 2, "", ""
    for one in content.readings:
        row += 1
        if one.part != part:
            row += part != ""
            text(sheet, f"A{row}", _part_title(one.part), bold=True, size=10)
            part, place, row = one.part, "", row + 1
        made = FormReading(
            row, one.bearing, one.position, one.half, one.point, one.quantity, one.unit, one.state
        )
        here = place_label(one.bearing, one.position)
        _one(sheet, made, one, here != place, content.ranges)
        place = here
        found.append((made, one))
    return found


def _part_title(part: str) -> str:
    title = f"{part[0].upper()}{part[1:]}"
    if part == RENEWED:
        return f"{title} (as left); expected here: a new part of the size now fitted"
    return title if part == FOUND else f"{title} (as left)"


def _one(sheet: Worksheet, made: FormReading, one: Asked, new_place: bool, ranges: bool) -> None:
    row = made.row
    for column, words in zip("ABCDF", made.labels, strict=True):
        text(sheet, f"{column}{row}", words, bold=column == "A" and new_place, indent=int(column == "F"))
    to_fill(sheet, f"{READING_VALUE}{row}", align="right")
    for column in (READING_GAUGE, READING_REMARK):
        to_fill(sheet, f"{column}{row}")
    if made.quantity in WITH_TEMPERATURE:
        to_fill(sheet, f"{READING_TEMPERATURE}{row}", align="right")
    per_mm = 1.0 / MM_PER_UNIT[made.unit]
    shape = SHAPES[made.unit]
    if one.expected is not None:
        number(sheet, f"H{row}", round(one.expected.low_mm * per_mm, 4), shape)
        number(sheet, f"I{row}", round(one.expected.high_mm * per_mm, 4), shape)
    elif ranges:
        text(sheet, f"H{row}", "not known", italic=True, align="right")
    text(sheet, f"G{row}", one.last or "never", italic=True, indent=1)
    if one.limit is not None:
        side = one.limit.side
        number(sheet, f"J{row}", round(one.limit.limit_mm * per_mm, 6), f'"{side}" {shape}')
    formula(sheet, f"K{row}", says(row, one))
    for column in "ABCDFGHIJK":
        sheet[f"{column}{row}"].border = NEXT if new_place else HAIR
    sheet.row_dimensions[row].height = ROW_PT


def says(row: int, one: Asked) -> str:
    """The formula of the words beside a value."""
    value = f"{READING_VALUE}{row}"
    parts = []
    if one.expected is not None:
        parts.append(f'IF(OR({value}<H{row},{value}>I{row}),"{OUTSIDE}","")')
    if one.limit is not None:
        sign = "<=" if one.limit.side == "min" else ">="
        parts.append(f'IF({value}{sign}J{row},"{PAST}","")')
    words = "&".join(parts) or '""'
    return f'=IF(ISBLANK({value}),"",IF(ISNUMBER({value}),{words},"{NO_NUMBER}"))'


def _validate(sheet: Worksheet, rows: Iterable[tuple[FormReading, Asked]], lists: Mapping[str, str]) -> None:
    by_kind: dict[tuple[str, str], list[tuple[FormReading, Asked]]] = {}
    for made, one in rows:
        by_kind.setdefault((made.quantity, made.unit), []).append((made, one))
    for (quantity, unit), mine in by_kind.items():
        rule = _number_rule(quantity, unit, [one for _, one in mine])
        gauge = choices(lists[quantity], "Gauge", "", only=False) if quantity in lists else None
        warmth = numbers(
            "decimal", -40, 120, "Temperature", "Write the temperature in degrees Celsius, such as 22."
        )
        for made, _ in mine:
            rule.add(f"{READING_VALUE}{made.row}")
            warmth.add(f"{READING_TEMPERATURE}{made.row}")
            if gauge is not None:
                gauge.add(f"{READING_GAUGE}{made.row}")
        for each in (rule, gauge, warmth if quantity in WITH_TEMPERATURE else None):
            if each is not None:
                sheet.add_data_validation(each)


def _number_rule(quantity: str, unit: str, asked: Iterable[Asked]) -> DataValidation:
    kind, per_mm = QUANTITIES[quantity], 1.0 / MM_PER_UNIT[unit]
    greatest = max((one.expected.high_mm for one in asked if one.expected), default=0.0)
    high = (
        LARGEST * greatest * per_mm
        if greatest > 0
        else 5.0 * per_mm
        if kind.negative_allowed
        else 1e5 * per_mm
    )
    low = -high if kind.negative_allowed else 0.0 if kind.zero_allowed else 1e-6 * per_mm
    words = (
        f"{kind.title[0].upper()}{kind.title[1:]} in {unit}: a number {'from' if kind.zero_allowed else 'above'} "
        f"{max(low, -high):.4g} {'to' if kind.zero_allowed else 'and below'} {high:.4g}, as the gauge shows it. "
        "Leave the cell empty if nothing was measured."
    )
    words = words.replace("above 1e-06", "above 0").replace("above 0.001 ", "above 0 ")
    return numbers("decimal", low, high, kind.title, words)
