"""Tables of what the figures rest on: events, limits, windows, spreads, settings, files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

from wearcast import words
from wearcast.forecasting.run import Forecast
from wearcast.forecasting.solved import ClassForecast
from wearcast.forecasting.windows import Window
from wearcast.lives.limits import Limit
from wearcast.lives.shells import Event
from wearcast.report.view import PlainTable
from wearcast.words import exact_mm, plain, significant, whole


def events_table(events: Sequence[Event]) -> PlainTable:
    """Events of one engine."""
    return PlainTable(
        "events",
        "Events",
        "Fittings, renewals, findings and counter changes of this engine, oldest first",
        ("Date", "Total hours", "Where", "Event", "Shell size", "New value, mm", "Finding, remark", "Row"),
        tuple(map(event_row, events)),
        "No event is recorded.",
    )


def event_row(event: Event) -> tuple[str, ...]:
    """An event as a row of their table."""
    place = event.place
    where = " ".join(filter(None, (words.bearing_words(place.bearing, place.position), place.half)))
    return (
        words.day(event.on),
        whole(event.total_h) if isfinite(event.total_h) else "not known",
        words.capital(where) or "Engine",
        words.EVENT_WORDS.get(event.kind, event.kind),
        event.shell_size,
        exact_mm(event.new_wall_mm) if isfinite(event.new_wall_mm) else "",
        "; ".join(filter(None, (event.finding, event.remark))),
        _row(event.file, event.sheet, event.row, "events"),
    )


def _row(file: str, sheet: str, row: int, table: str) -> str:
    return " ".join(filter(None, (file or table, sheet and f"sheet {sheet}", str(row))))


def limits_table(limits: Iterable[Limit]) -> PlainTable:
    """Limits with their sources."""
    return PlainTable(
        "limits",
        "Limits used",
        "Limits as typed in from the maker's documents; each with its source",
        (
            "Engine type", "Where", "Shell size", "New, mm", "Limit, mm", "Overlay, µm", "Fixed hours",
            "Source: document, revision, date", "Part", "Row",
        ),
        tuple(map(_limit, limits)),
        "No limit is given for this engine type: nothing is forecast.",
    )  # fmt: skip


def _limit(limit: Limit) -> tuple[str, ...]:
    where = words.quantity_words(limit.half, limit.quantity)
    point = words.point_words(limit.point)
    side = "at least" if limit.side == "min" else "at most"
    return (
        limit.engine_type,
        ", ".join(filter(None, (f"{limit.bearing.replace('_', ' ')} {where}", point))),
        limit.shell_size,
        f"{exact_mm(limit.new_min_mm)} to {exact_mm(limit.new_max_mm)}",
        f"{side} {exact_mm(limit.limit_mm)}",
        plain(limit.overlay_um) if isfinite(limit.overlay_um) else "",
        plain(limit.renew_at_h) if isfinite(limit.renew_at_h) else "",
        limit.source,
        limit.part_reference,
        str(limit.row),
    )


def windows_table(windows: Sequence[Window]) -> PlainTable:
    """Windows ahead of one engine."""
    return PlainTable(
        "windows",
        "Windows ahead",
        "Chances to open bearings after the as-of date",
        ("Date", "Name", "Kind", "Bearings at most", "Row"),
        tuple(
            (
                window.on.isoformat(),
                window.name,
                window.kind.replace("_", " "),
                "not limited" if window.max_openings is None else str(window.max_openings),
                str(window.row),
            )
            for window in windows
        ),
        "No window is given.",
    )


IN_UM = ("reading_error", "extra_error", "new_wall", "opening_error")
"""Terms of the pooled model that are lengths; the others are of rates."""


def spreads_table(classes: Sequence[ClassForecast]) -> PlainTable:
    """Standard deviations that the pooled model found, class by class."""
    found = [one.spreads for one in classes]
    terms = list(dict.fromkeys(term for sigma in found for term in sigma))
    return PlainTable(
        "spreads",
        "Estimated spreads",
        "Standard deviations found by the pooled model, class by class; empty where a class has no such term",
        ("Class", "Readings", *map(_term, terms)),
        tuple(
            (
                words.capital(str(one.key)),
                str(one.n_readings),
                *(significant(sigma[term]) if term in sigma else "" for term in terms),
            )
            for one, sigma in zip(classes, found, strict=True)
        ),
        "No class was fitted.",
    )


def _term(name: str) -> str:
    unit = "µm" if name in IN_UM else "µm per √(1000 h)" if name == "uneven_wear" else "µm per 1000 h"
    return f"{words.capital(name.replace('_', ' '))}, {unit}"


def settings_table(forecast: Forecast) -> PlainTable:
    """Every setting by section and name."""
    return PlainTable(
        "settings",
        "Settings",
        "Every setting the run was made with; the guide to each stands in the program's documentation",
        ("Section", "Name", "Value"),
        tuple(
            (_section(section), setting_words(name), _value(value))
            for section, name, value in forecast.settings.rows()
        ),
        "No settings.",
    )


def setting_words(name: str) -> str:
    """The name of a setting as it is printed.

    >>> setting_words("group_level_sd_um"), setting_words("running_in_h")
    ('group level sd, µm', 'running in, h')
    """
    text = name.replace("_", " ")
    for ending, unit in ((" um", "µm"), (" h", "h")):
        if text.endswith(ending):
            return f"{text.removesuffix(ending)}, {unit}"
    return text


def _section(name: str) -> str:
    """The section as a settings file has it; what stands in none is at its top."""
    return "top level" if name == "general" else name.replace("_", " ")


def _value(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return plain(value)


def files_table(forecast: Forecast) -> PlainTable:
    """Input files with the hashes of their bytes."""
    return PlainTable(
        "files",
        "Input files",
        "Files this page was made from, with the SHA-256 of their bytes",
        ("File", "SHA-256"),
        tuple((file.name, file.sha256) for file in forecast.history.records.files),
        "No input file: the records were given by a program.",
    )
