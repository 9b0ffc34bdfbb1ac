"""Work shared out over the cores of the machine.

A kernel that answers many rows or rays takes the first and the end of those it is to answer, and
lets go of the interpreter (`nogil`); parts of the work then run at once on threads. numba's own
parallel loops do the same, but each of them costs a second of compilation more. The threads are
started once and kept, and whoever shares out works along: a plan does so hundreds of times, and a
thread takes as long to start, or to wake on a busy machine, as a small work does.
"""

from __future__ import annotations

import math
import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from typing import Final, TypeVar

Result = TypeVar("Result")

PARTS_PER_CORE: Final = 4
"""Parts differ in what they cost; whoever is done early takes another."""

_most: ContextVar[int | None] = ContextVar("most", default=None)


def share_out(count: int, work: Callable[[int, int], Result]) -> list[Result]:
    """Call `work(first, end)` for parts that together are 0 to `count`, on all cores at once.

    What they return, in order. No two parts may write to the same place. What one of them raises
    is raised here.

    >>> import numpy as np
    >>> squares = np.zeros(5, dtype=int)
    >>> def fill(first: int, end: int) -> int:
    ...     squares[first:end] = np.arange(first, end) ** 2
    ...     return end - first
    >>> sum(share_out(5, fill)), squares.tolist()
    (5, [0, 1, 4, 9, 16])
    """
    size = max(math.ceil(count / (PARTS_PER_CORE * cores())), 1)
    firsts = range(0, count, size)
    if cores() == 1 or len(firsts) < 2:
        return [work(0, count)]
    waiting, done = iter(firsts), dict[int, Result]()

    def take_parts() -> None:
        for first in waiting:
            done[first] = work(first, min(first + size, count))

    helpers = [_threads().submit(take_parts) for _ in range(cores() - 1)]
    try:
        take_parts()
    finally:
        # after an error nobody begins another part
        deque(waiting, maxlen=0)
    for helper in helpers:
        # one that has not begun, because its thread is at work for others, is not waited for
        if not helper.cancel():
            helper.result()
    return [done[first] for first in firsts]


@contextmanager
def at_most(count: int) -> Iterator[None]:
    """Let this thread take no more than so many cores within the block; others are not bound.

    For whoever runs several works at once, one a core, so that they do not fight over the cores.

    >>> with at_most(1):
    ...     cores()
    1
    """
    if count < 1:
        raise ValueError(f"no work is done on {count} cores")
    before = _most.set(count)
    try:
        yield
    finally:
        _most.reset(before)


@cache
def _threads() -> ThreadPoolExecutor:
    """A thread for each core beside the one that asks; they wait until the process ends."""
    return ThreadPoolExecutor(max(_of_machine() - 1, 1))


if hasattr(os, "register_at_fork"):
    # threads do not follow into a forked process
    os.register_at_fork(after_in_child=_threads.cache_clear)


def cores() -> int:
    """How many cores this thread may use: those of the process, or what `at_most` leaves."""
    most = _most.get()
    return _of_machine() if most is None else min(most, _of_machine())


@cache
def _of_machine() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
