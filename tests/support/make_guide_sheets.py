"""Write the sheets of the guide page *own* (invented): `make_guide_sheets.py sample_data/sheets`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import openpyxl

LOWER = (7.985, 7.978, 7.973, 7.988, 7.972, 7.993, 7.977)
UPPER = (7.983, 7.986, 7.984, 7.991, 7.999, 7.996, 7.999)


def shop_sheet(path: Path) -> None:
    """One row a place, quantities across, a title block above."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Opening"
    for row in (
        ["MAIN BEARING INSPECTION"],
        ["Vessel:", "Quillo Fen", None, "Date:", date(2026, 11, 9)],
        ["Engine:", "ME", None, "Running hrs:", 13900],
        [],
        ["Bearing", "Upper shell", "Lower shell", "Eccentricity", "Micrometer"],
    ):
        sheet.append(row)
    for number, (upper, lower) in enumerate(zip(UPPER, LOWER, strict=True), start=1):
        sheet.append([f"Main {number}", upper if number != 4 else "N/A", lower, 0.01, "BM-3"])
    sheet.append(["Mean", None, 7.983])
    book.save(path)


def office_list(path: Path) -> None:
    """The same opening as the office typed it, in its own words; one reading a row."""
    lines = ["Schip;Motor;Datum;Draaiuren;Lager;Nr;Schaal;Wanddikte (mm);Opmerking"]
    for number, lower in enumerate(LOWER, start=1):
        remark = "licht gekrast" if number == 2 else ""
        value = f"{lower:.3f}".replace(".", ",")
        lines.append(f"QUILLO-FEN;ME;09.11.2026;13.900;Hoofdlager;{number};onder;{value};{remark}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def hours(path: Path) -> None:
    """The running hours of two ships at the end of two months."""
    rows = [("Quillo Fen", "31.10.2026", "13.750"), ("Quillo Fen", "20.11.2026", "14.120"),
            ("Merrow Dain", "20.11.2026", "75.900")]  # fmt: skip
    text = "\n".join(f"{ship};ME;{day};{dial}" for ship, day, dial in rows)
    path.write_text(f"Ship;Engine;Date;Running hours\n{text}\n", encoding="utf-8")


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    shop_sheet(folder / "shop.xlsx")
    office_list(folder / "office.csv")
    hours(folder / "hours.csv")
