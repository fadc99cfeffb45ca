"""What a pack was asked for: everything needed to ask the same again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from wearcast.clock import sound
from wearcast.decide.order import REVIEW_DAYS
from wearcast.decide.plan import HORIZON_YEARS
from wearcast.door.trees import json_of
from wearcast.errors import WearcastError, WrongUse
from wearcast.settings import Settings
from wearcast.version import __version__

FORMAT = 1
"""Number of the layout of a pack; raised where an older program could not read a newer pack."""

_LONGEST_YEARS = 100.0


class NotAPack(WearcastError):
    """A file that is no evidence pack, or not whole, or not safe to open (exit code 1)."""


@dataclass(frozen=True)
class Asked:
    """The question behind a pack.

    Attributes
    ----------
    run_date : date
        Of the first run; nothing in the records may be dated after it.
    as_of : date or None
        None: each engine at its last counter reading, the plan at the latest of these.
    survey, organization : str
        For whom and by whom, as the user wrote it; may be empty.
    entry : str
        Name of the one input file; empty where the input is a folder of them.
    horizon_years, review_days : float
        How far the plan looks, and how long after an order the next is thought about.
    pdf : bool
        Whether the engine sheet was printed as PDF, too.
    program : str
        Version of wearcast that made the pack.
    """

    vessel: str
    engine: str
    run_date: date
    settings: Settings
    as_of: date | None = None
    survey: str = ""
    organization: str = ""
    leave_out_faulty: bool = False
    entry: str = ""
    horizon_years: float = HORIZON_YEARS
    review_days: float = REVIEW_DAYS
    pdf: bool = False
    program: str = __version__

    @property
    def key(self) -> tuple[str, str]:
        """Vessel and engine."""
        return self.vessel, self.engine

    @property
    def name(self) -> str:
        """Vessel and engine in words."""
        return f"{self.vessel} {self.engine}"


def asked_json(asked: Asked) -> dict[str, Any]:
    """The content of run.json; the settings stand in a file of their own."""
    return {
        "format": FORMAT,
        "program": f"wearcast {asked.program}",
        "run_date": asked.run_date.isoformat(),
        "as_of": asked.as_of.isoformat() if asked.as_of else None,
        "vessel": asked.vessel,
        "engine": asked.engine,
        "survey": asked.survey,
        "organization": asked.organization,
        "leave_out_faulty": asked.leave_out_faulty,
        "input": asked.entry,
        "horizon_years": asked.horizon_years,
        "review_days": asked.review_days,
        "pdf": asked.pdf,
    }


def asked_from(text: str, settings: Settings) -> Asked:
    """What run.json says.

    Raises
    ------
    NotAPack
        If it is not understood, or of a later layout than this program knows.
    """
    try:
        said = json_of(text)
        if int(said["format"]) > FORMAT:
            raise NotAPack(
                f"This pack has layout {said['format']}, made by {said['program']}; wearcast {__version__} "
                f"reads layouts up to {FORMAT}. Use the program that made it or a later one."
            )
        return Asked(
            vessel=_text(said["vessel"]),
            engine=_text(said["engine"]),
            run_date=_day(said["run_date"]),
            settings=settings,
            as_of=_day(said["as_of"]) if said["as_of"] else None,
            survey=_text(said["survey"]),
            organization=_text(said["organization"]),
            leave_out_faulty=bool(said["leave_out_faulty"]),
            entry=_text(said["input"]),
            horizon_years=_within(said["horizon_years"], _LONGEST_YEARS),
            review_days=_within(said["review_days"], 366 * _LONGEST_YEARS),
            pdf=bool(said["pdf"]),
            program=_text(said["program"]).removeprefix("wearcast "),
        )
    except (ValueError, KeyError, TypeError, WrongUse) as problem:
        raise NotAPack(
            f"data/run.json is not understood ({type(problem).__name__}: {problem}); it was changed or is of "
            "another program. Ask for the pack as it was made."
        ) from None


def _day(value: Any) -> date:
    return sound(date.fromisoformat(value), "a date in it")


def _within(value: Any, most: float) -> float:
    if not 0 <= float(value) <= most:
        raise ValueError(f"{value!r} is not between 0 and {most}")
    return float(value)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value
