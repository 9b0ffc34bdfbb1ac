"""A desk in use: its table once that is laid, its threads, and the jobs at work on it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Final

from terrain.desk.work import Dropped, Job, Jobs

if TYPE_CHECKING:
    from terrain.desk.table import Table

_THREADS: Final = 8


class Desk:
    """A desk in use.

    lay: reads the ground; called on a thread when the desk is opened, and `failed` where it raises.
    warm: what is done after that, so that later answers are quick.
    """

    def __init__(
        self,
        lay: Callable[[], Table],
        *,
        failed: Callable[[], None] = lambda: None,
        warm: Callable[[Table, Job], None] = lambda table, job: None,
    ) -> None:
        self.jobs = Jobs()
        self.table: Future[Table] = Future()
        self.threads = ThreadPoolExecutor(_THREADS, thread_name_prefix="desk")
        self._lay, self._failed, self._warm = lay, failed, warm

    def open(self) -> None:
        """Begin to lay the table."""
        self.threads.submit(self._open)

    def close(self) -> None:
        """Drop all that is at work."""
        self.jobs.drop_all()
        self.threads.shutdown(wait=False, cancel_futures=True)

    @contextmanager
    def at_work(self, job: Job, number: str) -> Iterator[None]:
        """Keep a job among those that can be dropped, by a number of the page's or by none."""
        self.jobs.begin(number, job)
        try:
            yield
        finally:
            self.jobs.end(job)

    def _open(self) -> None:
        try:
            self.table.set_result(self._lay())
        except Exception as error:
            self.table.set_exception(error)
            self._failed()
            return
        job = Job()
        with self.at_work(job, ""), suppress(Dropped):
            self._warm(self.table.result(), job)
