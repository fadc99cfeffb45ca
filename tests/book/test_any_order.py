"""Any sequence of adding, correcting, exporting and verifying agrees with a plain model of what a book holds."""

from __future__ import annotations

import itertools
import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from books import corrections, engines, readings
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from postgres import KINDS, room_for_a_book

from wearcast.book.add import add
from wearcast.book.backup import backup
from wearcast.book.correct import correct
from wearcast.book.create import create
from wearcast.book.export import export
from wearcast.book.verify import verify
from wearcast.errors import InputRefused
from wearcast.records.read import read as read_records
from wearcast.sources import read

POSITIONS = ("1", "2", "A3")
VALUES = ("7.980", "7.98", "7.970", "7.900")
REMARKS = ("", "ø Ω", "'; DROP TABLE readings; --", 'a "b", c')

rows_of_a_file = st.lists(
    st.tuples(*map(st.sampled_from, (POSITIONS, VALUES, REMARKS))), min_size=1, max_size=4
)


@dataclass
class Row:
    """A reading as the model knows it."""

    position: str
    came: str
    now: str
    remark: str
    withdrawn: bool = False
    confirmed: bool = False


@dataclass
class Model:
    """A book as a list: rows in the order in which they came, digests after each import."""

    rows: list[Row] = field(default_factory=list)
    digests: list[str] = field(default_factory=list)
    given: set[tuple[tuple[str, str, str], ...]] = field(default_factory=set)

    def add(self, new: list[tuple[str, str, str]]) -> int:
        """Take the rows that no earlier import brought; how many."""
        if tuple(new) in self.given:
            return 0
        settled = {
            (row.position, float(row.came))
            for row in self.rows
            if row.withdrawn or float(row.now) != float(row.came)
        }
        held = {
            (row.position, float(value), row.remark)
            for row in self.rows
            for value in ([row.came] if row.withdrawn else [row.came, row.now])
        }
        fresh = [
            Row(position, value, value, remark)
            for position, value, remark in new
            if (position, float(value)) not in settled and (position, float(value), remark) not in held
        ]
        if fresh:
            self.given.add(tuple(new))
        self.rows += fresh
        return len(fresh)


class Books(RuleBasedStateMachine):
    """Drives a book and its model side by side."""

    name: str
    folder: Path

    @initialize()
    def start(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.model = Model()
        self.number = itertools.count()
        self.room = room_for_a_book(type(self).name, self.folder)
        self.book = self.room.__enter__()
        create(self.book)
        first = add(self.book, engines(self._place()), "A. Bell")
        self.model.digests.append(first.digest)

    def teardown(self) -> None:
        if hasattr(self, "room"):
            self.room.__exit__(None, None, None)
            shutil.rmtree(self.folder)

    def _place(self) -> Path:
        return self.folder / f"in {next(self.number)}"

    @rule(new=rows_of_a_file)
    def add_a_file(self, new: list[tuple[str, str, str]]) -> None:
        rows = [{"position": position, "value": value, "remark": remark} for position, value, remark in new]
        expected = self.model.add(new)
        done = add(self.book, readings(self._place(), rows), "A. Bell")
        assert done.rows.get("readings", 0) == expected
        if expected:
            self.model.digests.append(done.digest)
        assert done.digest == self.model.digests[-1]

    @precondition(lambda self: self.model.rows)
    @rule(
        data=st.data(),
        action=st.sampled_from(["replace", "withdraw", "confirm"]),
        new=st.sampled_from(VALUES),
    )
    def correct_a_row(self, data: st.DataObject, action: str, new: str) -> None:
        at = data.draw(st.integers(0, len(self.model.rows) - 1))
        row = self.model.rows[at]
        told = [["readings", str(at + 2), "value", row.now, new if action == "replace" else "", action]]
        path = corrections(self.folder / f"c {next(self.number)}.csv", told)
        before = verify(self.book)
        try:
            done = correct(self.book, path, "B. Cole")
        except InputRefused:
            assert row.withdrawn
            assert verify(self.book) == before
            return
        if done.import_id is None:
            return  # the very same correction was taken down before
        assert not row.withdrawn
        self.model.digests.append(done.digest)
        match action:
            case "replace":
                row.now, row.confirmed = new, False
            case "withdraw":
                row.withdrawn = True
            case _:
                row.confirmed = True

    @precondition(lambda self: self.model.rows)
    @rule()
    def export_and_read_back(self) -> None:
        out = self._place()
        out.mkdir()
        for name, text in export(self.book).items():
            (out / name).write_text(text, encoding="utf-8")
        assert self._seen(read_records(out)) == self._expected()

    @rule(which=st.integers(0, 50))
    def verify_against_an_earlier_digest(self, which: int) -> None:
        digest = self.model.digests[which % len(self.model.digests)]
        assert verify(self.book, digest).whole

    @rule()
    def back_up(self) -> None:
        copy = self.folder / f"copy {next(self.number)}.book"
        assert backup(self.book, copy).digest == self.model.digests[-1]
        if self.model.rows:
            assert self._seen(read(copy)) == self._expected()

    @invariant()
    def agrees(self) -> None:
        if not hasattr(self, "model"):
            return
        found = verify(self.book, self.model.digests[-1])
        assert found.whole, found.trouble
        assert found.imports == len(self.model.digests)
        assert self._seen(read(self.book)) == self._expected()

    def _expected(self) -> list[tuple[int, str, str, bool]]:
        return [
            (at, row.position, row.now, row.confirmed)
            for at, row in enumerate(self.model.rows, start=2)
            if not row.withdrawn
        ]

    def _seen(self, records: object) -> list[tuple[int, str, str, bool]]:
        table = records.readings  # type: ignore[attr-defined]
        if not len(table):
            return []
        held = table["confirmed"] if "confirmed" in table else [False] * len(table)
        return list(zip(table["row"], table["position"], table["value_text"], map(bool, held), strict=True))


@pytest.mark.parametrize("kind", KINDS)
def test_any_order_of_deeds_agrees_with_the_model(kind: str) -> None:
    machine = type("BooksOnOne", (Books,), {"name": kind})
    chosen = settings(
        max_examples=5, stateful_step_count=10, deadline=None, derandomize=True,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(machine, settings=chosen)
