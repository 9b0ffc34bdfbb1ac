"""A case run for real: in a process of its own, forked from one that has the libraries loaded."""

from __future__ import annotations

import os
import resource
import selectors
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from pathlib import Path
from typing import Final

from tests.attacks import HANG_S, Case, Left, island
from tests.attacks.readable import unreadable

_HUNG: Final = -signal.SIGALRM
_LOADED: Final = (
    *("terrain.command.main", "numba", "rasterio", "geopandas", "pyogrio", "rich.progress"),
    *("matplotlib.figure", "matplotlib.backends.backend_agg", "rich.table", "scipy.ndimage"),
)
_ROOT: Final = Path(__file__).parents[2]
_SECONDS: Final[dict[tuple[str, ...], float]] = {}


def load() -> None:
    """Load what most commands need, for the forks to have it from the start."""
    for name in _LOADED:
        import_module(name)


def warm(commands: dict[str, list[str]]) -> None:
    """Ask each command once, for the forks to have all its compiled code and modules too."""
    from terrain.command.main import run

    streams, before = (sys.stdout, sys.stderr), Path.cwd()
    with tempfile.TemporaryDirectory() as folder, Path(os.devnull).open("w") as nowhere:
        here = Path(folder)
        _lay_all(Case("", files=island()), here)
        os.chdir(here)
        sys.stdout = sys.stderr = nowhere
        try:
            for command, asked in commands.items():
                kind = next((one for one in _WARMED if command in _WARMED[one]), None)
                save = [] if kind is None else ["--save", f"out.{kind}"]
                with suppress(SystemExit):
                    run([command, "area.toml", *asked, *save])
        finally:
            sys.stdout, sys.stderr = streams
            os.chdir(before)


_WARMED: Final = {
    "png": ("mist", "skyline", "sunrise", "vantages", "atlas", "light", "season"),
    "html": ("plan",),
    "gpkg": ("summits",),
    "svg": ("passes", "hills"),
}


def run_case(case: Case, folder: Path) -> Left:
    """Lay the files of a case in an empty folder, and run it there."""
    here = folder / "here"
    _lay_all(case, here)
    halves = tuple(stopped(case, here)) if case.stop else ()
    code, out, err = begun(case, here)
    return Left(code, out, err, here, halves)


def stopped(case: Case, here: Path) -> Iterator[str]:
    """Stop a case in the middle, and say what is not as it should be then."""
    share, sent = (case.stop.share, case.stop.signal) if case.stop else (1.0, 0)
    code, _, err = begun(case, here, share * _took_s(case, here.with_name("timed")))
    if "Traceback" in err and str(_ROOT) in err:
        yield f"stopped, it says {err[-200:]!r}"
    if sent == signal.SIGINT and code not in (0, 130, -signal.SIGINT, 1):
        yield f"stopped, it ends with {code}"
    for path in here.rglob("*"):
        hidden = any(part.startswith(".terrain-") for part in path.relative_to(here).parts)
        if hidden and sent == signal.SIGINT:
            yield f"stopped, it leaves {path.name}"
        if hidden:
            os.utime(path, (0.0, 0.0))
        elif path.is_file() and path.read_bytes() != _bytes(case.files.get(path.name)):
            yield from unreadable(path)


def _bytes(laid: object) -> object:
    return laid.encode() if isinstance(laid, str) else laid


def _took_s(case: Case, folder: Path) -> float:
    """How long a case takes where nothing stops it."""
    known, words = _SECONDS, (str(case.fresh), *case.words)
    if words not in known:
        _lay_all(case, folder)
        began = time.perf_counter()
        begun(case, folder)
        known[words] = time.perf_counter() - began
    return known[words]


def begun(case: Case, here: Path, stop_s: float | None = None) -> tuple[int, str, str]:
    """Run a case in its folder, and stop it after so long: its code and what it said."""
    begin = _fresh if case.fresh or case.shell else _forked
    code, out, err = begin(case, here, stop_s)
    return code, out.decode(errors="replace"), err.decode(errors="replace")


def _lay_all(case: Case, folder: Path) -> None:
    for name, laid in case.files.items():
        lay(folder / name, laid)
    folder.mkdir(exist_ok=True)


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
    # what is begun in the background of a shell would not hear it
    signal.signal(signal.SIGINT, signal.default_int_handler)
    resource.setrlimit(resource.RLIMIT_CPU, (HANG_S, HANG_S))
    if case.limit_kb is not None:
        most = case.limit_kb * 1024
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))


def _fresh(case: Case, here: Path, stop_s: float | None) -> tuple[int, bytes, bytes]:
    terrain = [sys.executable, "-m", "terrain"]
    command = ["sh", "-c", case.shell] if case.shell else [*terrain, *case.words]
    known = {"PYTHONPATH": str(_ROOT), "TERRAIN": " ".join(terrain), "PYTHONDONTWRITEBYTECODE": "1"}
    variables = os.environ | known | case.environment
    process = subprocess.Popen(
        command,
        cwd=here,
        env={name: value for name, value in variables.items() if value is not None},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=lambda: _limit(case),
    )
    with process, _stop_of(case, process.pid, stop_s):
        try:
            out, err = process.communicate(timeout=5 * HANG_S)
        except subprocess.TimeoutExpired:
            process.kill()
            return _HUNG, b"", b""
    return process.returncode, out, err


@contextmanager
def _stop_of(case: Case, process: int, stop_s: float | None) -> Iterator[None]:
    """Send the signal of a case to a process after so long, if it is still there."""
    if case.stop is None or stop_s is None:
        yield
        return
    timer = threading.Timer(stop_s, os.kill, (process, case.stop.signal))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()


def _forked(case: Case, here: Path, stop_s: float | None) -> tuple[int, bytes, bytes]:
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
    with _stop_of(case, child, stop_s):
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
