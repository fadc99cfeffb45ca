"""The records in a pack and the early dates it stated, for whoever compares two visits."""

from __future__ import annotations

import csv
import io
import tempfile
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from wearcast.door.files import run_of_its_own
from wearcast.evidence.asked import Asked, NotAPack
from wearcast.evidence.contents import PLACE, QUESTION
from wearcast.evidence.opened import question_of, text_in
from wearcast.evidence.originals import LIST, changed, put_back, read_list
from wearcast.evidence.unpack import bag_faults, unpack
from wearcast.forecasting.statements import DAMAGE
from wearcast.records.records import RecordSet
from wearcast.settings import Settings
from wearcast.sources import read

FORECAST = "data/forecast.csv"


@dataclass(frozen=True, eq=False)
class PackedRecords:
    """What a pack holds: the question, the records, the settings, and the early date stated of each shell."""

    asked: Asked
    records: RecordSet
    settings: Settings
    stated: dict[tuple[str, str, str, str, str, str], date | None]


def packed_records(pack: Path) -> PackedRecords:
    """Open a pack without trusting it.

    Raises
    ------
    NotAPack
        If it is no pack, or its files are not those its manifests name; `wearcast evidence repeat` says more.
    """
    with tempfile.TemporaryDirectory(prefix="wearcast-") as scratch, run_of_its_own():
        opened, given = Path(scratch) / "pack", Path(scratch) / "given"
        opened.mkdir()
        given.mkdir()
        bag = unpack(pack, opened)
        needed = (*QUESTION[:2], LIST, FORECAST)
        faults = [*bag_faults(bag), *(f"{name} is missing." for name in needed if not (bag / name).is_file())]
        if not faults:
            originals = read_list(text_in(bag, LIST))
            faults = changed(bag, originals)
        if faults:
            raise NotAPack(f"{pack}: {faults[0]} wearcast evidence repeat {pack} says more.")
        asked = question_of(bag)
        inputs = {one.name: (bag / "data" / one.packed).read_bytes() for one in originals if one.is_input}
        records = replace(read(put_back(inputs, given, asked.entry), asked.run_date), source=str(pack))
        return PackedRecords(asked, records, asked.settings, _stated(text_in(bag, FORECAST), pack))


def _stated(text: str, pack: Path) -> dict[tuple[str, str, str, str, str, str], date | None]:
    try:
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        return {
            tuple(row[name] for name in PLACE): (  # type: ignore[misc]
                date.fromisoformat(row["date_p10"])
                if row["date_p10"] and row["statement"] != DAMAGE
                else None
            )
            for row in rows
        }
    except (KeyError, ValueError, TypeError, csv.Error) as problem:
        raise NotAPack(f"{pack}: {FORECAST} is not understood ({problem}).") from None
