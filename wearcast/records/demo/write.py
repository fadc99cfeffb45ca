"""Write the demo record set and its truth to a folder."""

from __future__ import annotations

import csv
import io
import json
import os
import tempfile
from pathlib import Path
from typing import Any

from wearcast.errors import OutputFailed, WrongUse
from wearcast.records.demo.tables import DEFAULT_SEED, Rows, build
from wearcast.records.demo.truth import MADE_BY, truth_of

TRUTH_FILE = "truth.json"


def demo_files(seed: int = DEFAULT_SEED) -> dict[str, str]:
    """The demo as file texts by file name: one CSV a table, and the truth beside them.

    Examples
    --------
    >>> sorted(demo_files())
    ['engines.csv', 'events.csv', 'limits.csv', 'readings.csv', 'spares.csv', 'truth.json', 'windows.csv']
    """
    fleet = build(seed)
    files = {f"{name}.csv": _csv(rows) for name, rows in fleet.tables.items()}
    files[TRUTH_FILE] = _json(truth_of(fleet, seed))
    return files


def write_demo(folder: str | os.PathLike[str], seed: int = DEFAULT_SEED) -> tuple[Path, ...]:
    """Write the demo to a folder, made where it does not exist; an earlier demo there is replaced.

    Parameters
    ----------
    folder : path
        Where the files go.
    seed : int
        Another seed gives another fleet with the same stories.

    Returns
    -------
    tuple of Path
        The files written, in name order.

    Raises
    ------
    WrongUse
        If the folder is a file, or holds anything but an earlier demo.
    OutputFailed
        If a file cannot be written.
    """
    place = Path(folder)
    _refuse_what_is_not_ours(place)
    files = demo_files(seed)
    waiting: dict[Path, str] = {}
    try:
        place.mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            waiting[place / name] = _written_aside(place, text)
        for target in sorted(waiting):
            Path(waiting[target]).replace(target)
    except OSError as error:
        for temporary in waiting.values():
            Path(temporary).unlink(missing_ok=True)
        raise OutputFailed(f"{place}: the demo could not be written ({error.strerror}).") from error
    return tuple(sorted(waiting))


def _refuse_what_is_not_ours(place: Path) -> None:
    if place.exists() and not place.is_dir():
        raise WrongUse(f"{place} is a file; the demo needs a folder. Name another one.")
    if not place.is_dir() or not any(place.iterdir()) or _is_demo(place):
        return
    raise WrongUse(
        f"{place} is not empty and holds no earlier demo; nothing was written. Name a new or an empty folder."
    )


def _is_demo(place: Path) -> bool:
    try:
        truth = json.loads((place / TRUTH_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(truth, dict) and truth.get("made_by") == MADE_BY


def _written_aside(place: Path, text: str) -> str:
    handle, temporary = tempfile.mkstemp(dir=place, prefix=".demo-", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as out:
            out.write(text)
        Path(temporary).chmod(0o644)
    except OSError:
        Path(temporary).unlink(missing_ok=True)
        raise
    return temporary


def _csv(rows: Rows) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _json(truth: dict[str, Any]) -> str:
    """One line a shell, opening, story or reading, so that a change shows as a line."""
    parts = [f" {json.dumps(key)}: {_value(value)}" for key, value in truth.items()]
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _value(value: Any) -> str:
    if not isinstance(value, list):
        return json.dumps(value, ensure_ascii=False)
    return "[\n" + ",\n".join("  " + json.dumps(one, ensure_ascii=False) for one in value) + "\n ]"
