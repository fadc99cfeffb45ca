"""Nothing wrong is ever taken in silently: each reading of a sheet is right, or asked about, never wrong."""

from __future__ import annotations

import random
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

import openpyxl
import pytest
from known_sheets import OwnSheet, drafted, own_sheets, readings_of, same, saved

from wearcast.errors import InputRefused, WrongUse
from wearcast.records.mapping.draft import draft
from wearcast.records.mapping.mapping import Mapping

SHEETS = own_sheets()
WORKBOOKS = [one for one in SHEETS if one.path.suffix == ".xlsx"]
MUTATED = 200
OF_THE_OPENING = ("Harl", "Nore", "Vessel: ", "Engine: ", "Date: ", "Hours: ", "Opening of", "1", "2")
"""Texts that are the name of a ship, a date or hours: another name or date cannot be told from the right one."""


@lru_cache(maxsize=128)
def answered(number: int) -> Mapping:
    return drafted(SHEETS[number], answered=True).mapping


@pytest.mark.parametrize("number", range(len(SHEETS)), ids=[one.path.stem for one in SHEETS])
def test_with_its_answers_every_reading_is_right_and_nothing_else_is_read(
    number: int, tmp_path: Path
) -> None:
    sheet = SHEETS[number]
    found, faults = readings_of(sheet.path, saved(answered(number), tmp_path))
    assert not faults
    assert [
        cell for cell, truth in sheet.truth.items() if cell not in found or not same(found[cell], truth)
    ] == []
    assert set(found) == set(sheet.truth)


def test_nine_readings_of_ten_are_right_with_no_answer_and_the_rest_is_asked(tmp_path: Path) -> None:
    right = 0
    for sheet in SHEETS:
        made = drafted(sheet, answered=False)
        assert len(made.questions) <= 5
        if not made.mapping.unanswered:
            found, faults = readings_of(sheet.path, saved(made.mapping, tmp_path))
            assert not faults, sheet.path.name
            assert all(same(found[cell], truth) for cell, truth in sheet.truth.items()), sheet.path.name
            right += len(found)
    assert right >= 0.9 * sum(len(sheet.truth) for sheet in SHEETS)


def mutated(sheet: OwnSheet, folder: Path, seed: int) -> tuple[Path, set[tuple[str, str]] | None]:
    """The workbook with a few cells changed; the cells, or None where rows have moved."""
    chance = random.Random(seed)
    book = openpyxl.load_workbook(sheet.path)
    changed: set[tuple[str, str]] | None = set()
    for _ in range(chance.randint(1, 3)):
        page = chance.choice(book.worksheets)
        filled = [
            cell
            for row in page.iter_rows()
            for cell in row
            if cell.value is not None and not str(cell.value).startswith(OF_THE_OPENING)
        ]
        cell = chance.choice(
            [one for one in filled if isinstance(one.value, str)] * (chance.random() < 0.6) or filled
        )
        how = chance.choice(("empty", "typo", "junk", "row away", "row between"))
        if how in ("row away", "row between") and not page.merged_cells.ranges:
            (page.delete_rows if how == "row away" else page.insert_rows)(cell.row)
            changed = None
            continue
        if changed is not None:
            changed.add((page.title, cell.coordinate))
        text = str(cell.value)
        at = chance.randrange(len(text))
        cell.value = {"typo": text[:at] + text[at + 1 :], "junk": "see p. 3 ?"}.get(how)
    path = folder / sheet.path.name
    book.save(path)
    return path, changed


@pytest.mark.parametrize("seed", range(MUTATED))
def test_a_sheet_spoilt_somewhere_is_read_rightly_or_refused_in_words(seed: int, tmp_path: Path) -> None:
    sheet = WORKBOOKS[seed % len(WORKBOOKS)]
    path, changed = mutated(sheet, tmp_path, seed)
    with suppress(WrongUse, InputRefused):
        draft([path], {})
    found, faults = readings_of(path, answered(SHEETS.index(sheet)))
    assert not (found and faults)
    if changed is not None:
        kept = {cell: facts for cell, facts in found.items() if cell not in changed}
        wrong = {
            cell: facts
            for cell, facts in kept.items()
            if cell not in sheet.truth or not same(facts, sheet.truth[cell])
        }
        assert not wrong, (path.name, changed, wrong)
