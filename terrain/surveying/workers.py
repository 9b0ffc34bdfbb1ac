"""Who does the work: a cluster of this machine, or one that is running elsewhere."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from terrain.cores import cores
from terrain.errors import TerrainError
from terrain.memory import free_bytes
from terrain.scratch import scratch
from terrain.surveying import deaf

if TYPE_CHECKING:
    from distributed import Client

_OWN_GB: Final = 0.5
_FREE_SHARE: Final = 0.8
_HEARD_S: Final = 20

SPARING: Final[Mapping[str, object]] = {
    "distributed.worker.profile.enabled": False,
    "distributed.admin.tick.interval": "500ms",
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.worker.memory.monitor-interval": "500ms",
}
"""Settings of Dask for tasks of minutes: it looks seldom at what its processes do, which else takes
4 % of a core for as long as a survey lasts, and 3 % of each worker's; 1 % and 0.4 % so."""

_TOLD_S: Final = 30.0

OneClient = Callable[[], "Client"]
"""The way to the workers, who are called when it is first asked for."""


@dataclass(frozen=True, kw_only=True)
class Workers:
    """Who is to do the work of a survey.

    Parameters
    ----------
    scheduler : str, optional
        Address of a running cluster; workers of this machine unless given.
    count : int, optional
        Workers of this machine, as many as cores and memory allow unless given.
    memory_gb : float, optional
        Most memory that they take together, gigabytes; most of what is free unless given.
    dashboard : bool, optional
        Whether pages about the work are served.
    told : callable, optional
        Called with the address of those pages.

    Raises
    ------
    TerrainError
        For a count below 1.

    Examples
    --------
    >>> import terrain
    >>> terrain.Workers(count=2).local_count(task_gb=1.0)
    2
    """

    scheduler: str | None = None
    count: int | None = None
    memory_gb: float | None = None
    dashboard: bool = False
    told: Callable[[str], None] = print

    def __post_init__(self) -> None:
        if self.count is not None and self.count < 1:
            raise TerrainError(f"{self.count} workers do nothing: ask for 1 or more")

    def local_count(self, *, task_gb: float) -> int:
        """How many workers of this machine, each with a task that takes so much memory."""
        free = free_bytes()
        free_gb = math.inf if free is None else _FREE_SHARE * free / 1e9
        fit = min(free_gb, self.memory_gb or math.inf) / (_OWN_GB + task_gb)
        return self.count or max(min(cores(), int(min(fit, 1e6))), 1)


@contextmanager
def called(asked: Workers, *, task_gb: float, prepare: Callable[[], None]) -> Iterator[OneClient]:
    """A way to workers, who go home at the end of the block; nobody is called who is not needed.

    task_gb: what a task takes of memory beside the program itself, gigabytes. prepare: called
    before the workers begin.
    """
    with ExitStack() as stack:
        yield cache(lambda: stack.enter_context(_client(asked, task_gb, prepare)))


@contextmanager
def _client(asked: Workers, task_gb: float, prepare: Callable[[], None]) -> Iterator[Client]:
    import dask
    import distributed  # noqa: F401 - its settings come with it, and are not to go with ours

    # one lost worker after the other is bad luck, more of one task are its own fault
    settings = {"distributed.scheduler.allowed-failures": 3, "distributed.admin.tick.limit": "60s"}
    # pages about the work show what it is spent on
    sparing = {} if asked.dashboard else SPARING
    with dask.config.set({**settings, **sparing}), _quietly():
        if asked.scheduler is not None:
            opened = _running(asked, asked.scheduler, prepare)
        else:
            # what one process compiles, and keeps, the others load
            prepare()
            opened = _local(asked, asked.local_count(task_gb=task_gb))
        with opened as client:
            yield client


@contextmanager
def _running(asked: Workers, address: str, prepare: Callable[[], None]) -> Iterator[Client]:
    from distributed import Client

    try:
        client = Client(address, timeout=_HEARD_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise TerrainError(
            f"no scheduler of a cluster answers at {address}: start one with `dask scheduler`, or "
            "leave it out to use this machine"
        ) from error
    with client:
        if asked.dashboard:
            asked.told(client.dashboard_link)
        client.run(prepare)
        yield client


@contextmanager
def _local(asked: Workers, count: int) -> Iterator[Client]:
    from distributed import Client, LocalCluster

    with scratch() as folder:
        cluster = LocalCluster(
            n_workers=count,
            threads_per_worker=1,
            dashboard_address="127.0.0.1:0",
            scheduler_kwargs={"dashboard": asked.dashboard, "local_directory": folder},
            silence_logs=logging.CRITICAL,
            local_directory=folder,
            scheduler_sync_interval=_TOLD_S,
            preload=[deaf.__name__],
        )
        with cluster, Client(cluster, set_as_default=False) as client:
            if asked.dashboard:
                asked.told(cluster.dashboard_link)
            yield client


@contextmanager
def _quietly() -> Iterator[None]:
    """Keep what the cluster says of its comings and goings from the terminal."""
    every = [logging.getLogger(name) for name in ("distributed", "tornado", "bokeh")]
    before: list[Any] = [one.level for one in every]
    for one in every:
        one.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for one, level in zip(every, before, strict=True):
            one.setLevel(level)
