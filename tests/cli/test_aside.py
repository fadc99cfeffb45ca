"""A second process is given what stood when it began, and the result is the same with it or without."""

from __future__ import annotations

import threading
from typing import Any

import pytest

from wearcast.cli.aside import aside

PACKED_BY: list[str] = []


class Changing:
    """Notes who packs it: a pool's own thread would do so while this one is changed."""

    def __init__(self) -> None:
        self.found = {k: k for k in range(10)}

    def __reduce__(self) -> tuple[Any, ...]:
        PACKED_BY.append(threading.current_thread().name)
        return dict, (self.found,)


def total(found: Any) -> int:
    return sum(found.values())


@pytest.mark.parametrize("worth", [False, True])
def test_the_result_is_that_of_the_work(worth: bool) -> None:
    with aside(total, {1: 2, 3: 40}, worth) as result:
        assert result() == 42


def test_what_is_given_is_packed_before_anything_can_change_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    PACKED_BY.clear()
    given = Changing()
    with aside(total, given, worth=True) as result:
        given.found.clear()
        assert result() == 45
    assert PACKED_BY == ["MainThread"]
