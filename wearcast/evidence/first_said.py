"""What differs in a pack as a surveyor asks it: which reading, limit or figure, and what it does to which bearing."""

from __future__ import annotations

from collections.abc import Sequence

from wearcast.evidence.compare import Difference

CAUSES = {
    "data/readings-used.csv": "A reading",
    "data/readings-left-out.csv": "A reading left out",
    "data/limits.csv": "A limit",
    "data/gauges.csv": "A gauge",
    "data/corrections.csv": "A correction",
    "data/eased.csv": "What was eased",
}
ANSWERS = {
    "data/forecast.csv": "A figure of the forecast",
    "data/plan.csv": "A figure of the plan",
    "data/order.csv": "A figure of the order",
}
_EARLY = ("date_p10", "hours_to_limit_p10")


def first_said(differences: Sequence[Difference], faults: Sequence[str]) -> str:
    """One or two sentences; empty where nothing differs."""
    cause = _first_of(differences, CAUSES)
    effect = next((one for column in _EARLY for one in differences if _is_early(one, column)), None)
    if cause is None:
        answer = _first_of(differences, ANSWERS) or next(iter(differences), None)
        if answer is None:
            return faults[0] if faults else ""
        return _told(ANSWERS.get(answer.file, f"The file {answer.file}"), answer)
    told = _told(CAUSES[cause.file], cause)
    if effect is None:
        return f"{told} No early date of this engine hangs on it."
    what = (
        "early date (one chance in ten)"
        if effect.column == "date_p10"
        else "hours to the limit at one chance in ten"
    )
    return (
        f"{told} It moves {effect.row}: {what} recorded {effect.recorded or 'empty'}, from these records "
        f"{effect.recomputed or 'empty'}."
    )


def _first_of(differences: Sequence[Difference], files: dict[str, str]) -> Difference | None:
    """The first in the order of the files; one cell before a whole row."""
    of_files = [one for name in files for one in differences if one.file == name]
    return next((one for one in of_files if one.column), of_files[0] if of_files else None)


def _is_early(one: Difference, column: str) -> bool:
    return one.file == "data/forecast.csv" and one.column == column


def _told(what: str, one: Difference) -> str:
    where = ", ".join(filter(None, (one.about, one.row, one.column.replace("_", " "))))
    return (
        f"{what} differs: {where}: recorded {one.recorded or 'empty'}, from the records in the pack "
        f"{one.recomputed or 'empty'}."
    )
