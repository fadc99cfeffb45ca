"""A pack opened without trusting it, and what is wrong with it as a bag."""

from __future__ import annotations

import hashlib
import re
import stat
import zipfile
from pathlib import Path
from typing import Any

from wearcast.door.archives import blocks, opened
from wearcast.door.bounds import TurnedAway
from wearcast.door.files import streamed
from wearcast.evidence.asked import Asked, NotAPack
from wearcast.evidence.bag import UNLISTED, bag_info, bagit_module

MANIFESTS = ("manifest-sha256.txt", "tagmanifest-sha256.txt")
_NAME = re.compile(r"[a-z0-9][a-z0-9._-]{0,79}")


def unpack(source: Path, folder: Path) -> Path:
    """Put the files of a pack into an empty folder; nothing is put anywhere else.

    Returns
    -------
    Path
        The folder of the bag.

    Raises
    ------
    NotAPack
        If it is no ZIP file, is damaged, or holds anything a pack never holds: names that lead elsewhere,
        links, two files of one name, encrypted files, or more than a pack could.
    """
    try:
        with streamed(source) as (file, _), opened(file) as archive:
            root = _checked(source, archive.infolist())
            for entry in archive.infolist():
                if not entry.is_dir():
                    path = folder / entry.filename
                    path.parent.mkdir(parents=True, exist_ok=True)
                    with path.open("xb") as target:
                        for block in blocks(archive, entry):
                            target.write(block)
    except TurnedAway as away:
        raise NotAPack(f"{source}: {away}") from None
    except OSError as problem:
        raise NotAPack(f"{source}: cannot be unpacked here ({problem.strerror or problem}).") from None
    return folder / root


def _checked(source: Path, entries: list[zipfile.ZipInfo]) -> str:
    """The one top folder of a ZIP file whose entries are all harmless."""
    seen: set[str] = set()
    for entry in entries:
        name, mode = entry.filename, entry.external_attr >> 16
        parts = name.rstrip("/").split("/")
        harmless = (
            all(map(_NAME.fullmatch, parts))
            and ".." not in name
            and (len(parts) > 1 or entry.is_dir())
            and stat.S_IFMT(mode) in (0, stat.S_IFREG, stat.S_IFDIR)
            and not entry.flag_bits & 0x1
            and name not in seen
        )
        if not harmless:
            raise NotAPack(
                f"{source}: holds {name[:120]!r}, which a pack never does (a name that leads elsewhere, a link, "
                "an encrypted file or a second file of one name). Nothing was opened."
            )
        seen.add(name)
    roots = {entry.filename.split("/")[0] for entry in entries}
    if len(roots) != 1:
        raise NotAPack(f"{source}: expected one folder, the bag; found {len(roots)}. It is no evidence pack.")
    return roots.pop()


def bag_faults(bag: Path) -> list[str]:
    """What is wrong with a bag by its own manifests, in sentences."""
    other = sorted(path.name for path in bag.glob("*manifest-*.txt") if path.name not in MANIFESTS)
    if other:
        return [f"This is no valid bag: it has {other[0]}; packs use {' and '.join(MANIFESTS)}."]
    bagit = bagit_module()
    # A declaration or manifest that is damaged raises whatever it happens to hit; to the user it is one thing.
    try:
        opened = bagit.Bag(str(bag))
        try:
            opened.validate()
        except bagit.BagValidationError as invalid:
            words = " ".join(str(invalid).split()).rstrip(".")
            return _apart(bag, opened) or [f"The bag is not valid: {words}."]
    except Exception as broken:
        return [f"This is no valid bag: {' '.join(str(broken).split()) or type(broken).__name__}."]
    return []


def _apart(bag: Path, opened: Any) -> list[str]:
    """Files that are not as the manifests say: the validation stops at the first kind it meets."""
    missing, added = opened.compare_manifests_with_fs()
    said = [f"{path} is missing; the manifest lists it." for path in sorted(missing)]
    said += [f"{path} was added; no manifest lists it." for path in sorted(added)]
    for path, checksums in sorted(opened.entries.items()):
        if (bag / path).is_file() and any(
            hashlib.new(name, (bag / path).read_bytes()).hexdigest() != expected.lower()
            for name, expected in checksums.items()
        ):
            said.append(f"{path} was changed: its checksum is not the one in the manifest.")
    return said


def label_faults(bag: Path, asked: Asked) -> list[str]:
    """Where bag-info.txt says something else than what the pack was asked for."""
    bagit = bagit_module()
    try:
        said = bagit.Bag(str(bag)).info
    except Exception:
        return []  # told already
    expected = {name: text for name, text in bag_info(asked).items() if name != "Bag-Software-Agent"}
    return [
        f"bag-info.txt, {name}: says {said.get(name, 'nothing')!r}; data/run.json leads to {text!r}."
        for name, text in expected.items()
        if said.get(name) != text
    ]


def unlisted_tags(bag: Path) -> list[str]:
    """Files beside ``data`` that no tag manifest covers, the manifests and a signature excepted."""
    listed = set()
    for manifest in bag.glob("tagmanifest-*.txt"):
        lines = manifest.read_text(encoding="utf-8", errors="replace").splitlines()
        listed |= {line.split(maxsplit=1)[1].lstrip("*") for line in lines if len(line.split()) > 1}
    found = [path.relative_to(bag).as_posix() for path in sorted(bag.rglob("*")) if path.is_file()]
    return [
        f"{name} was added; no manifest lists it."
        for name in found
        if not name.startswith(("data/", "tagmanifest-")) and name not in listed and name not in UNLISTED
    ]
