"""The sheet of shells: what was renewed, refitted or reground, and what was seen on them."""

from __future__ import annotations

from collections.abc import Mapping

from openpyxl.worksheet.worksheet import Worksheet

from wearcast.companions.findings import SOURCE_NOTE
from wearcast.forms.asked import FormContent
from wearcast.forms.cells import (
    HAIR,
    NEXT,
    ROW_PT,
    UNDER,
    choices,
    formula,
    page,
    protect,
    text,
    to_fill,
    widths,
)
from wearcast.records.form_layout import (
    JOURNAL,
    SHELL_DONE,
    SHELL_FOUND,
    SHELL_REMARK,
    SHELL_SIZE,
    VERSION,
    FormShell,
)

COLUMNS = (
    ("A", 13, "place"), ("B", 10, "half"), ("C", 12, "size now fitted"), (SHELL_DONE, 14, "done"),
    (SHELL_SIZE, 12, "size put in"), ("F", 26, "what the form says"), (SHELL_FOUND, 24, "seen on it"),
    (SHELL_REMARK, 36, "remark: marks, part identity, cause"),
)  # fmt: skip
_CAUTION = (
    "A shell must match its journal: after a regrind write the new size in the row of the journal and of both "
    "shells. Leave a row empty where nothing was done and nothing seen."
)


def write_shells(sheet: Worksheet, content: FormContent, lists: Mapping[str, str]) -> list[FormShell]:
    """Write the sheet; what stands on its rows."""
    widths(sheet, [(column, width) for column, width, _ in COLUMNS])
    engine = content.engine
    text(
        sheet,
        "A1",
        f"{engine.vessel}, {engine.engine}: shells and journals, opening planned {content.opening}",
        bold=True,
        size=12,
    )
    text(sheet, "G1", "initials", align="right")
    sheet["H1"].border = UNDER
    text(sheet, "A2", _CAUTION)
    text(
        sheet,
        "A3",
        f"Words to pick from under seen on it: {SOURCE_NOTE}; any other words will do.",
        italic=True,
    )
    for column, _, title in COLUMNS:
        text(sheet, f"{column}4", title, bold=True, wrap=True, indent=int(column == "F")).border = UNDER
    sheet.row_dimensions[4].height = 26
    rows = [
        FormShell(row, bearing, position, half)
        for row, (bearing, position, half, _) in enumerate(content.shells, start=5)
    ]
    place = ""
    for made, (*_, size) in zip(rows, content.shells, strict=True):
        _one(sheet, made, size, new_place=made.labels[0] != place)
        place = made.labels[0]
    _validate(sheet, rows, lists)
    page(sheet, True, "1:4", f"H{sheet.max_row}", f"form version {VERSION}")
    sheet.freeze_panes = "A5"
    protect(sheet)
    return rows


def _one(sheet: Worksheet, made: FormShell, size: str, new_place: bool) -> None:
    row = made.row
    for column, words in zip("AB", made.labels, strict=True):
        text(sheet, f"{column}{row}", words, bold=column == "A" and new_place)
    text(sheet, f"C{row}", size)
    for column in (SHELL_DONE, SHELL_SIZE, SHELL_FOUND, SHELL_REMARK):
        to_fill(sheet, f"{column}{row}")
    done, put_in = f"{SHELL_DONE}{row}", f"{SHELL_SIZE}{row}"
    formula(
        sheet,
        f"F{row}",
        f'=IF(AND(OR({done}="renewed",{done}="reground"),{put_in}=""),"Write the size.",'
        f'IF(AND({put_in}<>"",{done}=""),"Say what was done.",""))',
    )
    for column in "ABCF":
        sheet[f"{column}{row}"].border = NEXT if new_place else HAIR
    sheet.row_dimensions[row].height = ROW_PT


def _validate(sheet: Worksheet, rows: list[FormShell], lists: Mapping[str, str]) -> None:
    shells = choices(
        lists["shell done"], "Done", "Pick refitted or renewed, or leave the cell empty.", only=True
    )
    journals = choices(lists["journal done"], "Done", "Pick reground, or leave the cell empty.", only=True)
    sizes = choices(lists["sizes"], "Size", "", only=False) if "sizes" in lists else None
    seen = choices(lists["findings"], "Seen", "", only=False)
    for made in rows:
        (journals if made.half == JOURNAL else shells).add(f"{SHELL_DONE}{made.row}")
        seen.add(f"{SHELL_FOUND}{made.row}")
        if sizes is not None:
            sizes.add(f"{SHELL_SIZE}{made.row}")
    for rule in (shells, journals, sizes, seen):
        if rule is not None and rule.sqref:
            sheet.add_data_validation(rule)
