"""Works of seconds each, done in this process and in others beside it.

Python lets one thread of a process run at a time, so threads gain nothing where kernels are the
lesser part of a work. ::

    this process   0   1   lays out | 2     4     6     7   |      each takes the next that nobody
    another                  loads        3     5      8    |      has taken, and has one core

The first work is done here. It shows how long they take, so that no process is begun for little;
it compiles what all need, and works out what all share, of which each process then maps the arrays
(`mapped`). What one of them fails at is done again here, whatever ended it. They are programs of
their own, and not of the script that asks, so that it may be of any kind.
"""

from __future__ import annotations

import json
import os
import pickle
import shutil
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import IO, Any, Final, TypeVar, cast

from terrain.compiling import kept_in
from terrain.cores import at_most
from terrain.mapped import lay_out, read_laid_out
from terrain.scratch import scratch

Result = TypeVar("Result")
Progress = Callable[[float], None]
Event = tuple[int, float, Any] | None
"""Which work, the share of it that is done, and when all is, what came of it."""

WORTH_S: Final = 10.0
"""For every so many seconds of work left one more process begins: it takes 2 to load (measured)."""

_HINDRANCES: Final = (
    *(pickle.PickleError, TypeError, AttributeError),
    *(OSError, MemoryError, RuntimeError),
)
"""What is raised where a work cannot be pickled, or there is no room for it, or for a thread."""

_PROGRAM: Final = """
import json, sys
sys.path[:] = json.loads(sys.argv[2])
from terrain.processes import work_for_another
work_for_another(sys.argv[1])
"""


def each_of(
    count: int,
    work: Callable[[int, Progress], Result],
    *,
    processes: int = 1,
    progress: Progress = lambda share: None,
) -> list[Result]:
    """What `work(number, progress)` returns for every number below `count`, in order.

    processes: how many may work at once, this one among them. Others begin where the work can be
    pickled and is long enough. What a work raises is raised here.
    """
    waiting, events = deque(range(count)), SimpleQueue[Event]()
    shares, done = [0.0] * count, dict[int, Result]()

    def hear(event: Event) -> None:
        if event is None:
            return
        number, share, result = event
        # one that is done again is not told to be done less
        shares[number] = max(share, shares[number])
        progress(sum(shares) / count)
        if result is not None:
            done[number] = result[0]

    def step(number: int, share: float) -> None:
        while not events.empty():
            hear(events.get())
        hear((number, share, None))

    with ExitStack() as stack:
        may_call, since = processes > 1 and kept_in() is not None, time.monotonic()
        while len(done) < count:
            if (number := _next(waiting)) is None:
                hear(events.get())
                continue
            result = work(number, partial(step, number))
            hear((number, 1.0, (result,)))
            left_s = (time.monotonic() - since) / len(done) * len(waiting)
            if may_call and left_s >= WORTH_S:
                may_call = False
                others = min(processes - 1, int(left_s / WORTH_S))
                stack.enter_context(at_most(1))
                stack.enter_context(_beside(work, others, waiting, events))
    return [done[number] for number in range(count)]


def _next(waiting: deque[int]) -> int | None:
    try:
        return waiting.popleft()
    except IndexError:
        return None


@contextmanager
def _beside(
    work: object, count: int, waiting: deque[int], events: SimpleQueue[Event]
) -> Iterator[None]:
    """Others who do what waits, for as long as the block; nobody where the work stays here."""
    with ExitStack() as stack:
        begun: list[tuple[subprocess.Popen[bytes], Thread]] = []
        try:
            with suppress(*_HINDRANCES):
                folder = Path(stack.enter_context(scratch()))
                lay_out(work, folder)
                for _ in range(count if sys.executable else 0):
                    process = _begin(folder)
                    thread = Thread(target=_ask, args=(process, waiting, events), daemon=True)
                    begun.append((process, thread))
                    thread.start()
            yield
        finally:
            for process, _ in begun:
                process.kill()
            for process, thread in begun:
                with suppress(RuntimeError):  # one that could not be started
                    thread.join()
                with suppress(OSError):
                    process.communicate()


def _begin(folder: Path) -> subprocess.Popen[bytes]:
    # -P: nothing is imported from the folder that a user happens to be in
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _PROGRAM, str(folder), json.dumps(sys.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )


def _ask(process: subprocess.Popen[bytes], waiting: deque[int], events: SimpleQueue[Event]) -> None:
    """Have a process do what waits, one after another; what it fails at waits again."""
    number = None
    asked, answers = (cast("IO[bytes]", pipe) for pipe in (process.stdin, process.stdout))
    with suppress(Exception):  # whatever ended it
        pickle.load(answers)  # it has loaded
        while (number := _next(waiting)) is not None:
            asked.write(f"{number}\n".encode())
            asked.flush()
            result = None
            while result is None:
                share, result = pickle.load(answers)
                events.put((number, share, result))
    if number is not None:
        waiting.appendleft(number)
        events.put(None)


def work_for_another(folder: str) -> None:
    """Be the process beside another: do the works that it names, until it ends."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer

    def tell(share: float, result: object = None) -> None:
        pickle.dump((share, result), answers)
        answers.flush()

    with suppress(OSError):  # where memory runs out, Linux is to end this one, and not who asks
        Path("/proc/self/oom_score_adj").write_text("500", encoding="ascii")
    work = read_laid_out(Path(folder))
    with suppress(BrokenPipeError), at_most(1):
        tell(0.0)
        for number in sys.stdin:
            tell(1.0, (work(int(number), tell),))
    # who asked has ended, and may have had no time to clear up
    shutil.rmtree(folder, ignore_errors=True)
