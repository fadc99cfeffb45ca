"""From a record set to an evidence pack in one ZIP file, whole or not at all."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from wearcast.evidence.asked import Asked
from wearcast.evidence.bag import bag_name, make_bag, zip_bag
from wearcast.evidence.contents import answer_leaves, question_leaves, sheet_page
from wearcast.evidence.environment import environment_text
from wearcast.evidence.given import Given, book_leaves
from wearcast.evidence.originals import list_leaf, listed, put_back
from wearcast.evidence.run import Run, decided, fitted_anew
from wearcast.evidence.signing import sign
from wearcast.outputs import write_whole
from wearcast.records.names import spellings
from wearcast.sources import read

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

Print = Callable[[str], bytes | None]
"""Prints a page (HTML) as PDF; None where it cannot."""


@dataclass(frozen=True, eq=False)
class Packed:
    """What was packed: the run, the file, its bytes, and the fingerprint of the key it was signed with."""

    run: Run
    out: Path
    size: int
    files: int
    signer: str


def pack(
    given: Given,
    asked: Asked,
    out: Path,
    print_page: Print | None = None,
    key: Ed25519PrivateKey | None = None,
) -> Packed:
    """Work everything out from the input files and write the pack.

    The records are read from the very bytes that go into the pack, under the names they were given.

    Parameters
    ----------
    given : Given
        The records, from `given_by`.
    asked : Asked
    out : Path
        The ZIP file to write.
    print_page : function, optional
        Prints the engine sheet; without it, or where it cannot, there is no PDF, and the pack says so.
    key : Ed25519 private key, optional
        Signs the pack.

    Raises
    ------
    InputRefused
        If the record set holds rows that cannot be used.
    WrongUse
        If the engine is not in the records.
    OutputFailed
        If the file cannot be written; what stood there before still stands.
    """
    originals = listed(given)
    with tempfile.TemporaryDirectory(prefix="wearcast-") as scratch:
        put = Path(scratch) / "given"
        put.mkdir()
        source = put_back(given.inputs, put, given.entry)
        records = replace(read(source, asked.run_date), source=given.source)
        names = list(zip(records.engines["vessel"], records.engines["engine"], strict=True))
        vessel, engine = (
            spellings(asked.vessel, asked.engine, names)[0] if names else (asked.vessel, asked.engine)
        )
        asked = replace(asked, entry=given.entry, vessel=vessel, engine=engine)
        bag = Path(scratch) / bag_name(asked)
        bag.mkdir()
        run = decided(asked, fitted_anew(asked, records))
        page = sheet_page(run)
        printed = print_page(page) if print_page else None
        run = replace(run, asked=replace(asked, pdf=printed is not None))
        leaves = [
            *question_leaves(run),
            *answer_leaves(run, page),
            *book_leaves(source),
            list_leaf(originals),
        ]
        payload: dict[str, str | bytes] = {
            leaf.path.removeprefix("data/"): leaf.text for leaf in leaves if leaf.path.startswith("data/")
        }
        payload |= {
            one.packed: (given.inputs if one.is_input else given.originals)[one.name] for one in originals
        }
        payload["environment.txt"] = environment_text()
        if printed is not None:
            payload["sheet.pdf"] = printed
        tags = {leaf.path: leaf.text for leaf in leaves if not leaf.path.startswith("data/")}
        make_bag(bag, asked, payload, tags)
        signer = sign(bag, key) if key else ""
        write_whole(out, lambda part: zip_bag(bag, part, asked.run_date))
        size = out.stat().st_size if out.is_file() else 0
        return Packed(run, out, size, sum(path.is_file() for path in bag.rglob("*")), signer)
