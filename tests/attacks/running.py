"""A case run for real: a fork of a process that has all code loaded, or a process of its own."""

from __future__ import annotations

import dataclasses
import functools
import json
import os
import selectors
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from tests.attacks import HANG_S, Case, Left
from tests.attacks.readable import unreadable
from tests.attacks.server import NUMBER, bound

_HUNG: Final = -signal.SIGALRM
_ROOT: Final = Path(__file__).parents[2]
_SECONDS: Final[dict[tuple[str, ...], float]] = {}
_TERRAIN: Final = (sys.executable, "-m", "terrain")


def run_case(case: Case, folder: Path) -> Left:
    """Lay the files of a case in an empty folder, and run it there."""
    here = folder / "here"
    _lay_all(case, here)
    halves = tuple(stopped(case, here)) if case.stop else ()
    code, out, err = begun(case, here)
    return Left(code, out, err, here, halves)


def differences(case: Case, left: Left, folder: Path) -> Iterator[str]:
    """What a process of its own, in an empty folder, does otherwise than the fork of a case did."""
    if case.fresh or case.shell or "\0" in "".join(case.words):  # no process takes that
        return
    anew = run_case(dataclasses.replace(case, fresh=True), folder)
    for what in ("code", "out", "err"):
        # each in a folder of its own, which a line may name
        forked, alone = (
            str(getattr(one, what)).replace(str(one.folder), "") for one in (left, anew)
        )
        if forked != alone:
            yield f"alone, its {what} is {alone[-300:]!r}, not {forked[-300:]!r}"


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
    stop_s = case.serves_s if stop_s is None else stop_s
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


def _variables(case: Case) -> dict[str, str]:
    known = {"PYTHONPATH": str(_ROOT), "TERRAIN": " ".join(_TERRAIN)}
    variables = os.environ | known | {"PYTHONDONTWRITEBYTECODE": "1"} | case.environment
    return {name: value for name, value in variables.items() if value is not None}


def _fresh(case: Case, here: Path, stop_s: float | None) -> tuple[int, bytes, bytes]:
    process = subprocess.Popen(
        ["sh", "-c", case.shell] if case.shell else [*_TERRAIN, *case.words],
        cwd=here,
        env=_variables(case),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=lambda: bound(case.limit_kb, HANG_S),
    )
    with process, _stop_of(case, process.pid, stop_s):
        try:
            out, err = process.communicate(timeout=5 * HANG_S)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            return _HUNG, b"", b""
    return process.returncode, out, err


@contextmanager
def _stop_of(case: Case, process: int, stop_s: float | None) -> Iterator[None]:
    """Send the signal of a case to a process after so long, if it is still there."""
    if stop_s is None:
        yield
        return
    sent = signal.SIGINT if case.stop is None else case.stop.signal
    timer = threading.Timer(stop_s, os.kill, (process, sent))
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()


@functools.cache
def _server() -> socket.socket:
    """The way to the process that forks, begun when it is first asked for."""
    here, there = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    # libraries that start threads when they are loaded start none then
    one_thread = {"OPENBLAS_NUM_THREADS": "1", "JE_ARROW_MALLOC_CONF": "background_thread:false"}
    subprocess.Popen(
        [sys.executable, "-m", "tests.attacks.server", str(there.fileno())],
        cwd=_ROOT,
        env=os.environ | one_thread,
        pass_fds=[there.fileno()],
        stdin=subprocess.DEVNULL,
    )
    there.close()
    return here


def warm(commands: Iterable[str]) -> None:
    """Let each command be asked once, for the forks to have their compiled code and modules."""
    _server().send(json.dumps({"warm": list(commands)}).encode())
    _number()


def _forked(case: Case, here: Path, stop_s: float | None) -> tuple[int, bytes, bytes]:
    asked = {"words": case.words, "folder": str(here), "environment": _variables(case)}
    asked |= {"limit_kb": case.limit_kb, "seconds": HANG_S}
    (out, to_out), (err, to_err) = os.pipe(), os.pipe()
    ends = (os.open(os.devnull, os.O_RDONLY), to_out, to_err)
    socket.send_fds(_server(), [json.dumps(asked).encode()], ends)
    for end in ends:
        os.close(end)
    child = _number()
    with _stop_of(case, child, stop_s):
        said = _drained(child, (out, err))
    code = _number()
    return code if said is not None else _HUNG, *(said or {out: b"", err: b""}).values()


def _number() -> int:
    sent = _server().recv(NUMBER.size)
    if not sent:
        raise RuntimeError("the process that forks has ended")
    return int(NUMBER.unpack(sent)[0])


def _drained(child: int, ends: Sequence[int]) -> dict[int, bytes] | None:
    """All that comes out of some pipes until they are closed; None of a process that hangs."""
    until, said = time.monotonic() + 5 * HANG_S, dict.fromkeys(ends, b"")
    hangs = False
    with selectors.DefaultSelector() as either:
        for end in ends:
            either.register(end, selectors.EVENT_READ)
        while either.get_map():
            ready = either.select(None if hangs else max(until - time.monotonic(), 0.0))
            if not ready:
                hangs = True
                os.killpg(child, signal.SIGKILL)
            for key, _ in ready:
                part = os.read(key.fd, 65536)
                said[key.fd] += part
                if not part:
                    either.unregister(key.fd)
                    os.close(key.fd)
    return None if hangs else said


def cleared(folder: Path) -> Path:
    """A folder with nothing in it, whatever was there before."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
