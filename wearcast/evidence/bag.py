"""A folder of files made into a bag (RFC 8493) and the bag into one ZIP file, always the same bytes."""

from __future__ import annotations

import logging
import zipfile
from collections.abc import Mapping
from datetime import date
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from types import ModuleType

from wearcast.evidence.asked import Asked
from wearcast.evidence.words import external_description
from wearcast.report.words import slug

TAG_MANIFEST = "tagmanifest-sha256.txt"
SIGNATURE = "signature.bin"
SIGNER = "signer.pem"
UNLISTED = (SIGNATURE, SIGNER)
"""Tag files that no manifest lists: they are made from the tag manifest."""
_LONGEST = 40


def bagit_module() -> ModuleType:
    """The bagit package, its own messages kept off the terminal: ours say the same in plain words."""
    logging.getLogger("bagit").setLevel(logging.CRITICAL + 1)
    return import_module("bagit")  # it has no types


def bag_name(asked: Asked) -> str:
    """Name of the bag's folder."""
    stem = f"evidence-{slug(asked.vessel) or 'vessel'}-{slug(asked.engine) or 'engine'}"
    return stem[:_LONGEST].strip("-")


def make_bag(folder: Path, asked: Asked, payload: Mapping[str, str | bytes], tags: Mapping[str, str]) -> None:
    """Write files into an empty folder and make it a bag.

    Parameters
    ----------
    folder : Path
        Exists and is empty.
    payload : mapping of str to content
        By path below ``data``.
    tags : mapping of str to text
        Further files beside ``data``; the tag manifest lists them.
    """
    bagit = bagit_module()
    for name, content in payload.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    bag = bagit.make_bag(str(folder), bag_info(asked), checksums=["sha256"])
    for name, text in tags.items():
        (folder / name).write_bytes(text.encode("utf-8"))
    bag.save(manifests=False)


def bag_info(asked: Asked) -> dict[str, str]:
    """The content of bag-info.txt; one line a value."""
    found = {
        "Source-Organization": asked.organization,
        "External-Identifier": " / ".join(filter(None, (asked.vessel, asked.engine, asked.survey))),
        "External-Description": external_description(asked),
        "Bagging-Date": asked.run_date.isoformat(),
        "Bag-Software-Agent": f"wearcast {asked.program} with bagit.py {version('bagit')}",
    }
    return {name: " ".join(value.split()) for name, value in found.items() if value}


def zip_bag(folder: Path, out: Path, on: date) -> None:
    """A bag as one ZIP file: names in order, one time stamp, one mode, so that equal bags give equal bytes."""
    stamp = (min(max(on.year, 1980), 2107), on.month, on.day, 0, 0, 0)  # all that a ZIP file can hold
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for path in sorted(
            (path for path in folder.rglob("*") if path.is_file()), key=lambda p: p.as_posix()
        ):
            entry = zipfile.ZipInfo(path.relative_to(folder.parent).as_posix(), stamp)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o100644 << 16
            with path.open("rb") as source, archive.open(entry, "w") as target:
                while block := source.read(1 << 20):
                    target.write(block)
