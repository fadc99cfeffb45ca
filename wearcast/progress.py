"""How far something long has come, told to whoever listens; nobody need."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

Item = TypeVar("Item")
_listener: ContextVar[Callable[[str], None] | None] = ContextVar("listener", default=None)


def counting(what: str, items: Sequence[Item]) -> Iterator[Item]:
    """The items, each told as it begins.

    >>> with told_to(print):
    ...     list(counting("engine", "ab"))
    engine 1 of 2
    engine 2 of 2
    ['a', 'b']
    """
    for number, item in enumerate(items, start=1):
        if (tell := _listener.get()) is not None:
            tell(f"{what} {number} of {len(items)}")
        yield item


@contextmanager
def told_to(tell: Callable[[str], None]) -> Iterator[None]:
    """Let somebody listen meanwhile."""
    before = _listener.set(tell)
    try:
        yield
    finally:
        _listener.reset(before)
