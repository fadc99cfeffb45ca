"""Readings laid side by side: walls against clearance, journals; with what they warn of."""

from __future__ import annotations

from math import isfinite
from typing import Any

import pandas as pd

from wearcast import words
from wearcast.companions.walls_clearance import NOT_INDEPENDENT, disagreements
from wearcast.lives.history import EngineKey
from wearcast.lives.shells import STANDARD, same_size
from wearcast.report.companions import Companions, last_of_each
from wearcast.report.view import PlainTable, SideBySide
from wearcast.units import UM_PER_MM
from wearcast.words import exact_mm, rate, signed, significant


def side_by_side(companions: Companions, key: EngineKey) -> tuple[SideBySide, ...]:
    """The sections of one engine; those without a row are left out."""
    sections = (walls_clearance(companions, key), journals(companions, key))
    return tuple(section for section in sections if section.table.rows)


def walls_clearance(companions: Companions, key: EngineKey) -> SideBySide:
    """Clearance measured against what walls and journal leave, at the last opening of each place."""
    table = companions.clearances
    rows = last_of_each(table[table["by"] != ""], key, ["bearing", "position"])
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
    rows = last_of_each(companions.journals, key, ["bearing", "position"])
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
