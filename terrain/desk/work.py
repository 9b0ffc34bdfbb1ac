"""Work of a desk: each answer on a thread of its own, which can be dropped while it is at it.

::

    a request --> Job --> thread: the library, which calls `step` with the share done
                   |                 |
        drop, or the page is gone    +--> raises Dropped at the next step
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Any, Final, TypeVar, cast

from terrain.errors import TerrainError

Made = TypeVar("Made")

_DROPPED_KEPT: Final = 64


class Dropped(TerrainError):
    """The answer is no longer wanted."""

    def __init__(self) -> None:
        super().__init__("this was dropped: ask again if it is wanted after all")


class Job:
    """One answer in the making: whether it is still wanted, and whom to tell how far it is."""

    def __init__(self, tell: Callable[[float, str], None] | None = None) -> None:
        self._unwanted = threading.Event()
        self._tell = tell

    def drop(self) -> None:
        """Say that the answer is no longer wanted."""
        self._unwanted.set()

    def check(self) -> None:
        """Raise Dropped where the answer is no longer wanted."""
        if self._unwanted.is_set():
            raise Dropped

    def step(self, share: float, words: str = "") -> None:
        """Tell what share is done, 0 to 1; raises Dropped where the rest is not wanted."""
        self.check()
        if self._tell is not None:
            self._tell(share, words)


class Jobs:
    """The answers in the making by the numbers that the page has for them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: dict[Job, str] = {}
        self._dropped: OrderedDict[str, None] = OrderedDict()

    def begin(self, number: str, job: Job) -> None:
        """Keep a job under a number, "" for none; one that was dropped beforehand is dropped."""
        with self._lock:
            self._running[job] = number
            if number and number in self._dropped:
                job.drop()

    def end(self, job: Job) -> None:
        """Forget a job that is done."""
        with self._lock:
            self._running.pop(job, None)

    def drop(self, number: str) -> int:
        """Drop the jobs of a number, and those of it that are still to come; how many ran."""
        with self._lock:
            self._dropped[number] = None
            while len(self._dropped) > _DROPPED_KEPT:
                self._dropped.popitem(last=False)
            found = [job for job, of in self._running.items() if of == number]
        for job in found:
            job.drop()
        return len(found)

    def drop_all(self) -> None:
        """Drop every job: the desk is closed."""
        with self._lock:
            found = list(self._running)
        for job in found:
            job.drop()


class Kept:
    """Answers kept under their questions: each made once, though several ask at once.

    most: how many are kept; those asked for longest ago go first.
    """

    def __init__(self, most: int) -> None:
        self._lock = threading.Lock()
        self._made: OrderedDict[Hashable, Future[Any]] = OrderedDict()
        self._most = most

    def get(self, key: Hashable, make: Callable[[], Made], job: Job | None = None) -> Made:
        """What is kept under a key; made by whoever asks first, the others wait for it."""
        while True:
            with self._lock:
                future = self._made.get(key)
                is_mine = future is None
                if future is None:
                    future = self._made[key] = Future()
                self._made.move_to_end(key)
                while len(self._made) > self._most:
                    self._made.popitem(last=False)
            if is_mine:
                return self._make(key, future, make)
            try:
                return cast(Made, future.result())
            except Dropped:
                # whoever was making it has left, and it is this job's turn
                if job is not None:
                    job.check()

    def values(self) -> list[Any]:
        """All that is made and kept."""
        with self._lock:
            futures = list(self._made.values())
        return [future.result() for future in futures if future.done() and not future.exception()]

    def _make(self, key: Hashable, future: Future[Any], make: Callable[[], Made]) -> Made:
        try:
            made = make()
        except BaseException as error:
            with self._lock:
                if self._made.get(key) is future:
                    del self._made[key]
            future.set_exception(error)
            raise
        future.set_result(made)
        return made
