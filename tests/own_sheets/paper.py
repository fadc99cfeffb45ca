"""A sheet being written, and beside it the readings that a person would read off it.

Nothing here knows the reader: cells are put where a superintendent or a second engineer would put them.
"""

from __future__ import annotations

import json
import random
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

THIN = Side(style="thin", color="999999")
STYLES = ("plain", "office", "boxed")


class Paper:
    """One workbook; `sheet` is the worksheet written now, `truth` what stands in all of them."""

    def __init__(self, name: str, title: str = "Sheet1", style: str = "plain", seed: int = 1) -> None:
        self.name, self.style, self.truth = name, style, []
        self.book = openpyxl.Workbook()
        self.sheet = self.book.active
        self.sheet.title = title
        self.answers: dict[str, Any] = {}
        self.facts: dict[str, str] = {}
        self.random = random.Random(seed)
        self.comma = False
        self.as_text = False
        self.country = ""

    def new_sheet(self, title: str) -> None:
        self.sheet = self.book.create_sheet(title)

    def all(self, **facts: str) -> Paper:
        """What holds for every reading from here on."""
        self.facts = {**self.facts, **facts}
        return self

    def put(self, row: int, column: int, value: Any, head: bool = False) -> None:
        cell = self.sheet.cell(row, column, value)
        if isinstance(value, date):
            cell.number_format = self.country + ("dd.mm.yyyy" if self.comma else "yyyy-mm-dd")
        elif isinstance(value, int) and value > 999 and self.country:
            cell.number_format = f"{self.country}#,##0"
        if head and self.style == "office":
            cell.font, cell.fill = Font(bold=True, color="FFFFFF"), PatternFill("solid", fgColor="33475B")
            cell.alignment = Alignment(horizontal="center", wrap_text=True)
        if self.style == "boxed":
            cell.border = Border(THIN, THIN, THIN, THIN)

    def row(self, row: int, column: int, values: list[Any], head: bool = False) -> None:
        for index, value in enumerate(values):
            if value is not None:
                self.put(row, column + index, value, head)

    def merge(
        self, row: int, column: int, to_row: int, to_column: int, value: Any, head: bool = True
    ) -> None:
        self.put(row, column, value, head)
        self.sheet.merge_cells(start_row=row, start_column=column, end_row=to_row, end_column=to_column)

    def reading(
        self, row: int, column: int, mm: float, unit: str = "mm", digits: int = 3, **facts: str
    ) -> None:
        """A reading written into a cell in this unit, and its truth."""
        scale = {"mm": 1.0, "um": 1000.0, "0.01 mm": 100.0}[unit]
        shown = round(mm * scale, digits if unit == "mm" else (0 if unit == "um" else 1))
        said = f"{shown:.{digits}f}" if unit == "mm" else f"{shown:g}"
        if self.as_text:
            self.put(row, column, said.replace(".", ",") if self.comma else said)
        else:
            self.put(row, column, float(shown) if unit == "mm" else (int(shown) if unit == "um" else shown))
            if unit == "mm":
                self.sheet.cell(row, column).number_format = f"{self.country}0.{'0' * digits}"
        cell = f"{get_column_letter(column)}{row}"
        known = {**self.facts, **facts}
        self.truth.append(
            {"sheet": self.sheet.title, "cell": cell, "value_mm": round(shown / scale, 6), **known}
        )

    def save(self, folder: Path) -> Path:
        path = folder / f"{self.name}.xlsx"
        self.book.save(path)
        said = {"answers": self.answers, "readings": self.truth}
        (folder / f"{self.name}.json").write_text(
            json.dumps(said, indent=None, separators=(",", ":"), ensure_ascii=False) + "\n", encoding="utf-8"
        )
        return path

    # plausible measured values of an invented engine type
    def wall(self, new: float = 8.0) -> float:
        return round(new - 0.005 - self.random.uniform(0.0, 0.035), 3)

    def clearance(self) -> float:
        return round(self.random.uniform(0.22, 0.31), 2)
