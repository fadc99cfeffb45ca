"""Rows of the events table: fittings, renewals, the regrind, the counter change and what was seen."""

from __future__ import annotations

from demo_fleet import openings as o
from demo_fleet import world as w
from demo_fleet.shells import Chance, Shell

COLUMNS = (
    "vessel", "engine", "bearing", "position", "half", "date", "counter_h", "event", "shell_size", "new_value",
    "unit", "new_counter_h", "finding", "remark",
)  # fmt: skip

_SEEN = (
    (w.OSSEL, "main", "3", "lower", "2019-03-11", "finding", "embedded particles", "dirt in the lining"),
    (w.TARN, "main", "6", "", "2018-09-10", "finding", "scoring", "journal scored all round"),
    (w.MERROW, "main", "5", "lower", "2023-01-16", "finding", "polishing", "bright band over the fore edge"),
    (
        w.MERROW,
        "main",
        "2",
        "lower",
        "2026-09-28",
        "finding",
        "bond failure",
        "lining loose over 12 mm, aft edge",
    ),
    (w.MERROW, "main", "2", "lower", "2026-09-28", "refit", "", "put back until a shell is on board"),
    (w.TARN, "big_end", "4", "", "2014-07-14", "opened", "", "piston drawn, shells not measured"),
)
"""Vessel, bearing, position, half, date, event, finding, remark."""

_UNMEASURED_OPENING_H = 12_220


def event_rows(shells: dict[str, tuple[Shell, ...]], chance: Chance) -> list[dict[str, str]]:
    """All events, by vessel and date."""
    rows = [row for name in w.VESSELS for row in _fittings(name, shells[name], chance)]
    ship, reground_on, main = o.REGRIND
    rows.append(
        _row(
            ship,
            "main",
            str(main),
            "",
            reground_on,
            "regrind",
            shell_size=w.UNDERSIZE,
            remark="ground to 219.500",
        )
    )
    ship, changed_on, last_h = o.COUNTER_CHANGE
    changed = _row(
        ship, "", "", "", changed_on, "counter_change", new_counter_h="0", remark="counter replaced"
    )
    rows.append({**changed, "counter_h": str(last_h)})
    for vessel, bearing, position, half, day, event, finding, remark in _SEEN:
        rows.append(_row(vessel, bearing, position, half, day, event, finding=finding, remark=remark))
    order = list(w.VESSELS)
    bearings = ("", "main", "big_end", "thrust")
    return sorted(
        rows,
        key=lambda row: (
            order.index(row["vessel"]), row["date"], bearings.index(row["bearing"]), row["position"],
            row["event"] != "regrind", row["half"],
        ),
    )  # fmt: skip


def _fittings(name: str, shells: tuple[Shell, ...], chance: Chance) -> list[dict[str, str]]:
    rows = [
        _row(
            name, "thrust", str(w.THRUST_AT), "", w.VESSELS[name].in_service, "fitted", shell_size=w.STANDARD
        )
    ]
    for shell in shells:
        first = shell.shell_no == 1
        row = _row(
            name, shell.bearing, str(shell.position), shell.half, shell.fitted_on,
            "fitted" if first else "renewal", shell_size=shell.shell_size,
        )  # fmt: skip
        if first and name == w.QUILLO:  # her builder handed over a sheet of new walls
            error_um = chance.normal(w.READING_SD["wall"] / 2, "builder", *row.values())
            row |= {"new_value": f"{shell.new_wall_mm + error_um / 1000:.3f}", "unit": "mm"}
        rows.append(row)
    return rows


def _row(
    vessel: str, bearing: str, position: str, half: str, day: str, event: str, **more: str
) -> dict[str, str]:
    at = dict.fromkeys(COLUMNS, "") | {
        "vessel": vessel, "engine": w.ENGINE, "bearing": bearing, "position": position, "half": half,
        "date": day, "counter_h": str(_dial_h(vessel, day)), "event": event,
    }  # fmt: skip
    return at | more


def _dial_h(vessel: str, day: str) -> int:
    if day == w.VESSELS[vessel].in_service:
        return 0
    total_h = next((x.total_h for x in o.OPENINGS[vessel] if x.date == day), _UNMEASURED_OPENING_H)
    return o.dial_h(vessel, day, total_h)
