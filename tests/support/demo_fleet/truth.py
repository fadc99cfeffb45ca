"""The truth beside the demo: what was planted, and where each story is to be seen."""

from __future__ import annotations

from typing import Any

from demo_fleet import openings as o
from demo_fleet import world as w
from demo_fleet.histories import allowance_left_um
from demo_fleet.shells import Chance, Shell
from demo_fleet.tables import SLIPS, Fleet, Rows

MADE_BY = "wearcast demo"


def truth_of(fleet: Fleet, seed: int) -> dict[str, Any]:
    """Everything planted, as plain values ready for JSON; rows count as a spreadsheet shows them."""
    return {
        "made_by": MADE_BY,
        "about": "Invented vessels, documents and values. What was planted, for scoring forecasts; not an input.",
        "seed": seed,
        "units": "lengths in mm, wear and errors in um, rates in um per 1000 running hours, hours in h",
        "errors": {
            "reading_sd_um": dict(w.READING_SD),
            "opening_sd_um": dict(w.OPENING_SD),
            "uneven_wear_sd_um_per_sqrt_kh": {
                " ".join(k): w.UNEVEN_SD * v for k, v in w.SPREAD_SHARE.items()
            },
            "running_in_um": w.RUNNING_IN_UM,
            "running_in_scale_kh": w.RUNNING_IN_SCALE_KH,
        },
        "journal_wear_um_per_kh": w.JOURNAL_RATE,
        "axial_wear_um_per_kh": w.AXIAL_RATE,
        "engines": {
            name: {"engine": w.ENGINE, "effect_um_per_kh": vessel.engine_effect}
            for name, vessel in w.VESSELS.items()
        },
        "position_rates_um_per_kh": {" ".join(kind): list(rates) for kind, rates in w.RATES.items()},
        "shells": [_shell(shell) for shells in fleet.shells.values() for shell in shells],
        "openings": _openings(Chance(seed)),
        "slips": _slips(fleet.tables["readings"]),
        "stories": _stories(fleet.tables),
        "readings": [
            {"row": row, "true_mm": round(reading.true_mm, 5), "true_position": str(reading.true_position)}
            for row, reading in enumerate(fleet.readings, start=2)
        ],
    }


def _shell(shell: Shell) -> dict[str, Any]:
    return {
        "vessel": shell.vessel, "engine": w.ENGINE, "bearing": shell.bearing, "position": str(shell.position),
        "half": shell.half, "shell_no": shell.shell_no, "shell_size": shell.shell_size,
        "fitted_on": shell.fitted_on, "fitted_h": shell.fitted_h,
        "removed_on": shell.removed_on or None, "removed_h": shell.removed_h,
        "new_wall_mm": round(shell.new_wall_mm, 5), "running_in_um": w.RUNNING_IN_UM,
        "rate_um_per_kh": round(shell.rate, 4),
        "of_which": {
            "position": shell.position_effect, "engine": round(shell.engine_effect, 4),
            "place": round(shell.place_effect, 4), "shell": round(shell.shell_effect, 4),
        },
        "fore_and_aft_um_per_kh": shell.tilt,
        "true_hours_to_limit": None if shell.removed_h else round(1000 * allowance_left_um(shell) / shell.rate),
        "path": [
            {"total_h": total_h, "shell_h": total_h - shell.fitted_h, "wear_um": round(wear, 3)}
            for total_h, wear in shell.path
        ],
    }  # fmt: skip


def _openings(chance: Chance) -> list[dict[str, Any]]:
    return [
        {
            "vessel": name, "engine": w.ENGINE, "date": opening.date, "total_h": opening.total_h,
            "counter_h": o.dial_h(name, opening.date, opening.total_h),
            "common_error_um": {
                quantity: round(chance.normal(sd, "opening", name, opening.date, quantity), 3)
                for quantity, sd in w.OPENING_SD.items()
            },
            "flat_anvil_um": o.FLAT_ANVIL[2] if (name, opening.date) == o.FLAT_ANVIL[:2] else 0.0,
            "written_from_wrong_end": (name, opening.date) == o.WRONG_END,
        }
        for name, openings in o.OPENINGS.items()
        for opening in openings
    ]  # fmt: skip


def _slips(readings: Rows) -> list[dict[str, Any]]:
    return [
        {
            "table": "readings", "row": rows[0], "column": "value", "written": slip.written,
            "measured": slip.measured, "how": slip.how,
        }
        for slip in SLIPS
        for rows in [_rows(readings, value=slip.written, **slip.where)]
    ]  # fmt: skip


def _rows(table: Rows, **where: str | tuple[str, ...]) -> list[int]:
    """Row numbers whose cells hold what is asked; a tuple means any of these."""
    wanted = {column: (value,) if isinstance(value, str) else value for column, value in where.items()}
    return [
        number
        for number, row in enumerate(table, start=2)
        if all(row[column] in values for column, values in wanted.items())
    ]


def _stories(tables: dict[str, Rows]) -> list[dict[str, Any]]:
    def story(letter: str, text: str, place: dict[str, Any], **rows: list[int]) -> dict[str, Any]:
        return {"story": letter, "text": text, **place, "rows": rows}

    def at(vessel: str, bearing: str = "", position: str = "", half: str = "") -> dict[str, Any]:
        return {"vessel": vessel, "engine": w.ENGINE, "bearing": bearing, "position": position, "half": half}

    readings, events = tables["readings"], tables["events"]
    high = {"vessel": w.MERROW, "bearing": "main", "position": "5"}
    ground_ship, ground_on, ground_main = o.REGRIND
    ground = {"vessel": ground_ship, "bearing": "main", "position": str(ground_main)}
    dirt = {"vessel": w.OSSEL, "bearing": "main", "position": "3", "half": "lower"}
    rod = {"vessel": w.OSSEL, "bearing": "big_end", "position": "2", "half": "upper"}
    loose = {"vessel": w.MERROW, "bearing": "main", "position": "2", "half": "lower"}
    unit_slip, decimal_slip = _slips(readings)
    return [
        story(
            "A", "Renewed at 41 200 h for embedded dirt: one line through both shells hides the wear.",
            at(w.OSSEL, "main", "3", "lower"),
            readings=_rows(readings, quantity="wall", **dirt),
            events=_rows(events, event=("renewal", "finding"), **dirt),
        ),
        story(
            "B", "Journal reground to U50 at 33 800 h; the store holds standard shells only.",
            at(ground_ship, "main", str(ground_main)),
            readings=_rows(readings, date=ground_on, **ground),
            events=_rows(events, date=ground_on, **ground),
            spares=_rows(tables["spares"], bearing="main"),
        ),
        story(
            "C", "Counter replaced at 52 310 h; the new one began at 0.", at(o.COUNTER_CHANGE[0]),
            events=_rows(events, event="counter_change"),
        ),
        story(
            "D",
            "Saddle stands high and tilted: the shell is overloaded and wears at 2.9 um per 1000 h, fore faster "
            "than aft; throws 4 and 5 start negative and climb as it wears, throws 3 and 6 the other way. A new "
            "shell alone restores the overload.",
            at(w.MERROW, "main", "5", "lower"),
            readings=_rows(readings, quantity="wall", half="lower", **high),
            clearances=_rows(readings, quantity="clearance", **high),
            deflections=_rows(
                readings, vessel=w.MERROW, quantity="web_deflection", position=("3", "4", "5", "6")
            ),
            events=_rows(events, event="renewal", **high),
        ),
        story(
            "E", "Two openings, one of them in running-in: not enough readings for a line of their own.",
            at(w.QUILLO), readings=_rows(readings, vessel=w.QUILLO, quantity="wall"),
        ),
        story(
            "F", "Micrometres typed under mm.", at(w.TARN, "main", "2", "lower"), readings=[unit_slip["row"]]
        ),
        story("F", "Decimal point slipped.", at(w.MERROW, "main", "4"), readings=[decimal_slip["row"]]),
        story(
            "G", "This opening was written counting from the flywheel.", at(w.OSSEL, "main"),
            readings=_rows(readings, vessel=o.WRONG_END[0], date=o.WRONG_END[1], bearing="main"),
        ),
        story(
            "H", "A loaned flat-anvil micrometer over-reads every wall of this opening by 48 um.", at(w.TARN),
            readings=_rows(readings, vessel=o.FLAT_ANVIL[0], date=o.FLAT_ANVIL[1], quantity="wall"),
        ),
        story(
            "I", "Near its limit, with a window before and one after the likely date.",
            at(w.OSSEL, "big_end", "2", "upper"),
            readings=_rows(readings, quantity="wall", **rod), windows=_rows(tables["windows"], vessel=w.OSSEL)[:2],
        ),
        story(
            "J", "Bond failure on a shell with plenty of wall: damage overrides the trend.",
            at(w.MERROW, "main", "2", "lower"),
            readings=_rows(readings, quantity="wall", date="2026-09-28", **loose),
            events=_rows(events, event=("finding", "refit"), date="2026-09-28", **loose),
        ),
    ]  # fmt: skip
