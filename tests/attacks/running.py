"""A case run for real: in a process of its own, forked from one that has the libraries loaded."""

from __future__ import annotations

import os
import resource
import selectors
import shutil
import signal
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Final

from tests.attacks import HANG_S, Case, Left

_HUNG: Final = -signal.SIGALRM
_LOADED: Final = (
    *("terrain.command.main", "numba", "rasterio", "geopandas", "pyogrio", "rich.progress"),
    *("matplotlib.figure", "matplotlib.backends.backend_agg", "rich.table", "scipy.ndimage"),
)
_ROOT: Final = Path(__file__).parents[2]


def load() -> None:
    """Load what most commands need, for the forks to have it from the start."""
    for name in _LOADED:
        import_module(name)


def run_case(case: Case, folder: Path) -> Left:
    """Lay the files of a case in an empty folder, and run it there."""
    here = folder / "here"
    for name, laid in case.files.items():
        lay(here / name, laid)
    here.mkdir(exist_ok=True)
    begin = _fresh if case.fresh or case.shell else _forked
    code, *streams = begin(case, here)
    out, err = (stream.decode(errors="replace") for stream in streams)
    return Left(code, out, err, here)


def lay(path: Path, laid: object) -> None:
    """Lay one file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if callable(laid):
        laid(path)
    elif isinstance(laid, bytes):
        path.write_bytes(laid)
    else:
        path.write_text(str(laid), encoding="utf-8", newline="")


def _limit(case: Case) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (HANG_S, HANG_S))
    if case.limit_kb is not None:
        most = case.limit_kb * 1024
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def _fresh(case: Case, here: Path) -> tuple[int, bytes, bytes]:
    terrain = [sys.executable, "-m", "terrain.command.main"]
    command = ["sh", "-c", case.shell] if case.shell else [*terrain, *case.words]
    known = {"PYTHONPATH": str(_ROOT), "TERRAIN": " ".join(terrain), "PYTHONDONTWRITEBYTECODE": "1"}
    variables = os.environ | known | case.environment
    try:
        done = subprocess.run(
            command,
            cwd=here,
            env={name: value for name, value in variables.items() if value is not None},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=5 * HANG_S,
            preexec_fn=lambda: _limit(case),
            check=False,
        )
    except subprocess.TimeoutExpired:
        return _HUNG, b"", b""
    return done.returncode, done.stdout, done.stderr


def _forked(case: Case, here: Path) -> tuple[int, bytes, bytes]:
    sys.stdout.flush()
    (out, to_out), (err, to_err) = os.pipe(), os.pipe()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = _in_the_fork(case, here, to_out, to_err)
        finally:
            os._exit(code)
    for end in (to_out, to_err):
        os.close(end)
    said = _drained(out, err)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said[out], said[err]


def _drained(*ends: int) -> dict[int, bytes]:
    """All that comes out of some pipes until they are closed."""
    said = dict.fromkeys(ends, b"")
    with selectors.DefaultSelector() as either:
        for end in ends:
            either.register(end, selectors.EVENT_READ)
        while either.get_map():
            for key, _ in either.select():
                part = os.read(key.fd, 65536)
                said[key.fd] += part
                if not part:
                    either.unregister(key.fd)
                    os.close(key.fd)
    return said


def _in_the_fork(case: Case, here: Path, *streams: int) -> int:
    from terrain.command.main import run

    # in compiled code, too, these end a process that hangs
    signal.alarm(5 * HANG_S)
    for number, stream in enumerate(streams, start=1):
        os.dup2(stream, number)
    sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8") for number in (1, 2))
    for name, value in case.environment.items():
        os.environ.pop(name, None) if value is None else os.environ.update({name: value})
    os.chdir(here)
    _limit(case)
    try:
        run(list(case.words))
    except SystemExit as stop:
        return int(stop.code or 0)
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
    return 0


def cleared(folder: Path) -> Path:
    """A folder with nothing in it, whatever was there before."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
