"""Something long done in a second process while the first goes on."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context
from typing import TypeVar, cast

Given = TypeVar("Given")
Made = TypeVar("Made")


@contextmanager
def aside(work: Callable[[Given], Made], given: Given, worth: bool) -> Iterator[Callable[[], Made]]:
    """Begin work in a second process, where it is worth one and there is a core for it.

    The result is the same either way. A process that is lost, say for want of memory, is made good here.

    Yields
    ------
    callable
        Gives the result, and waits for it.
    """
    if not worth or (os.cpu_count() or 1) < 2:
        yield lambda: work(given)
        return
    pool: Executor
    # A new process, not a copy of this one: a copy of a process with threads may wait for a lock for ever.
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        begun = pool.submit(
            _worked, pickle.dumps((work, given))
        )  # whole now: the pool packs it while we change it

        def result() -> Made:
            try:
                return cast(Made, begun.result())
            except BrokenProcessPool:
                return work(given)

        try:
            yield result
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _worked(packed: bytes) -> object:
    work, given = pickle.loads(packed)  # our own bytes
    return work(given)
