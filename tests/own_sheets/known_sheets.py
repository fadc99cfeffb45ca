"""The sheets of tests/own_sheets with what their makers know of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wearcast.records.mapping.draft import Drafted, draft
from wearcast.records.mapping.mapping import Mapping
from wearcast.records.mapping.toml_file import read_mapping, written
from wearcast.records.read import read

FOLDER = Path(__file__).parent / "sheets"
FACTS = ("vessel", "engine", "bearing", "position", "half", "point", "quantity", "state", "date", "counter_h")


@dataclass(frozen=True)
class OwnSheet:
    """A sheet, the readings a person reads in it, and what only its owner can answer."""

    path: Path
    truth: dict[tuple[str, str], dict[str, Any]]
    answers: dict[str, str]


def own_sheets() -> list[OwnSheet]:
    found = []
    for said in sorted(FOLDER.glob("*.json")):
        path = next(one for one in (said.with_suffix(".xlsx"), said.with_suffix(".csv")) if one.exists())
        known = json.loads(said.read_text(encoding="utf-8"))
        truth = {
            (one["sheet"] if path.suffix == ".xlsx" else "", one["cell"]): one for one in known["readings"]
        }
        answers = dict(known["answers"])
        answers |= answers.pop("texts", {})
        position = answers.pop("position_of", {})
        answers |= {"position": next(iter(position.values()))} if position else {}
        found.append(OwnSheet(path, truth, answers))
    return found


def drafted(sheet: OwnSheet, answered: bool) -> Drafted:
    """The draft, first without any answer, then until nothing is asked."""
    made = draft([sheet.path], {})
    given: dict[str, str] = {}
    while answered and made.mapping.unanswered:
        keys = [key.lstrip('"') for key in made.mapping.unanswered]
        new = {key: answer_of(sheet, key) for key in keys}
        assert not set(new) <= set(given), f"{sheet.path.name}: asked again: {new}"
        given |= new
        made = draft([sheet.path], given)
    return made


def answer_of(sheet: OwnSheet, key: str) -> str:
    name = key.partition(" of ")[0]
    found = sheet.answers.get(key, sheet.answers.get(name))
    assert found is not None, f"{sheet.path.name}: asked for {key}, which the sheet says"
    return str(found)


def saved(made: Mapping, folder: Path) -> Mapping:
    """The mapping written to a file and read from it."""
    path = folder / "shape.toml"
    path.write_text(written(made, {}, ["a shape"]), encoding="utf-8")
    return read_mapping(path)


def readings_of(sheet: Path, mapping: Mapping) -> tuple[dict[tuple[str, str], dict[str, Any]], list[str]]:
    """What is read in a sheet by its cells, and the faults."""
    records = read(sheet, part=True, mapping=mapping)
    rows = records.readings.to_dict("records")
    found = {}
    for row in rows:
        facts = {name: row[name] for name in FACTS}
        facts["date"] = "" if row["date"] != row["date"] else f"{row['date']:%Y-%m-%d}"
        facts["counter_h"] = f"{row['counter_h']:g}"
        found[row["sheet"], row["from_cell"]] = {**facts, "value_mm": row["value_mm"]}
    return found, [str(fault) for fault in records.faults]


def same(read_as: dict[str, Any], truth: dict[str, Any]) -> bool:
    return abs(read_as["value_mm"] - truth["value_mm"]) < 1e-9 and all(
        read_as[name] == truth.get(name, "") for name in FACTS
    )
