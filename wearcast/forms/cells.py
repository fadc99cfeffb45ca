"""Writing cells: text as text whatever it says, numbers, formulas of our own, and what may be written on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Border, Font, Protection, Side
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

FONT = "Liberation Sans"
SIZE = 10
_LINE = Side(style="thin", color="404040")
_HAIR = Side(style="hair", color="808080")
BOX = Border(left=_LINE, right=_LINE, top=_LINE, bottom=_LINE)
UNDER = Border(bottom=_LINE)
HAIR = Border(bottom=_HAIR)
NEXT = Border(top=_LINE, bottom=_HAIR)
"""Of the first row of a place."""

ROW_PT = 32
"""Height of a row to write in: 8 mm on paper, where a sheet is drawn at seven tenths of its width."""

FORMULA_STARTS = ("=", "+", "-", "@")


def text(
    sheet: Worksheet,
    place: str,
    words: str,
    bold: bool = False,
    size: float = SIZE,
    align: str = "left",
    wrap: bool = False,
    italic: bool = False,
    indent: int = 0,
) -> Cell:
    """Write a text; one that looks like a formula stays a text, also after someone edits it."""
    cell = _cell(sheet, place)
    clean = printable(words)
    if clean:
        cell.value = clean
        cell.data_type = "s"
        if clean.startswith(FORMULA_STARTS):
            cell.quotePrefix = True
    _look(cell, bold, size, align, wrap, italic, indent)
    return cell


def printable(words: str) -> str:
    """The text without what no workbook can hold."""
    found: str = ILLEGAL_CHARACTERS_RE.sub("", words)
    return found


def number(sheet: Worksheet, place: str, value: float, shape: str, align: str = "right") -> Cell:
    """Write a number, shown in the shape given."""
    cell = _cell(sheet, place)
    cell.value = value
    _look(cell, False, SIZE, align, False, False)
    cell.number_format = shape
    return cell


def formula(sheet: Worksheet, place: str, words: str) -> Cell:
    """Write a formula of our own; no text of the records ever stands in one."""
    cell = _cell(sheet, place)
    cell.value = words
    _look(cell, True, SIZE - 1, "left", True, False, indent=1)
    return cell


def to_fill(sheet: Worksheet, place: str, shape: str = "General", align: str = "left") -> Cell:
    """A cell to write in: framed, not locked."""
    cell = _cell(sheet, place)
    _look(cell, False, SIZE + 1, align, align == "left", False)
    cell.border = BOX
    cell.protection = Protection(locked=False)
    cell.number_format = shape
    return cell


def paragraph(sheet: Worksheet, row: int, columns: tuple[str, str], words: str, per_line: int) -> None:
    """A text over several columns, as high as it needs."""
    cell = text(sheet, f"{columns[0]}{row}", words, wrap=True)
    cell.alignment = Alignment(vertical="top", wrap_text=True)
    sheet.merge_cells(f"{columns[0]}{row}:{columns[1]}{row}")
    sheet.row_dimensions[row].height = 13.5 * (1 + len(words) // per_line) + 2


def choices(source: str, title: str, words: str, only: bool) -> DataValidation:
    """A list to pick from; with `only`, nothing else is taken."""
    rule = DataValidation(type="list", formula1=source, allow_blank=True, showErrorMessage=only)
    rule.errorTitle, rule.error = title, words
    return rule


def numbers(kind: str, low: float, high: float, title: str, words: str) -> DataValidation:
    """A number (or date, whole number) between two others, or a message in words."""
    rule = DataValidation(
        type=kind, operator="between", formula1=f"{low:.10g}", formula2=f"{high:.10g}", allow_blank=True,
        showErrorMessage=True,
    )  # fmt: skip
    rule.errorTitle, rule.error = title[:32], words[:255]
    return rule


def protect(sheet: Worksheet) -> None:
    """Lock all cells but those to fill in; no password, so that a slip of ours can be mended on board."""
    sheet.protection.sheet = True
    sheet.protection.formatColumns = False
    sheet.protection.formatRows = False


def page(sheet: Worksheet, landscape: bool, titles: str, last: str, name: str) -> None:
    """A4, as wide as the paper, title rows on every page, page n of m."""
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    margins = sheet.page_margins
    margins.left = margins.right = 0.45
    margins.top, margins.bottom, margins.header, margins.footer = 0.5, 0.65, 0.3, 0.3
    if titles:
        sheet.print_title_rows = titles
    sheet.print_area = f"A1:{last}"
    sheet.oddFooter.left.text, sheet.oddFooter.left.size = name, 8
    sheet.oddFooter.right.text, sheet.oddFooter.right.size = "page &P of &N", 8
    sheet.sheet_view.showGridLines = False


def widths(sheet: Worksheet, of: Sequence[tuple[str, float]]) -> None:
    """Column widths [characters]."""
    for column, width in of:
        sheet.column_dimensions[column].width = width


def _cell(sheet: Worksheet, place: str) -> Any:
    return sheet[place]


def _look(cell: Any, bold: bool, size: float, align: str, wrap: bool, italic: bool, indent: int = 0) -> None:
    cell.font = Font(name=FONT, size=size, bold=bold, italic=italic)
    cell.alignment = Alignment(horizontal=align, vertical="center", wrap_text=wrap, indent=indent)
