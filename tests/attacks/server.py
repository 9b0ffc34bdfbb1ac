"""A process that has loaded all code, and forks into each case that it is asked for.

python -m tests.attacks.server CHANNEL

A fork goes where a process of its own would have begun: with the streams, the folder, the variables
and the bounds of its case, alone in its group; it runs what `terrain` runs, and ends as Python
ends. The process itself has one thread, for no other would follow into a fork.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import signal
import socket
import struct
import sys
import tempfile
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any, Final, TextIO

NUMBER: Final = struct.Struct("q")
MOST_LETTERS: Final = 150_000
_LOADED: Final = (
    *("terrain.command.main", "numba", "rasterio", "geopandas", "pyogrio", "rich.progress"),
    *("matplotlib.figure", "matplotlib.backends.backend_agg", "rich.table", "scipy.ndimage"),
)
_PICTURES: Final = ("mist", "skyline", "sunrise", "vantages", "atlas", "light", "season")
_SAVED: Final = {
    **dict.fromkeys(_PICTURES, "png"),
    **{"plan": "html", "summits": "gpkg", "passes": "svg", "hills": "svg"},
}


def serve(channel: socket.socket) -> bool:
    """Fork into one case after another until the channel closes; true in a fork."""
    cores_had = os.sched_getaffinity(0)
    # no threads are started on one core
    os.sched_setaffinity(0, {min(cores_had)})
    for name in _LOADED:
        import_module(name)
    while True:
        message, streams, _, _ = socket.recv_fds(channel, MOST_LETTERS, 3)
        if not message:
            return False
        asked = json.loads(message)
        if "warm" in asked:
            _warm(asked["warm"])
            channel.send(NUMBER.pack(0))
            continue
        _look_alone()
        child = os.fork()
        if child == 0:
            channel.close()
            os.sched_setaffinity(0, cores_had)
            _become(asked, streams)
            return True
        for stream in streams:
            os.close(stream)
        channel.send(NUMBER.pack(child))
        channel.send(NUMBER.pack(_end_of(child)))


def _look_alone() -> None:
    threads = len(os.listdir("/proc/self/task"))  # noqa: PTH208
    if threads != 1:
        raise RuntimeError(f"{threads} threads would not follow into a fork")


def _warm(commands: Sequence[str]) -> None:
    """Ask some commands once, for the forks to have their compiled code and modules too.

    A survey would leave threads behind: each has its own, and calls its own workers.
    """
    from terrain.command.main import run
    from tests.attacks import island
    from tests.attacks.environment import COMMANDS
    from tests.attacks.running import lay

    streams, before = (sys.stdout, sys.stderr), Path.cwd()
    with tempfile.TemporaryDirectory() as folder, Path(os.devnull).open("w") as nowhere:
        for name, laid in island().items():
            lay(Path(folder, name), laid)
        os.chdir(folder)
        sys.stdout = sys.stderr = nowhere
        try:
            for command in set(commands) - {"survey"}:
                save = ["--save", f"out.{_SAVED[command]}"] if command in _SAVED else []
                with suppress(SystemExit):
                    run([command, "area.toml", *COMMANDS[command], *save])
        finally:
            sys.stdout, sys.stderr = streams
            os.chdir(before)
    # what is there now stays, and is not looked through in each fork
    gc.freeze()


def _become(case: dict[str, Any], streams: Sequence[int]) -> None:
    os.setsid()
    for number, stream in enumerate(streams):
        os.dup2(stream, number)
        os.close(stream)
    os.environ.clear()
    os.environ.update(case["environment"])
    # those of this process were made for what it was begun with
    sys.stdin = sys.__stdin__ = _opened(sys.stdin, "r")
    sys.stdout = sys.__stdout__ = _opened(sys.stdout, "w")
    sys.stderr = sys.__stderr__ = _opened(sys.stderr, "w")
    os.chdir(case["folder"])
    bound(case["limit_kb"], case["seconds"])
    sys.argv = ["terrain", *case["words"]]


def _opened(before: TextIO, mode: str) -> TextIO:
    return open(
        before.fileno(),
        mode,
        encoding=os.environ.get("PYTHONIOENCODING", before.encoding),
        errors=before.errors,
        buffering=1 if before is sys.stderr else -1,
        closefd=False,
    )


def bound(limit_kb: int | None, seconds: int) -> None:
    """Bound this process in its processor time, and in the files it writes."""
    # what is begun in the background of a shell would not hear it
    signal.signal(signal.SIGINT, signal.default_int_handler)
    # the first ends it by a signal that says why
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if limit_kb is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1024 * limit_kb, 1024 * limit_kb))


def _end_of(child: int) -> int:
    """How a fork ended; what it began ends with it."""
    os.waitid(os.P_PID, child, os.WEXITED | os.WNOWAIT)
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


if __name__ == "__main__":
    if serve(socket.socket(fileno=int(sys.argv[1]))):
        from terrain_start import run

        run()
