"""Make the sheets of this folder: `python tests/own_sheets/make_sheets.py [NAME...]`. Needs LibreOffice for some of them.

All ships, people and figures are invented. Each sheet has a truth beside it (.json): every reading with its cell,
and what only its owner can answer. One sheet, ``by_hand.csv``, was typed and is not made here.
"""

# ruff: noqa: E501, C408, RUF005 - sheets are written as they look
from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

from paper import Paper

HERE = Path(__file__).parent / "sheets"
D1, D2, D3 = date(2015, 3, 24), date(2017, 9, 12), date(2020, 6, 18)
GERMAN_CSV = "csv:Text - txt - csv (StarCalc):59,34,76,1,,1031,false,true,false"
DUTCH_CSV = "csv:Text - txt - csv (StarCalc):59,34,76,1,,1043,false,true,false"
US_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,1033,false,true,false"
TAB_CSV = "csv:Text - txt - csv (StarCalc):9,34,76,1,,2057,false,true,false"


def by_soffice(path: Path, how: str) -> None:
    """The workbook as LibreOffice saves it: as .xlsx again, or as CSV in a country's writing."""
    with tempfile.TemporaryDirectory() as out:
        subprocess.run(
            ["soffice", "--headless", f"-env:UserInstallation=file://{out}/profile", "--convert-to", how,
             "--outdir", out, str(path)],
            check=True, capture_output=True, timeout=180,
        )  # fmt: skip
        (made,) = [one for one in Path(out).iterdir() if one.is_file()]
        if how.startswith("csv"):
            path.unlink()
        shutil.move(made, path.with_suffix(made.suffix))


def one_opening(p: Paper, when: date = D2) -> Paper:
    return p.all(vessel="Harl Sound", engine="1", date=when.isoformat(), counter_h="25100")


# 1 one row a reading -------------------------------------------------------------------------------------------


def long_list(
    name: str, style: str, words: dict[str, str], comma: bool = False, text: bool = False, country: str = ""
) -> Paper:
    p = Paper(name, "Data", style, seed=len(name))
    p.comma, p.as_text, p.country = comma, text, country
    heads = [
        words[k]
        for k in ("vessel", "engine", "date", "hours", "bearing", "no", "half", "wall", "gauge", "remark")
    ]
    p.row(1, 1, heads, head=True)
    row = 2
    for when, hours in ((D1, 8120), (D2, 25100)):
        for number in range(1, 5):
            for half in ("upper", "lower"):
                shown = f"{when:%d.%m.%Y}" if text else when
                p.row(row, 1, ["Harl Sound", 1, shown, hours, words["main"], number, words[half]])
                p.reading(
                    row,
                    8,
                    p.wall(),
                    vessel="Harl Sound",
                    engine="1",
                    date=when.isoformat(),
                    counter_h=str(hours),
                    bearing="main",
                    position=str(number),
                    half=half,
                    point="crown",
                    quantity="wall",
                )
                p.row(row, 9, ["M-14"])
                if number == 3:
                    p.row(row, 10, ["light scoring, 2 marks"])
                row += 1
    return p


ENGLISH = dict(vessel="Ship", engine="Engine", date="Date", hours="Running hours", bearing="Bearing", no="No.", half="Half",
               wall="Wall thickness [mm]", gauge="Micrometer", remark="Remarks", main="Main", upper="Upper", lower="Lower")  # fmt: skip
GERMAN = dict(vessel="Schiff", engine="Maschine", date="Datum", hours="Betriebsstunden", bearing="Lager", no="Nr.",
              half="Schale", wall="Wandstärke (mm)", gauge="Messgerät", remark="Bemerkungen", main="Hauptlager",
              upper="oben", lower="unten")  # fmt: skip
DUTCH = dict(vessel="Schip", engine="Motor", date="Datum", hours="Draaiuren", bearing="Lager", no="Nr", half="Schaal",
             wall="Wanddikte mm", gauge="Micrometer", remark="Opmerking", main="Hoofdlager", upper="boven", lower="onder")  # fmt: skip
SPANISH = dict(vessel="Buque", engine="Motor", date="Fecha", hours="Horas de marcha", bearing="Cojinete", no="N.º",
               half="Mitad", wall="Espesor (mm)", gauge="Micrómetro", remark="Observaciones", main="Bancada",
               upper="superior", lower="inferior")  # fmt: skip


# 2 one row a place, quantities across, one opening; title block ---------------------------------------------------


def title(p: Paper, row: int, kind: str) -> int:
    """Ship, engine, date and hours of the one opening, in some way that people have."""
    one_opening(p)
    if kind == "beside":
        p.row(row, 1, ["Vessel:", "Harl Sound", None, "Date:", D2])
        p.row(row + 1, 1, ["Engine No.", 1, None, "Running hrs:", 25100])
        return row + 3
    if kind == "below":
        p.row(row, 1, ["Ship", "Engine", "Date", "Total running hours"], head=True)
        p.row(row + 1, 1, ["Harl Sound", 1, D2, "25 100"])
        return row + 3
    if kind == "one cell":
        p.put(row, 1, "Vessel: Harl Sound")
        p.put(row + 1, 1, "Engine: 1")
        p.put(row + 2, 1, "Date: 12 September 2017")
        p.put(row + 3, 1, "Hours: 25,100")
        return row + 5
    if kind == "german text":
        p.answers["date_order"] = "day month year"
    p.row(row, 1, ["Schiff", "Harl Sound"])
    p.row(row + 1, 1, ["Maschine Nr.", "1"])
    p.row(row + 2, 1, ["Datum", "12.09.2017" if kind == "german text" else D2])
    p.row(row + 3, 1, ["Betriebsstunden", "25.100" if kind == "german text" else 25100])
    return row + 5


def place_rows(
    name: str, style: str, kind: str, unit_at: str, places: str = "Main {}", unit: str = "mm"
) -> Paper:
    p = Paper(name, "Main bearings", style, seed=len(name) + 7)
    at = title(p, 3, kind)
    p.merge(1, 1, 1, 6, "MAIN BEARING INSPECTION", head=True)
    p.put(at, 1, "Bearing" if unit_at != "corner" else f"Bearing ({unit})", head=True)
    tail = f" ({unit})" if unit_at == "head" else ""
    p.row(at, 2, ["Upper shell" + tail, "Lower shell" + tail, "Clearance" + tail, "Remarks"], head=True)
    first = at + 1
    if unit_at == "below":
        p.row(at + 1, 2, [unit, unit, unit])
        first = at + 2
    for number in range(1, 8):
        row = first + number - 1
        p.put(row, 1, places.format(number))
        for column, half in ((2, "upper"), (3, "lower")):
            if number == 4 and half == "upper":
                p.put(row, column, "N/A")
                continue
            p.reading(
                row,
                column,
                p.wall(),
                unit,
                bearing="main",
                position=str(number),
                half=half,
                point="crown",
                quantity="wall",
            )
        p.reading(
            row,
            4,
            p.clearance(),
            unit,
            digits=2,
            bearing="main",
            position=str(number),
            half="",
            point="",
            quantity="clearance",
        )
    p.put(first + 5, 5, "oil hole edge polished")
    if unit_at == "above":
        p.put(2, 1, f"All dimensions in {unit}")
    p.put(first + 8, 1, "Mean")
    p.put(first + 8, 3, 7.981)
    p.put(first + 9, 1, "Note: No. 4 upper not taken out this time.")
    return p


# 3 places across, points down -----------------------------------------------------------------------------------


def places_across(
    name: str, style: str, corner: str, points: list[tuple[str, str]], count: int = 7, comma: bool = False
) -> Paper:
    p = Paper(name, "MB", style, seed=len(name) + 3)
    p.comma, p.as_text = comma, comma
    at = title(p, 1, "german text" if comma else "beside")
    p.put(
        at,
        1,
        "Grundlager, untere Schale, Wandstärke" if comma else "Main bearings, lower shells: wall thickness",
        head=True,
    )
    p.put(at + 1, 1, corner, head=True)
    p.row(at + 1, 2, list(range(1, count + 1)), head=True)
    for index, (word, point) in enumerate(points):
        p.put(at + 2 + index, 1, word)
        for number in range(1, count + 1):
            if number == 2 and index == 1:
                p.put(at + 2 + index, 1 + number, "-")
                continue
            p.reading(
                at + 2 + index,
                1 + number,
                p.wall(),
                bearing="main",
                position=str(number),
                half="lower",
                point=point,
                quantity="wall",
            )
    return p


# 4 a block per bearing kind, or per quantity, down the sheet ------------------------------------------------------


def kind_blocks(name: str, style: str, across: bool, country: str = "") -> Paper:
    p = Paper(name, "Bearings", style, seed=len(name))
    p.country, p.comma = country, bool(country)
    p.answers |= {"date_order": "day month year"} if country else {}
    at = title(p, 1, "beside")
    for words, bearing, count, new in (
        ("Main bearings", "main", 7, 8.0),
        ("Big end bearings", "big_end", 6, 6.5),
    ):
        p.put(at, 1, f"{words} - shell thickness mm")
        if across:
            p.row(at + 1, 1, ["No."] + list(range(1, count + 1)), head=True)
            for k, half in enumerate(("upper", "lower")):
                p.put(at + 2 + k, 1, half.capitalize())
                for number in range(1, count + 1):
                    p.reading(
                        at + 2 + k,
                        1 + number,
                        p.wall(new),
                        bearing=bearing,
                        position=str(number),
                        half=half,
                        point="crown",
                        quantity="wall",
                    )
            at += 6
            continue
        p.row(at + 1, 1, ["No.", "Upper", "Lower"], head=True)
        for number in range(1, count + 1):
            p.put(at + 1 + number, 1, number)
            for k, half in enumerate(("upper", "lower")):
                p.reading(
                    at + 1 + number,
                    2 + k,
                    p.wall(new),
                    bearing=bearing,
                    position=str(number),
                    half=half,
                    point="crown",
                    quantity="wall",
                )
        at += count + 4
    p.put(at, 1, "Checked by: R. Tamm")
    return p


def quantity_blocks(name: str, style: str) -> Paper:
    p = Paper(name, "2017", style, seed=5)
    at = title(p, 1, "below")
    p.put(at, 1, "MAIN BEARINGS")
    p.put(at + 1, 1, "Wall thickness, lower shell (mm)")
    p.row(at + 2, 1, ["Bearing", "Fore", "Aft"], head=True)
    for number in range(1, 8):
        p.put(at + 2 + number, 1, f"No. {number}")
        for k, point in enumerate(("crown_fore", "crown_aft")):
            p.reading(
                at + 2 + number,
                2 + k,
                p.wall(),
                bearing="main",
                position=str(number),
                half="lower",
                point=point,
                quantity="wall",
            )
    at += 11
    p.put(at, 1, "Main bearing clearance (mm)")
    p.row(at + 1, 1, ["Bearing", "Measured", "Max. allowed"], head=True)
    for number in range(1, 8):
        p.put(at + 1 + number, 1, f"No. {number}")
        p.reading(
            at + 1 + number,
            2,
            p.clearance(),
            digits=2,
            bearing="main",
            position=str(number),
            half="",
            point="",
            quantity="clearance",
        )
        p.put(at + 1 + number, 3, 0.33)
    return p


# 5 openings across ----------------------------------------------------------------------------------------------


def openings_across(
    name: str, style: str, text: bool = False, halves: str = "words", country: str = ""
) -> Paper:
    p = Paper(name, "ME1 mains", style, seed=len(name))
    p.comma = p.as_text = text
    p.country, p.comma = country, text or bool(country)
    p.row(1, 1, ["Schip" if text else "Vessel", "Harl Sound"])
    p.row(2, 1, ["Motor nr." if text else "Engine", "1"])
    p.all(vessel="Harl Sound", engine="1", bearing="main", quantity="wall", point="crown")
    p.put(4, 1, "Hoofdlagers, wanddikte in mm" if text else "Main bearing shells, wall thickness in mm")
    openings = ((D1, 8120), (D2, 25100), (D3, 41230))
    p.put(5, 1, "Datum" if text else "Date", head=True)
    p.put(6, 1, "Draaiuren" if text else "Running hours", head=True)
    for k, (when, hours) in enumerate(openings):
        p.put(5, 2 + k, f"{when:%d-%m-%Y}" if text else when, head=True)
        p.put(6, 2 + k, f"{hours // 1000}.{hours % 1000:03d}" if text else hours, head=True)
    row = 7
    for number in range(1, 7):
        for half, word in (("upper", "boven" if text else "upper"), ("lower", "onder" if text else "lower")):
            p.put(row, 1, f"{number} {word}")
            for k, (when, hours) in enumerate(openings):
                if number == 5 and k == 1:
                    p.put(row, 2 + k, "n.a.")
                    continue
                p.reading(
                    row,
                    2 + k,
                    p.wall(),
                    position=str(number),
                    half=half,
                    date=when.isoformat(),
                    counter_h=str(hours),
                )
            row += 1
    p.put(row + 1, 1, "Metingen door de tweede wtk." if text else "n.a.: not opened")
    return p


# 6 heads of two and three rows, merged ---------------------------------------------------------------------------


def merged_heads(name: str, style: str, rows: int, unit: str = "mm") -> Paper:
    p = Paper(name, "Shells", style, seed=len(name))
    at = title(p, 2, "beside")
    p.merge(1, 1, 1, 9, f"Shell measurement record, all in {unit}")
    column = 2
    kinds = (
        (("Main bearings", "main"),) if rows == 2 else (("Main bearings", "main"), ("Big ends", "big_end"))
    )
    p.merge(at, 1, at + rows - 1, 1, "No.")
    spans: list[tuple[int, str, str, str]] = []
    for words, bearing in kinds:
        if rows == 3:
            p.merge(at, column, at, column + 3, words)
        for half in ("upper", "lower"):
            p.merge(at + rows - 2, column, at + rows - 2, column + 1, f"{half.capitalize()} shell")
            for word, point in (("fwd", "crown_fore"), ("aft", "crown_aft")):
                p.put(at + rows - 1, column, word, head=True)
                spans.append((column, bearing, half, point))
                column += 1
    if rows == 2:
        p.put(at - 1, 1, "Main bearings: wall")
    else:
        p.put(at - 1, 1, "Wall thickness")
    for number in range(1, 7):
        p.put(at + rows - 1 + number, 1, number)
        for column, bearing, half, point in spans:
            p.reading(
                at + rows - 1 + number,
                column,
                p.wall(8.0 if bearing == "main" else 6.5),
                unit,
                bearing=bearing,
                position=str(number),
                half=half,
                point=point,
                quantity="wall",
            )
    return p


# 7 one row an opening, places across: the office's history ------------------------------------------------------------


def office_history(name: str, style: str, heads: str = "MB {}", unit: str = "mm") -> Paper:
    p = Paper(name, "Lower shells", style, seed=len(name))
    p.row(1, 1, [f"Main bearing wear history - wall thickness of lower shells in {unit}"])
    p.row(
        3,
        1,
        ["Vessel", "Eng.", "Opened", "Hours", *(heads.format(n) for n in range(1, 8)), "Measured by"],
        head=True,
    )
    row = 4
    for vessel in ("Harl Sound", "Nore Tern"):
        for when, hours in ((D1, 8120), (D2, 25100), (D3, 41230)):
            p.row(row, 1, [vessel, 1, when, hours])
            for n in range(1, 8):
                if n == 6 and when == D1:
                    p.put(row, 4 + n, "-")
                    continue
                p.reading(
                    row,
                    4 + n,
                    p.wall(),
                    unit,
                    vessel=vessel,
                    engine="1",
                    date=when.isoformat(),
                    counter_h=str(hours),
                    bearing="main",
                    position=str(n),
                    half="lower",
                    point="crown",
                    quantity="wall",
                )
            p.put(row, 12, "R. Tamm")
            row += 1
    p.row(row + 1, 1, ["min", None, None, None, 7.95])
    return p


# 8 a block per opening down the sheet -----------------------------------------------------------------------------------


def opening_blocks(name: str, style: str, words: str) -> Paper:
    p = Paper(name, "History", style, seed=len(name))
    p.row(1, 1, ["Ship", "Harl Sound", None, "Engine", "1"])
    p.put(2, 1, "Main bearings, wall thickness (mm)")
    p.all(vessel="Harl Sound", engine="1", bearing="main", quantity="wall", point="crown")
    at = 4
    for when, hours in ((D1, 8120), (D2, 25100)):
        if words == "title":
            p.put(at, 1, f"Opening of {when.isoformat()}, {hours} hours")
        else:
            p.row(at, 1, ["Date", when, "Running hours", hours])
        p.row(at + 1, 1, ["Bearing no.", 1, 2, 3, 4, 5], head=True)
        for k, half in enumerate(("upper", "lower")):
            p.put(at + 2 + k, 1, f"{half} shell")
            for n in range(1, 6):
                p.reading(
                    at + 2 + k,
                    1 + n,
                    p.wall(),
                    position=str(n),
                    half=half,
                    date=when.isoformat(),
                    counter_h=str(hours),
                )
        at += 6
    return p


# 9 a block per bearing, openings down ------------------------------------------------------------------------------------


def bearing_blocks(name: str, style: str) -> Paper:
    p = Paper(name, "by bearing", style, seed=len(name))
    p.row(1, 1, ["Vessel", "Harl Sound"])
    p.row(2, 1, ["Engine", "1"])
    p.put(3, 1, "Wall thickness in mm")
    at = 5
    for n in range(1, 5):
        p.put(at, 1, f"Main bearing {n}")
        p.row(at + 1, 1, ["Date", "Hours", "Upper", "Lower", "Gauge"], head=True)
        for k, (when, hours) in enumerate(((D1, 8120), (D2, 25100), (D3, 41230))):
            p.row(at + 2 + k, 1, [when, hours])
            for c, half in ((3, "upper"), (4, "lower")):
                p.reading(
                    at + 2 + k,
                    c,
                    p.wall(),
                    vessel="Harl Sound",
                    engine="1",
                    date=when.isoformat(),
                    counter_h=str(hours),
                    bearing="main",
                    position=str(n),
                    half=half,
                    point="crown",
                    quantity="wall",
                )
            p.put(at + 2 + k, 5, "BM-2")
        at += 6
    return p


# 10 two tables side by side ---------------------------------------------------------------------------------------------


def side_by_side(name: str, style: str) -> Paper:
    p = Paper(name, "Report", style, seed=len(name))
    at = title(p, 1, "beside")
    p.put(at, 1, "Main bearing lower shells, wall (mm)")
    p.put(at, 6, "Main bearing clearances (mm)")
    p.row(at + 1, 1, ["No.", "Crown fore", "Crown aft"], head=True)
    p.row(at + 1, 6, ["No.", "Clearance"], head=True)
    for n in range(1, 8):
        p.put(at + 1 + n, 1, n)
        for c, point in ((2, "crown_fore"), (3, "crown_aft")):
            p.reading(
                at + 1 + n,
                c,
                p.wall(),
                bearing="main",
                position=str(n),
                half="lower",
                point=point,
                quantity="wall",
            )
        p.put(at + 1 + n, 6, n)
        p.reading(
            at + 1 + n,
            7,
            p.clearance(),
            digits=2,
            bearing="main",
            position=str(n),
            half="",
            point="",
            quantity="clearance",
        )
    return p


# 11 a worksheet each ----------------------------------------------------------------------------------------------------


def sheet_each(name: str, style: str) -> Paper:
    p = Paper(name, "Main bearings", style, seed=len(name))
    for k, (words, bearing, count, new) in enumerate(
        (("Main bearings", "main", 7, 8.0), ("Big ends", "big_end", 6, 6.5))
    ):
        if k:
            p.new_sheet(words)
        at = title(p, 1, "beside")
        p.put(at, 1, f"{words}, wall thickness, mm")
        p.row(at + 1, 1, ["Position", "Half", "Crown", "45 port", "45 stbd"], head=True)
        row = at + 2
        for n in range(1, count + 1):
            for half in ("upper", "lower"):
                if half == "upper":
                    p.put(row, 1, n)
                p.put(row, 2, half)
                for c, point in ((3, "crown"), (4, "p45"), (5, "s45")):
                    p.reading(
                        row,
                        c,
                        p.wall(new),
                        bearing=bearing,
                        position=str(n),
                        half=half,
                        point=point,
                        quantity="wall",
                    )
                row += 1
    p.new_sheet("Read me")
    p.put(1, 1, "Measured after the docking; cold engine.")
    return p


# 12 as found and as left -------------------------------------------------------------------------------------------------


def found_left(name: str, style: str) -> Paper:
    p = Paper(name, "Opening", style, seed=len(name))
    at = title(p, 1, "one cell")
    p.put(at, 1, "Big end bearings, upper shell, wall mm")
    p.row(at + 1, 1, ["Cyl.", "As found", "As left", "Remark"], head=True)
    for n in range(1, 7):
        p.put(at + 1 + n, 1, n)
        p.reading(
            at + 1 + n,
            2,
            p.wall(6.5),
            bearing="big_end",
            position=str(n),
            half="upper",
            point="crown",
            quantity="wall",
            state="as_found",
        )
        if n in (2, 5):
            p.reading(
                at + 1 + n,
                3,
                6.497,
                bearing="big_end",
                position=str(n),
                half="upper",
                point="crown",
                quantity="wall",
                state="as_left",
            )
            p.put(at + 1 + n, 4, "new shell fitted")
    return p


# 13 clearances alone; axial clearance; web deflections; journals ------------------------------------------------------------


def clearances(name: str, style: str, hundredths: bool = False) -> Paper:
    p = Paper(name, "Clearances", style, seed=len(name))
    at = title(p, 1, "beside")
    unit = "1/100 mm" if hundredths else "mm"
    p.put(at, 1, f"Bearing clearances in {unit}")
    p.row(at + 1, 1, ["Main bearing", 1, 2, 3, 4, 5, 6, 7], head=True)
    p.put(at + 2, 1, "Clearance")
    for n in range(1, 8):
        p.reading(
            at + 2,
            1 + n,
            p.clearance(),
            "0.01 mm" if hundredths else "mm",
            digits=2,
            bearing="main",
            position=str(n),
            half="",
            point="",
            quantity="clearance",
        )
    p.row(at + 4, 1, ["Thrust bearing, axial clearance", None])
    p.reading(
        at + 4,
        2,
        0.41,
        "0.01 mm" if hundredths else "mm",
        digits=2,
        bearing="thrust",
        position="7",
        half="",
        point="",
        quantity="axial_clearance",
    )
    p.answers["position_of"] = {"thrust": "7"}
    return p


def deflections(name: str, style: str) -> Paper:
    p = Paper(name, "Deflection", style, seed=len(name))
    at = title(p, 1, "beside")
    p.put(at, 1, "Crankshaft web deflection (mm)")
    p.row(at + 1, 1, ["Cylinder", 1, 2, 3, 4, 5, 6], head=True)
    for k, (word, point) in enumerate(
        (
            ("Bottom port", "bottom_p"),
            ("Port", "port"),
            ("Top", "top"),
            ("Starboard", "starboard"),
            ("Bottom stbd", "bottom_s"),
        )
    ):
        p.put(at + 2 + k, 1, word)
        for n in range(1, 7):
            p.reading(
                at + 2 + k,
                1 + n,
                p.random.choice((-0.02, -0.01, 0.0, 0.01, 0.02)),
                digits=2,
                bearing="big_end",
                position=str(n),
                half="",
                point=point,
                quantity="web_deflection",
            )
    return p


def journals(name: str, style: str) -> Paper:
    p = Paper(name, "Journals", style, seed=len(name))
    at = title(p, 1, "below")
    p.put(at, 1, "Main journal diameter, mm")
    p.row(at + 1, 1, ["Journal no.", "V1", "V2", "H1", "H2"], head=True)
    for n in range(1, 8):
        p.put(at + 1 + n, 1, n)
        for c, point in enumerate(("v1", "v2", "h1", "h2"), start=2):
            p.reading(
                at + 1 + n,
                c,
                219.985 + p.random.uniform(0, 0.01),
                bearing="main",
                position=str(n),
                half="",
                point=point,
                quantity="journal_diameter",
            )
    return p


# 14 vee engines; own abbreviations; no unit; no hours -------------------------------------------------------------------------


def vee(name: str, style: str) -> Paper:
    p = Paper(name, "Big ends", style, seed=len(name))
    at = title(p, 1, "beside")
    p.put(at, 1, "Crankpin bearings, upper shell, wall thickness mm")
    p.row(at + 1, 1, ["Position", "Fore", "Aft"], head=True)
    row = at + 2
    for bank in "AB":
        for n in range(1, 5):
            p.put(row, 1, f"{bank}{n}")
            for c, point in ((2, "crown_fore"), (3, "crown_aft")):
                p.reading(
                    row,
                    c,
                    p.wall(6.5),
                    bearing="big_end",
                    position=f"{bank}{n}",
                    half="upper",
                    point=point,
                    quantity="wall",
                )
            row += 1
    return p


def abbreviations(name: str, style: str) -> Paper:
    p = Paper(name, "List", style, seed=len(name))
    p.row(1, 1, ["Ship", "Eng", "Date", "RH", "Brg", "Pos", "Sh", "mm"], head=True)
    row = 2
    for word, bearing, new in (("MB", "main", 8.0), ("PB", "big_end", 6.5)):
        for n in range(1, 4):
            for sign, half in (("U", "upper"), ("L", "lower")):
                p.row(row, 1, ["Harl Sound", 1, D2, 25100, word, n, sign])
                p.reading(
                    row,
                    8,
                    p.wall(new),
                    vessel="Harl Sound",
                    engine="1",
                    date=D2.isoformat(),
                    counter_h="25100",
                    bearing=bearing,
                    position=str(n),
                    half=half,
                    point="crown",
                    quantity="wall",
                )
                row += 1
    p.answers = {"texts": {"PB": "big_end", "U": "upper", "L": "lower", "Sh": "half"}, "quantity": "wall"}
    return p


def no_unit(name: str, style: str) -> Paper:
    p = Paper(name, "Wear", style, seed=len(name))
    at = title(p, 1, "beside")
    p.put(at, 1, "Main bearing lower shells, thickness")
    p.row(at + 1, 1, ["No.", "Crown", "Eccentricity"], head=True)
    for n in range(1, 8):
        p.put(at + 1 + n, 1, n)
        p.reading(
            at + 1 + n,
            2,
            p.wall(),
            bearing="main",
            position=str(n),
            half="lower",
            point="crown",
            quantity="wall",
        )
        p.put(at + 1 + n, 3, 0.01)
    p.answers = {"unit": "mm", "texts": {"Eccentricity": "nothing"}}
    return p


def ambiguous_dates(name: str, style: str) -> Paper:
    p = Paper(name, "Sheet1", style, seed=len(name))
    p.as_text = True
    p.row(1, 1, ["Vessel", "Engine", "Date", "Hours", "Main bearing", "Upper (mm)", "Lower (mm)"], head=True)
    for k, (text, iso) in enumerate((("05/06/2015", "2015-06-05"), ("03/07/2018", "2018-07-03"))):
        for n in range(1, 4):
            row = 2 + 3 * k + n - 1
            p.row(row, 1, ["Harl Sound", "1", text, 8000 * (k + 1), n])
            for c, half in ((6, "upper"), (7, "lower")):
                p.reading(
                    row,
                    c,
                    p.wall(),
                    vessel="Harl Sound",
                    engine="1",
                    date=iso,
                    counter_h=str(8000 * (k + 1)),
                    bearing="main",
                    position=str(n),
                    half=half,
                    point="crown",
                    quantity="wall",
                )
    p.answers = {"date_order": "day month year"}
    return p


def comma_walls(name: str, style: str) -> Paper:
    """Only figures of three decimals after a comma, and a date that may be read two ways."""
    p = Paper(name, "Blad1", style, seed=len(name))
    p.comma = p.as_text = True
    p.row(1, 1, ["Schip", "Harl Sound"])
    p.row(2, 1, ["Motor", "1"])
    p.row(3, 1, ["Datum", "12.09.2017"])
    p.row(4, 1, ["Draaiuren", 25100])
    one_opening(p)
    p.put(6, 1, "Hoofdlager wanddikte mm")
    p.row(7, 1, ["Nr", "boven", "onder"], head=True)
    for n in range(1, 6):
        p.put(7 + n, 1, n)
        for c, half in ((2, "upper"), (3, "lower")):
            p.reading(
                7 + n, c, p.wall(), bearing="main", position=str(n), half=half, point="crown", quantity="wall"
            )
    p.answers = {"date_order": "day month year"}
    return p


def unnamed_ship(name: str, style: str) -> Paper:
    p = Paper(name, "Sheet1", style, seed=len(name))
    p.row(1, 1, ["Main bearing report", None, None])
    p.row(2, 1, ["Date of inspection", D2])
    p.row(3, 1, ["Hours", 25100])
    one_opening(p)
    p.row(5, 1, ["Main bearing", "Upper shell mm", "Lower shell mm", "Wear"], head=True)
    for n in range(1, 7):
        p.put(5 + n, 1, n)
        for c, half in ((2, "upper"), (3, "lower")):
            p.reading(
                5 + n, c, p.wall(), bearing="main", position=str(n), half=half, point="crown", quantity="wall"
            )
        p.put(5 + n, 4, 0.01)
    p.answers = {"vessel": "Harl Sound", "engine": "1", "texts": {"Wear": "nothing"}}
    return p


def previous_beside(name: str, style: str) -> Paper:
    p = Paper(name, "Compare", style, seed=len(name))
    at = title(p, 1, "beside")
    p.put(at, 1, "Main bearings, lower shell wall (mm)")
    p.row(at + 1, 1, ["Bearing", "Previous", "This time", "Difference", "Limit"], head=True)
    for n in range(1, 8):
        p.put(at + 1 + n, 1, n)
        now = p.wall()
        p.put(at + 1 + n, 2, round(now + 0.004, 3))
        p.reading(
            at + 1 + n, 3, now, bearing="main", position=str(n), half="lower", point="crown", quantity="wall"
        )
        p.row(at + 1 + n, 4, [0.004, 7.95])
    return p


# others, as they were sent ----------------------------------------------------------------------------------------


def halves_down(name: str, style: str) -> Paper:
    """A half after the other down the sheet, points down and places across, all typed as text, a temperature below."""
    p = Paper(name, "Grundlager", style, seed=41)
    p.comma = p.as_text = True
    p.all(
        vessel="Nore Light",
        engine="BB",
        date="2019-05-17",
        counter_h="25100",
        bearing="main",
        quantity="wall",
    )
    p.merge(1, 1, 1, 8, "Protokoll Grundlagerschalen")
    p.row(2, 1, ["Schiff:", "Nore Light", None, "Motor:", "BB"])
    p.row(3, 1, ["Datum:", "17.05.2019", None, "Betriebsstunden:", "25 100"])
    p.row(5, 1, ["Lager", 1, 2, 3, 4, 5], head=True)
    row = 6
    for half, text in (("upper", "Oberschale"), ("lower", "Unterschale")):
        p.merge(row, 1, row, 6, text)
        for step, (said, point) in enumerate(
            (("vorne", "crown_fore"), ("Mitte", "crown"), ("hinten", "crown_aft")), 1
        ):
            p.put(row + step, 1, said)
            for number in range(1, 6):
                p.reading(row + step, 1 + number, p.wall(), position=str(number), half=half, point=point)
        row += 4
    p.put(row + 1, 1, "Alle Maße in mm")
    p.put(row + 2, 1, "22 °C im Maschinenraum, Lager 3 leicht riefig")
    return p


def report_form(name: str, style: str) -> Paper:
    """Heads over three points of each half and a clearance; an engine named by its side; the room's temperature."""
    p = Paper(name, "Sheet1", style, seed=43)
    p.all(
        vessel="Harl Sound", engine="Port main engine", date="2019-05-17", counter_h="25100", bearing="main"
    )
    p.merge(1, 2, 1, 10, "MAIN BEARING INSPECTION REPORT")
    p.row(2, 1, ["M/V", "Harl Sound", None, None, None, "Running hrs", 25100])
    p.row(3, 1, ["Engine No.", "Port main engine", None, None, None, "Date of inspection", date(2019, 5, 17)])
    p.row(4, 1, ["Room temp.", "22 °C"])
    p.merge(6, 1, 7, 1, "Brg No.")
    p.merge(6, 2, 6, 4, "Upper shell thickness [mm]")
    p.merge(6, 5, 6, 7, "Lower shell thickness [mm]")
    p.merge(6, 8, 7, 8, "Clearance [mm]")
    p.merge(6, 9, 7, 9, "Remarks")
    p.row(7, 2, ["Fore", "Mid", "Aft"] * 2, head=True)
    for number in range(1, 8):
        p.put(7 + number, 1, number)
        for column in range(2, 8):
            if (number, column) == (2, 4):
                p.put(9, 4, "N/A")
                continue
            half, point = (
                ("upper", "lower")[column > 4],
                ("crown_fore", "crown", "crown_aft")[(column - 2) % 3],
            )
            p.reading(
                7 + number, column, p.wall(), position=str(number), half=half, point=point, quantity="wall"
            )
        if number == 3:
            p.put(10, 8, "-")
        else:
            p.reading(7 + number, 8, p.clearance(), digits=2, position=str(number), quantity="clearance")
        p.put(7 + number, 9, "OK")
    p.put(16, 1, "Inspected by: J. Quill")
    return p


def short_list(name: str, style: str) -> Paper:
    """An office's list under the shortest heads there are, exported with its country's signs."""
    p = Paper(name, "Sheet1", style, seed=47)
    p.comma, p.country = True, "[$-407]"
    p.row(
        1,
        1,
        ["Ship", "Engine", "Insp. date", "R/H", "Brg", "No", "Shell", "Thickness mm", "Gauge", "By"],
        head=True,
    )
    row = 2
    for when, hours in ((D1, 8120), (date(2019, 5, 17), 25100)):
        for number in range(1, 8):
            for half in ("Upper", "Lower"):
                p.row(row, 1, ["Nore Light", "BB", when, hours, "Main", number, half])
                p.reading(row, 8, p.wall(), vessel="Nore Light", engine="BB", date=when.isoformat(), bearing="main",
                          counter_h=str(hours), position=str(number), half=half.casefold(), point="crown", quantity="wall")  # fmt: skip
                p.row(row, 9, ["BM-1", "JQ"])
                row += 1
    return p


def all_sheets() -> list[tuple[Paper, str]]:
    p45 = [("Fore", "crown_fore"), ("Aft", "crown_aft"), ("45 port", "p45"), ("45 starboard", "s45")]
    return [
        (long_list("long_english", "plain", ENGLISH), ""),
        (long_list("long_office", "office", ENGLISH), "xlsx"),
        (long_list("long_german", "plain", GERMAN, comma=True, country="[$-407]"), GERMAN_CSV),
        (long_list("long_dutch_text", "boxed", DUTCH, comma=True, text=True), ""),
        (long_list("long_spanish", "office", SPANISH), ""),
        (long_list("long_us_csv", "plain", ENGLISH), US_CSV),
        (place_rows("rows_unit_in_head", "office", "beside", "head"), ""),
        (place_rows("rows_unit_in_corner", "plain", "below", "corner", "{}"), ""),
        (place_rows("rows_unit_below", "boxed", "one cell", "below", "MB{}"), ""),
        (place_rows("rows_unit_above", "plain", "beside", "above", "No. {}", "um"), "xlsx"),
        (place_rows("rows_tab", "plain", "beside", "head", "Main bearing {}"), TAB_CSV),
        (places_across("across_points", "office", "mm", p45), ""),
        (places_across("across_points_saved", "boxed", "Point / mm", p45, 6), "xlsx"),
        (places_across("across_german", "plain", "mm", [("vorne", "crown_fore"), ("hinten", "crown_aft")], comma=True), ""),
        (kind_blocks("kinds_down", "plain", across=False), ""),
        (kind_blocks("kinds_across", "office", across=True), "xlsx"),
        (kind_blocks("kinds_across_csv", "office", across=True, country="[$-413]"), DUTCH_CSV),
        (quantity_blocks("quantity_blocks", "plain"), ""),
        (quantity_blocks("quantity_blocks_saved", "boxed"), "xlsx"),
        (openings_across("openings_across", "office"), ""),
        (openings_across("openings_across_dutch", "plain", text=True), ""),
        (openings_across("openings_across_csv", "plain", country="[$-407]"), GERMAN_CSV),
        (merged_heads("heads_two", "office", 2), ""),
        (merged_heads("heads_two_um", "boxed", 2, "um"), "xlsx"),
        (merged_heads("heads_three", "office", 3), ""),
        (merged_heads("heads_three_saved", "plain", 3), "xlsx"),
        (office_history("office_history", "office"), ""),
        (office_history("office_history_um", "plain", "Main {}", "um"), US_CSV),
        (office_history("office_history_plain", "plain", "{}"), ""),
        (opening_blocks("opening_blocks", "plain", "title"), ""),
        (opening_blocks("opening_blocks_pairs", "boxed", "pairs"), ""),
        (bearing_blocks("bearing_blocks", "office"), ""),
        (bearing_blocks("bearing_blocks_csv", "plain"), TAB_CSV),
        (side_by_side("side_by_side", "boxed"), ""),
        (sheet_each("sheet_each", "office"), ""),
        (sheet_each("sheet_each_saved", "plain"), "xlsx"),
        (found_left("found_left", "plain"), ""),
        (clearances("clearances", "office"), ""),
        (clearances("clearances_hundredths", "plain", hundredths=True), ""),
        (deflections("deflections", "boxed"), ""),
        (journals("journals", "plain"), ""),
        (vee("vee_engine", "office"), ""),
        (abbreviations("abbreviations", "plain"), ""),
        (no_unit("no_unit", "plain"), ""),
        (ambiguous_dates("ambiguous_dates", "plain"), ""),
        (comma_walls("comma_walls", "plain"), ""),
        (unnamed_ship("unnamed_ship", "boxed"), ""),
        (previous_beside("previous_beside", "office"), ""),
        (halves_down("halves_down", "office"), ""),
        (report_form("report_form", "boxed"), ""),
        (report_form("report_form_saved", "office"), "xlsx"),
        (short_list("short_list", "plain"), GERMAN_CSV),
    ]  # fmt: skip


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    for paper, how in all_sheets():
        if sys.argv[1:] and paper.name not in sys.argv[1:]:
            continue
        made = paper.save(HERE)
        if how:
            by_soffice(made, how)
        print(paper.name, len(paper.truth))
