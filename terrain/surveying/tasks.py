"""Tasks, one a tile: each done whole or not at all, by whoever is there, and never twice."""

from __future__ import annotations

import errno
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from terrain.cores import at_most
from terrain.errors import TerrainError
from terrain.surveying.receipts import Folder, Receipt

if TYPE_CHECKING:
    from distributed import Client, Future

    from terrain.surveying.workers import OneClient

_STATUS: Final = Path("/proc/self/status")
_NO_ROOM: Final = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}

Make = Callable[[Path], Mapping[str, Any]]
"""Makes a file, whole or not at all, and says what is to be known of it."""


class NoRoom(TerrainError):
    """The disk is full: no further task can be kept."""


@dataclass(frozen=True, kw_only=True)
class Task:
    """A part of the work that is done at once.

    name: of what it makes, from all that this hangs on. ending: of its file. tile: whose it is.
    label: what a message calls that tile. weight: how much work it is, against others. make: does
    it; it is sent to a worker.
    """

    name: str
    ending: str
    tile: int
    label: str
    make: Make
    weight: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How a stage stands.

    stage: its name. done: tiles that are done, of `tiles`. failed: tiles that failed. hills: found,
    or looked at so far. rows: vantages so far. left_s: seconds that the rest will take, None where
    nothing tells.
    """

    stage: str
    done: int = 0
    tiles: int = 0
    failed: int = 0
    hills: int = 0
    rows: int = 0
    left_s: float | None = None


Tell = Callable[[Standing], None]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came of some tasks: the receipts of those that are done, in order of the tasks.

    made: how many of them were made now. failures: from the label of a tile to what went wrong.
    """

    receipts: Sequence[Receipt]
    made: int
    failures: Mapping[str, str] = field(default_factory=dict)


def carry_out_all(
    stage: str, tasks: Sequence[Task], folder: Folder, client: OneClient, tell: Tell
) -> Outcome:
    """Do what is missing of some tasks; NoRoom where the disk is full."""
    done = {task.name: kept for task in tasks if (kept := folder.receipt(task.name)) is not None}
    missing = [task for task in tasks if task.name not in done]
    standing = _counted(Standing(stage=stage, tiles=len(tasks)), list(done.values()))
    tell(standing)
    failures = _send_out(missing, folder, client(), done, standing, tell) if missing else {}
    return Outcome(
        receipts=[done[task.name] for task in tasks if task.name in done],
        made=len(missing) - len(failures),
        failures=failures,
    )


def carry_out(task: Task, folder: Folder) -> Receipt:
    """Do a task on one core, and sign for it."""
    began_s, file = time.process_time(), folder.part(task.name, task.ending)
    try:
        with at_most(1):
            says = task.make(file)
        took_s = time.process_time() - began_s
        more = {"tile": task.tile, "processor_s": took_s, "memory_mb": _most_mb(), "says": says}
        return folder.sign(task.name, file, **more)
    except TerrainError as error:
        if isinstance(error.__cause__, OSError) and error.__cause__.errno in _NO_ROOM:
            raise NoRoom(str(error)) from error
        raise


def _send_out(
    missing: Sequence[Task],
    folder: Folder,
    client: Client,
    done: dict[str, Receipt],
    standing: Standing,
    tell: Tell,
) -> dict[str, str]:
    """Send tasks to workers, the longest first, and note what comes back; why others failed."""
    from distributed import as_completed

    first = sorted(missing, key=lambda task: -task.weight)
    # a cluster that does the same already does it once
    sent: dict[Future, Task] = {
        client.submit(carry_out, task, folder, key=task.name, pure=False): task for task in first
    }
    failures: dict[str, str] = {}
    began_s, ahead = time.monotonic(), sum(task.weight for task in missing)
    behind = 0.0
    try:
        for future in as_completed(list(sent), loop=client.loop):
            task = sent[future]
            error = future.exception()
            if isinstance(error, NoRoom):
                raise error
            if error is None:
                done[task.name] = future.result()
            else:
                failures[task.label] = _why(error)
            behind += task.weight
            spent_s = time.monotonic() - began_s
            left_s = spent_s * (ahead - behind) / behind
            counted = _counted(standing, list(done.values()))
            tell(replace(counted, failed=len(failures), left_s=left_s))
    finally:
        client.cancel(list(sent), force=True)
    return failures


def _counted(standing: Standing, receipts: Sequence[Receipt]) -> Standing:
    hills, rows = (
        sum(int(one.says.get(name, 0)) for one in receipts) for name in ("hills", "rows")
    )
    return replace(standing, done=len(receipts), hills=hills, rows=rows)


def _why(error: BaseException) -> str:
    """What went wrong with a task, in words."""
    if isinstance(error, TerrainError):
        return str(error)
    if type(error).__name__ == "KilledWorker":
        return "every worker that took it was killed, perhaps for want of memory"
    return f"{type(error).__name__}: {error}"


def _most_mb() -> float:
    """The most memory that this process has held, megabytes; 0 where nobody tells."""
    with suppress(OSError):
        # what Linux tells by getrusage counts whoever started the process too
        for told in _STATUS.read_text().splitlines():
            if told.startswith("VmHWM:"):
                return int(told.split()[1]) / 1024.0
    try:
        import resource
    except ImportError:
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
