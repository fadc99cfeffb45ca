"""Digests: each row's covers the rows before it, each import's its rows and the import before it.

All are SHA-256 (FIPS 180-4). Texts are joined by a zero byte, which no text of a book holds: so a row of n cells has
n - 1 of them, and no other row is joined to the same bytes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

FORMAT = 1
"""How digests are made; another way would be another number, chosen import by import."""

JOIN = "\0"

GENESIS = hashlib.sha256(b"wearcast record book, format 1").hexdigest()
"""What stands for the digest before the first import."""


def row_digests(table: str, previous: str, rows: Iterable[str]) -> Iterator[bytes]:
    """The digest of each row of an import in one table; a row is its texts joined."""
    sha256 = hashlib.sha256
    digest = start(table, previous)
    for row in rows:
        digest = sha256(digest + row.encode()).digest()
        yield digest


def start(table: str, previous: str) -> bytes:
    """What stands for the digest before the first row."""
    return hashlib.sha256(f"{table}{JOIN}{previous}".encode()).digest()


def joined(texts: Sequence[str]) -> str:
    """Texts as one."""
    return JOIN.join(texts)


def tables_text(tables: Mapping[str, Mapping[str, Any]]) -> str:
    """Rows and digests of the tables of an import, as they are stored."""
    return json.dumps(tables, sort_keys=True, separators=(",", ":"))


def import_digest(
    number: int,
    head: Mapping[str, str],
    files: Sequence[tuple[int, str, str, str]],
    sheets: Sequence[tuple[int, int, str, str]],
) -> str:
    """The digest of an import.

    Parameters
    ----------
    head : mapping
        kind, by_name, at, source, tables and previous, as stored.
    files : sequence of (id, name, role, sha256)
    sheets : sequence of (id, file id, sheet, table name)
    """
    content = {
        "format": FORMAT,
        "id": number,
        **{name: head[name] for name in ("kind", "by_name", "at", "source", "tables", "previous")},
        "files": [list(one) for one in files],
        "sheets": [list(one) for one in sheets],
    }
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
