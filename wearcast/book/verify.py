"""Whether a book is as it was written: every row, every file, every import, from the first to the last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearcast.book import schema
from wearcast.book.address import Address, address_of
from wearcast.book.chain import GENESIS
from wearcast.book.connect import reading
from wearcast.book.heads import Head, heads_of, last_digest
from wearcast.book.intact import first_trouble

if TYPE_CHECKING:
    from sqlalchemy import Connection


SHORT = 12
"""Digits of a digest that tell it from others, as `wearcast book list` shows them."""


@dataclass(frozen=True)
class Verified:
    """The outcome.

    Attributes
    ----------
    trouble : str
        The first thing found that is not as it was written; empty if all is.
    said : str
        What an expected digest told.
    """

    imports: int
    rows: int
    files: int
    digest: str
    trouble: str
    said: str = ""

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.trouble


def verify(book: str | Path | Address, expect: str = "") -> Verified:
    """Go through a book and find the first changed, missing or inserted row.

    Parameters
    ----------
    expect : str, optional
        A digest the book once had, kept outside it. Without one a book that was rebuilt whole, or cut off behind an
        import, cannot be told from one that was not.
    """
    with reading(address_of(book)) as connection:
        heads = heads_of(connection)
        files = _count(connection, schema.files)
        trouble = first_trouble(connection)
    digest = last_digest(heads)
    rows = sum(head.rows(name) for head in heads for name in schema.ROW_TABLES)
    said = ""
    if expect and not trouble:
        trouble, said = _expected(heads, expect.strip().casefold())
    return Verified(len(heads), rows, files, digest, trouble, said)


def _expected(heads: Sequence[Head], expect: str) -> tuple[str, str]:
    known = [GENESIS, *(head.digest for head in heads)]
    met = [at for at, digest in enumerate(known) if len(expect) >= SHORT and digest.startswith(expect)]
    if met and met[-1] == len(heads):
        return "", "Its last digest is the one expected."
    if met:
        at = met[-1]
        more = len(heads) - at
        after = f"after import {at}" if at else "when it was empty"
        return "", (
            f"It had the digest expected {after}; added since: {more} {'import' if more == 1 else 'imports'}."
        )
    return (
        "its digest is not the one expected, nor was it after any of its imports: the end of the book was cut off, "
        "or the book was made anew.",
        "",
    )


def _count(connection: Connection, table: Any) -> int:
    from sqlalchemy import func, select

    return int(connection.scalar(select(func.count()).select_from(table)) or 0)
