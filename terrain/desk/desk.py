"""A desk in use: its table once that is laid, its threads, and the jobs at work on it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import TYPE_CHECKING, Final

from terrain.desk.work import Dropped, Job, Jobs

if TYPE_CHECKING:
    from terrain.desk.table import Ground, Table

_THREADS: Final = 8
_SENT_S: Final = 1.0
"""How long the rest waits at most for the ground to be asked for: there may be no page yet."""


class Desk:
    """A desk in use.

    lay: reads the ground, and calls what it is given with that as soon as it is read; called on a
    thread when the desk is opened, and `failed` where it raises.
    warm: what is done after that, so that later answers are quick.
    """

    def __init__(
        self,
        lay: Callable[[Callable[[Ground], None]], Table],
        *,
        failed: Callable[[], None] = lambda: None,
        warm: Callable[[Table, Job], None] = lambda table, job: None,
    ) -> None:
        self.jobs = Jobs()
        self.ground: Future[Ground] = Future()
        self.table: Future[Table] = Future()
        self.sent = threading.Event()
        self.threads = ThreadPoolExecutor(_THREADS, thread_name_prefix="desk")
        self._lay, self._failed, self._warm = lay, failed, warm

    def open(self) -> None:
        """Begin to lay the table."""
        self.threads.submit(self._open)
        # asked for with the ground, while that is read
        self.threads.submit(import_module, "terrain.desk.colours")

    def close(self) -> None:
        """Drop all that is at work."""
        self.jobs.drop_all()
        self.sent.set()
        self.threads.shutdown(wait=False, cancel_futures=True)

    @contextmanager
    def at_work(self, job: Job, number: str) -> Iterator[None]:
        """Keep a job among those that can be dropped, by a number of the page's or by none."""
        self.jobs.begin(number, job)
        try:
            yield
        finally:
            self.jobs.end(job)

    def _show(self, ground: Ground) -> None:
        """Let the page have the ground, and nothing else take its time until it has."""
        self.ground.set_result(ground)
        self.sent.wait(_SENT_S)

    def _open(self) -> None:
        try:
            table = self._lay(self._show)
        except Exception as error:
            for laid in (self.ground, self.table):
                if not laid.done():
                    laid.set_exception(error)
            self._failed()
            return
        if not self.ground.done():
            self.ground.set_result(table.ground)
        self.table.set_result(table)
        job = Job()
        with self.at_work(job, ""), suppress(Dropped):
            self._warm(table, job)
