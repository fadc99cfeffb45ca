"""Readings laid side by side: along the shaft, walls against clearance, journals; with what they warn of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import isfinite
from typing import Any

import pandas as pd

from wearcast.companions.journal import journal_trends, journals_at_openings
from wearcast.companions.shaft_line import MainHeight, heights_of_mains
from wearcast.companions.walls_clearance import (
    NOT_INDEPENDENT,
    compare_walls_with_clearance,
    disagreements,
)
from wearcast.companions.web_deflection import (
    SIGN_NOTE,
    deflection_trends,
    web_deflections,
)
from wearcast.forecasting.run import Forecast
from wearcast.frames import rows_of
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import STANDARD, Place, same_size
from wearcast.report import words
from wearcast.report.numbers import exact_mm, rate, significant, whole
from wearcast.report.shaft_order import split_label
from wearcast.report.view import PlainTable, SideBySide
from wearcast.units import UM_PER_MM

LIKE_CONDITIONS = (
    "Compare only what was read under like conditions: hot or cold, afloat or docked, draught, coupled or not. "
    "The maker's alignment sheet governs."
)

PLACE = ["vessel", "engine", "bearing", "position"]


@dataclass(frozen=True)
class Companions:
    """What the companions make of a whole forecast, worked out once for all pages."""

    forecast: Forecast

    @cached_property
    def deflections(self) -> pd.DataFrame:
        """Every throw at every measurement, with the drift of the throw."""
        history, used = self.forecast.history, self.forecast.used
        drifts = deflection_trends(history, used)[["vessel", "engine", "position", *_DRIFT]]
        return web_deflections(history, used).merge(drifts, on=["vessel", "engine", "position"], how="left")

    @cached_property
    def heights(self) -> tuple[MainHeight, ...]:
        """How the shaft stands at each main, beside the wear rates of the forecast."""
        return heights_of_mains(self.forecast.history, self.forecast.used, _lower_rates(self.forecast))

    @cached_property
    def clearances(self) -> pd.DataFrame:
        """Clearance against walls at every opening."""
        return compare_walls_with_clearance(self.forecast.history, self.forecast.used)

    @cached_property
    def journals(self) -> pd.DataFrame:
        """Every journal at every opening, with its wear rate since it was last ground."""
        history, used = self.forecast.history, self.forecast.used
        rates = journal_trends(history, used)[[*PLACE, "grinding", *_RATE]]
        return journals_at_openings(history, used).merge(rates, on=[*PLACE, "grinding"], how="left")


_DRIFT = ["drift_um_per_kh", "drift_u_um_per_kh"]
_RATE = ["wear_rate_um_per_kh", "wear_rate_u_um_per_kh"]


def _lower_rates(forecast: Forecast) -> Mapping[Place, tuple[float, float]]:
    """Wear rates of the lower main shells as the forecast table has them."""
    return {
        forecast.history.lives[row.life].place: (
            float(row.values["wear_rate_um_per_kh"]),
            float(row.values["wear_rate_u_um_per_kh"]),
        )
        for row in forecast.rows
        if (row.values["bearing"], row.values["half"], row.values["quantity"]) == ("main", "lower", "wall")
        and row.values["readings"] > 0
    }


def side_by_side(companions: Companions, key: EngineKey) -> tuple[SideBySide, ...]:
    """The sections of one engine; those without a row are left out."""
    sections = (walls_clearance(companions, key), journals(companions, key))
    return tuple(section for section in sections if section.table.rows)


def _of(table: pd.DataFrame, key: EngineKey, by: list[str]) -> list[Any]:
    """The last row of each place of an engine, in shaft order."""
    mine = table[(table["vessel"] == key[0]) & (table["engine"] == key[1])]
    if mine.empty:
        return []
    last = mine.sort_values(["date", "state"], kind="stable").drop_duplicates(by, keep="last")
    return sorted(
        rows_of(last), key=lambda row: (getattr(row, "bearing", ""), *split_label(str(row.position)))
    )


def along_the_shaft(companions: Companions, key: EngineKey) -> SideBySide:
    """Web deflections throw by throw, and which main seems low or high."""
    said = [one.text for one in companions.heights if (one.vessel, one.engine) == key and one.text]
    rows = _of(companions.deflections, key, ["position"])
    open_ends = [
        f"Throw {row.position}: first and last reading differ by {abs(row.closure_um):.0f} µm; measure again."
        for row in rows
        if row.closes is False
    ]
    return SideBySide(
        PlainTable(
            "shaft",
            "Along the shaft",
            "Web deflections throw by throw, last measurement of each; webs opening are plus, in mm",
            (
                "Throw", "Between mains", "Date", "Conditions", "Top minus bottom", "Port minus starboard",
                "Closure, µm", "Drift of top minus bottom, µm per 1000 h", "Limit", "Limit from",
            ),
            tuple(map(_throw, rows)),
            "No web deflection was read.",
        ),
        tuple(words.page_text(text) for text in (*said, *open_ends)),
        (SIGN_NOTE, LIKE_CONDITIONS),
    )  # fmt: skip


def _throw(row: Any) -> tuple[str, ...]:
    past = ", past it" if row.past_limit else ""
    return (
        str(row.position),
        f"{row.main_before:.0f} and {row.main_after:.0f}" if isfinite(row.main_before) else "",
        words.day(row.date.date()),
        row.conditions if isinstance(row.conditions, str) else "",
        signed_mm(row.vertical_mm),
        signed_mm(row.horizontal_mm),
        signed(row.closure_um),
        f"{rate(row.drift_um_per_kh)} ± {rate(row.drift_u_um_per_kh)}"
        if isfinite(row.drift_u_um_per_kh)
        else "",
        (_limits(row.min_mm, row.max_mm) + past)
        if isfinite(row.min_mm) or isfinite(row.max_mm)
        else "none given",
        row.limit_source,
    )


def _limits(least_mm: float, most_mm: float) -> str:
    if least_mm == -most_mm:
        return f"±\N{NO-BREAK SPACE}{exact_mm(most_mm)}"
    ends = (("at least", least_mm), ("at most", most_mm))
    return " and ".join(f"{side} {exact_mm(value)}" for side, value in ends if isfinite(value))


def walls_clearance(companions: Companions, key: EngineKey) -> SideBySide:
    """Clearance measured against what walls and journal leave, at the last opening of each place."""
    table = companions.clearances
    rows = _of(table[table["by"] != ""], key, ["bearing", "position"])
    last = pd.DataFrame(rows) if rows else table.iloc[:0]
    beyond_u = companions.forecast.settings.thresholds.walls_against_clearance_u
    said = [
        f"{_place(one.place.bearing, one.place.position)}: {one.text}"
        + (f"; perhaps {words.listed(map(str, one.causes), 'or')}." if one.causes else ".")
        for one in disagreements(companions.forecast.history, last, beyond_u)
    ]
    return SideBySide(
        PlainTable(
            "walls-clearance",
            "Walls against clearance",
            "Clearance read against what the walls leave, last opening of each place where both were read, in mm",
            (
                "Place", "Date", "Upper wall", "Lower wall", "Clearance read", "Expected", "Difference, µm",
                "u, µm", "Expected from", "Journal", "Housing",
            ),
            tuple(map(_clearance, rows)),
            "No walls were read together with a clearance.",
        ),
        tuple(words.page_text(text) for text in said),
        () if all(row.independent for row in rows) else (NOT_INDEPENDENT,),
    )  # fmt: skip


def _clearance(row: Any) -> tuple[str, ...]:
    parts = row.by == "parts"
    return (
        _place(row.bearing, row.position),
        words.day(row.date.date()),
        _mm(row.upper),
        _mm(row.lower),
        _mm(row.clearance),
        _mm(row.clearance - row.judged_um / UM_PER_MM),
        signed(row.judged_um),
        significant(row.judged_u_um),
        "walls, journal and housing" if parts else "the other openings and the loss of walls",
        f"{exact_mm(round(row.journal, 3))}, {row.journal_from}" if isfinite(row.journal) else "not known",
        f"{exact_mm(round(row.housing, 3))}, {row.housing_from}" if isfinite(row.housing) else "not known",
    )


def journals(companions: Companions, key: EngineKey) -> SideBySide:
    """Diameter, shape and size of each journal at its last measurement."""
    rows = _of(companions.journals, key, ["bearing", "position"])
    said = [
        f"{_place(row.bearing, row.position)}: the journal measures "
        f"{exact_mm(round(row.diameter_mm, 3))} mm, nearest to size {row.size}, under shells of size "
        f"{row.shell_size}: check journal and shells at the engine before anything is ordered or fitted."
        for row in rows
        if row.matches is False
    ]
    return SideBySide(
        PlainTable(
            "journals",
            "Journals",
            "Journal diameters at 20 °C, last measurement of each, in mm; shape in µm",
            (
                "Journal", "Date", "Mean diameter", "u, µm", "Ovality", "Taper", "Nearest size", "Shells there",
                "Wear since ground, µm per 1000 h",
            ),
            tuple(map(_journal, rows)),
            "No journal was measured.",
        ),
        tuple(words.page_text(text) for text in said),
        (
            "Ovality is vertical less horizontal where they differ most, taper the first station less the last; "
            "empty where they were not read.",
            "A reground journal takes only shells of its own size.",
        ),
    )  # fmt: skip


def _journal(row: Any) -> tuple[str, ...]:
    known = isfinite(row.wear_rate_u_um_per_kh)
    wear = f"{rate(row.wear_rate_um_per_kh)} ± {rate(row.wear_rate_u_um_per_kh)}" if known else ""
    size = "standard" if same_size(row.size, STANDARD) else row.size
    return (
        _place(row.bearing, row.position),
        words.day(row.date.date()),
        _mm(row.diameter_mm),
        significant(row.diameter_u_um),
        signed(row.ovality_um),
        signed(row.taper_um),
        size,
        row.shell_size,
        wear,
    )


def _place(bearing: str, position: str) -> str:
    return words.capital(words.bearing_words(bearing, position)).replace(" ", "\N{NO-BREAK SPACE}")


def _mm(value: float) -> str:
    return exact_mm(round(float(value), 3)) if isfinite(value) else ""


def signed_mm(value: float) -> str:
    """A length with its sign; empty where there is none [mm].

    >>> signed_mm(0.0125), signed_mm(-0.038), signed_mm(float("nan"))
    ('+0.0125', '−0.038', '')
    """
    if not isfinite(value):
        return ""
    text = exact_mm(round(float(value), 4))
    return text if text[0] == "\N{MINUS SIGN}" or float(text) == 0 else f"+{text}"


def signed(value_um: float) -> str:
    """A length in whole µm with its sign; empty where there is none.

    >>> signed(12.3), signed(-7.6), signed(0.2)
    ('+12', '−8', '0')
    """
    if not isfinite(value_um):
        return ""
    text = whole(value_um)
    return f"+{text}" if round(value_um) > 0 else text
