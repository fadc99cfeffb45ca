"""Books of every released schema, with data in them, are brought to the present one and lose nothing."""

from __future__ import annotations

import base64
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import MetaData, Table

from wearcast.book import migrate
from wearcast.book.address import address_of
from wearcast.book.connect import bare
from wearcast.book.create import create
from wearcast.book.verify import verify
from wearcast.errors import WrongUse
from wearcast.sources import original_files, read

RELEASED = sorted((Path(__file__).parent / "released").glob("*.json"))
ORDER = ("contents", "imports", "files", "sheets", "places", "circumstances")


def restore(book: str, dump: dict[str, Any]) -> None:
    """Make a book as it was when its schema was released."""
    address = address_of(book)
    tables = dump["tables"]
    if address.path is not None:
        with closing(sqlite3.connect(address.path)) as early:  # as versions before this one made books
            early.execute("PRAGMA journal_mode = WAL")
    with bare(address) as connection:
        migrate.upgrade(connection, dump["schema"])
        for name in [*ORDER, *(one for one in tables if one not in ORDER)]:
            rows = [{key: _value(cell) for key, cell in row.items()} for row in tables[name]]
            if rows:
                connection.execute(Table(name, MetaData(), autoload_with=connection).insert(), rows)


def _value(cell: Any) -> Any:
    return base64.b64decode(cell["base64"]) if isinstance(cell, dict) else cell


def test_every_released_schema_has_its_book() -> None:
    assert [path.stem for path in RELEASED] == list(migrate.known_revisions())


@pytest.mark.parametrize("path", RELEASED, ids=lambda path: path.stem)
def test_a_book_of_a_released_schema_is_whole_after_the_upgrade(
    empty: str, path: Path, wearcast: Callable[..., tuple[int, str, str]]
) -> None:
    dump = json.loads(path.read_text(encoding="utf-8"))
    restore(empty, dump)
    assert wearcast("book", "upgrade", empty)[0] == 0
    assert not list(Path(empty).parent.glob("*-wal"))
    found = verify(empty, dump["digest"])
    assert found.whole, found.trouble
    assert found.digest == dump["digest"]
    records = read(empty)
    assert not records.faults
    assert records.readings["value_text"].tolist() == ["7.980", "7.982", "7.980", "7.980"]
    assert records.readings["my own; column"].tolist() == ["NULL", "", "", ""]
    assert records.engines["hours_per_year"].tolist() == [5200]
    assert len(original_files(empty)) == len(dump["tables"]["files"])


def test_a_book_of_an_unknown_schema_is_left_alone(
    empty: str, wearcast: Callable[..., tuple[int, str, str]]
) -> None:
    create(empty)
    with bare(address_of(empty)) as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    for command in (["verify"], ["list"], ["upgrade"]):
        code, _, err = wearcast("book", *command, empty)
        assert (code, "version" in err) == (2, True)
    with pytest.raises(WrongUse, match="newer version"):
        read(empty)
