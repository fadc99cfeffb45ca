"""A pack opened, checked, and every figure in it worked out again from what it holds."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast.book.address import is_book
from wearcast.door.files import kind_of, run_of_its_own
from wearcast.errors import InputRefused, OutputFailed, WrongUse
from wearcast.evidence.anew import HOURS_APART, OBJECTIVE_GAIN, against_anew
from wearcast.evidence.asked import Asked, NotAPack
from wearcast.evidence.bag import SIGNATURE, SIGNER
from wearcast.evidence.compare import Difference, differences
from wearcast.evidence.contents import QUESTION, answer_leaves, sheet_page
from wearcast.evidence.environment import differences as environment_differences
from wearcast.evidence.given import book_leaves, book_trouble
from wearcast.evidence.leaves import Leaf
from wearcast.evidence.opened import question_of, text_in
from wearcast.evidence.originals import LIST, Original, changed, list_leaf, put_back, read_list
from wearcast.evidence.run import decided, fitted_anew, fitted_at
from wearcast.evidence.signing import signature_said
from wearcast.evidence.theta import recorded_from
from wearcast.evidence.unpack import bag_faults, label_faults, unlisted_tags, unpack
from wearcast.sources import original_files, read
from wearcast.version import __version__

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

ENVIRONMENT = "data/environment.txt"
SHEET, SHEET_PDF = "data/sheet.html", "data/sheet.pdf"
_SHEET_KEPT = (
    "data/sheet.html is said to be drawn by another version and was not compared: read the figures in "
    "data/forecast.csv, or repeat with that version."
)
_PDF_KEPT = (
    "data/sheet.pdf is a print of data/sheet.html and was not made again; its checksum holds. Read the page where "
    "it matters."
)


@dataclass
class Repeated:
    """What came of a repeat.

    Attributes
    ----------
    holds, faults : list of str
        What was checked and holds, and what does not, in sentences.
    differences : list of Difference
        Every figure that does not come out again.
    notes : list of str
        What the reader should know: other versions, what was not checked.
    """

    asked: Asked | None = None
    holds: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def came_out(self) -> bool:
        """Nothing is wrong."""
        return not self.faults and not self.differences


def repeat(source: Path, trusted: Ed25519PublicKey | None = None) -> Repeated:
    """Work a pack out again.

    Parameters
    ----------
    source : Path
        The ZIP file.
    trusted : Ed25519 public key, optional
        Of the person who should have signed it.

    Raises
    ------
    NotAPack
        If it is no pack, or not safe to open.
    """
    if not kind_of(source):
        raise NotAPack(f"{source}: there is no such file. Name the .zip that wearcast evidence pack wrote.")
    found = Repeated()
    with tempfile.TemporaryDirectory(prefix="wearcast-") as scratch, run_of_its_own():
        opened, given = Path(scratch) / "pack", Path(scratch) / "given"
        opened.mkdir()
        given.mkdir()
        bag = unpack(source, opened)
        _check_bag(bag, found)
        holds, faults = signature_said(bag, trusted)
        found.holds += holds
        found.faults += faults
        _check_figures(bag, given, found)
    return found


def _check_bag(bag: Path, found: Repeated) -> None:
    faults = [*bag_faults(bag), *unlisted_tags(bag)]
    found.faults += faults
    if not faults:
        found.holds.append("The bag is valid: every file is there, none was added, every checksum holds.")


def _check_figures(bag: Path, given: Path, found: Repeated) -> None:
    missing = [name for name in (*QUESTION, LIST) if not (bag / name).is_file()]
    if missing:
        found.faults.append(f"Nothing was worked out again, for {' and '.join(missing)} is missing.")
        return
    asked = question_of(bag)
    found.asked = asked
    found.faults += label_faults(bag, asked)
    recorded, originals = recorded_from(text_in(bag, QUESTION[2])), read_list(text_in(bag, LIST))
    _say_environment(bag, asked, found)
    gone = [f"data/{one.packed}" for one in originals if not (bag / "data" / one.packed).is_file()]
    if gone:
        found.faults.append(f"Nothing was worked out again, for {' and '.join(gone)} is missing.")
        return
    faults = changed(bag, originals)
    found.faults += faults
    if not faults:
        found.holds.append(f"The files given are those it was made from: {len(originals)}, SHA-256 alike.")
    try:
        inputs = {one.name: (bag / "data" / one.packed).read_bytes() for one in originals if one.is_input}
        path = put_back(inputs, given, asked.entry)
        _check_book(path, originals, found)
        records = replace(read(path, asked.run_date), source="the records in the pack")
        anew = fitted_anew(asked, records)
        again = decided(asked, fitted_at(anew, recorded))
        of_book = book_leaves(path)
    except InputRefused as refused:
        found.faults += [f"The records in the pack are refused: {fault}" for fault in refused.faults]
        return
    except (NotAPack, WrongUse, OutputFailed) as problem:
        found.faults.append(str(problem))
        return
    made = (*answer_leaves(again, sheet_page(again)), *of_book, list_leaf(originals))
    _check_files(bag, made, originals, asked, found)
    _compare(bag, made, found, asked.program != __version__)
    apart, gain = against_anew(again.fitted, anew, recorded)
    found.faults += apart
    if not apart:
        found.holds.append(
            "Estimated anew, the standard deviations raise the objective by "
            f"{max(gain, 0.0):.1g} at most (allowed {OBJECTIVE_GAIN:g}), doubt the same readings, and move no hours "
            f"by more than {100 * HOURS_APART:g} %."
        )


def _check_book(path: Path, originals: Sequence[Original], found: Repeated) -> None:
    """The chain of a record book, and whether the files beside it are those that came into it."""
    if not is_book(path):
        return
    trouble = book_trouble(path)
    if trouble:
        found.faults.append(f"The record book in the pack does not verify: {trouble}")
        return
    inside = {name: sha256(content).hexdigest() for name, content in original_files(path).items()}
    beside = {one.name: one.sha256 for one in originals if not one.is_input}
    if inside != beside:
        found.faults.append("The files in data/originals are not those that came into the record book.")
    else:
        found.holds.append("The record book verifies: no row was changed, taken out or slipped in.")


def _say_environment(bag: Path, asked: Asked, found: Repeated) -> None:
    recorded = text_in(bag, ENVIRONMENT) if (bag / ENVIRONMENT).is_file() else ""
    other = environment_differences(recorded) if recorded else ()
    found.notes += other
    if any(text.startswith("wearcast:") for text in other):
        found.notes.append(
            f"Another version of the program may word or work out some things otherwise; wearcast {asked.program} "
            "settles it."
        )
    if asked.pdf:
        found.notes.append(_PDF_KEPT)


def _check_files(
    bag: Path, made: Sequence[Leaf], originals: Sequence[Original], asked: Asked, found: Repeated
) -> None:
    """Files that a pack of this run has and this one has not, and the other way round."""
    expected = {leaf.path for leaf in made} | {f"data/{one.packed}" for one in originals}
    expected |= {*QUESTION, ENVIRONMENT, *([SHEET_PDF] if asked.pdf else [])}
    there = {path.relative_to(bag).as_posix() for path in bag.rglob("*") if path.is_file()}
    own = {"bagit.txt", "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt", SIGNATURE, SIGNER}
    found.faults += [f"{name} belongs into the pack and is missing." for name in sorted(expected - there)]
    found.faults += [
        f"{name} is no file of such a pack; it was added." for name in sorted(there - expected - own)
    ]


def _compare(bag: Path, made: Sequence[Leaf], found: Repeated, other_version: bool) -> None:
    apart: list[Difference] = []
    for leaf in made:
        if leaf.path == SHEET and other_version:
            found.notes.append(_SHEET_KEPT)
        elif (bag / leaf.path).is_file():
            apart += differences(text_in(bag, leaf.path), leaf)
    found.differences += apart
    if not apart:
        found.holds.append(
            "Every figure, reason and statement comes out again at the recorded standard deviations: forecast, plan, "
            f"order, readings used and left out, limits, gauges{'' if other_version else ', engine sheet'} (figures to "
            "one in a million)."
        )
