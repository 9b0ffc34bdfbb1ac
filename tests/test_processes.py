"""Works done in several processes: each once, in order, whatever becomes of the others."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import nullcontext
from functools import partial
from pathlib import Path

import pytest

from terrain import processes
from terrain.processes import each_of
from tests import works

FOREVER = """
import signal, sys, tempfile
# what is begun in the background of a shell would not hear it
signal.signal(signal.SIGINT, signal.default_int_handler)
from functools import partial
from pathlib import Path
from terrain import processes
from tests.works import endless
tempfile.tempdir = sys.argv[1]
processes.WORTH_S = 1e-9
processes.each_of(4, partial(endless, Path(sys.argv[2])), processes=3)
"""


@pytest.fixture
def laid_aside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of temporary files; any work is long enough for others to begin."""
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    monkeypatch.setattr(processes, "WORTH_S", 1e-9)
    return folder


def test_each_is_done_once_here_or_there_and_told_in_order(
    laid_aside: Path, tmp_path: Path
) -> None:
    shares: list[float] = []
    work = partial(works.told_by, os.getpid(), tmp_path)
    found = each_of(9, work, processes=2, progress=shares.append)
    assert [number for number, _ in found] == list(range(9))
    assert [is_here for _, is_here in found][:3] == [True, True, False]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.25 / 9, 1.0)
    assert list(laid_aside.iterdir()) == []


@pytest.mark.parametrize("work", [works.ended_by_the_system, works.failing_elsewhere])
def test_what_another_fails_at_is_done_here(
    work: Callable[..., object], laid_aside: Path, tmp_path: Path
) -> None:
    shares: list[float] = []
    each = partial(work, os.getpid(), tmp_path)
    found = each_of(5, each, processes=3, progress=shares.append)
    assert found == [(number, True) for number in range(5)]
    assert (tmp_path / "begun").exists()
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert list(laid_aside.iterdir()) == []


@pytest.mark.skipif(not Path("/proc/self/oom_score_adj").exists(), reason="Linux tells")
def test_the_system_ends_another_first(laid_aside: Path, tmp_path: Path) -> None:
    found = each_of(4, partial(works.first_to_go, os.getpid(), tmp_path), processes=2)
    here = {soon for soon, _, is_here in found if is_here}
    there = {soon for soon, _, is_here in found if not is_here}
    assert max(here) < min(there)


def test_what_a_work_raises_is_raised(laid_aside: Path, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"number [1-4]"):
        each_of(5, partial(works.failing, os.getpid(), tmp_path), processes=2)
    assert list(laid_aside.iterdir()) == []


def test_what_cannot_be_handed_over_is_done_here(laid_aside: Path) -> None:
    assert each_of(4, lambda number, progress: number, processes=2) == [0, 1, 2, 3]
    assert list(laid_aside.iterdir()) == []


@pytest.mark.parametrize(
    ("where", "error"),
    [
        ("lay_out", OSError(28, "No space left on device")),
        ("_begin", OSError(12, "Cannot allocate memory")),
        ("Thread.start", RuntimeError("can't start new thread")),
    ],
)
def test_where_there_is_no_room_for_others_all_is_done_here(
    where: str,
    error: Exception,
    laid_aside: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr(f"terrain.processes.{where}", fail)
    (tmp_path / "begun").touch()
    found = each_of(4, partial(works.told_by, os.getpid(), tmp_path), processes=2)
    assert all(is_here for _, is_here in found)
    assert list(laid_aside.iterdir()) == []


@pytest.mark.parametrize(
    ("count", "most", "worth_s", "begun"),
    [(5, 1, 0.1, 0), (1, 4, 0.1, 0), (5, 4, 10.0, 0), (5, 2, 0.1, 1), (5, 9, 1.5, 2)],
)
def test_others_begin_where_there_is_work_for_them(
    count: int, most: int, worth_s: float, begun: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each work takes a second."""
    asked, now = list[int](), [0.0]

    def work(number: int, progress: object) -> None:
        now[0] += 1.0

    def beside(work: object, others: int, *_: object) -> nullcontext[None]:
        asked.append(others)
        return nullcontext()

    monkeypatch.setattr(processes, "WORTH_S", worth_s)
    monkeypatch.setattr(processes.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(processes, "_beside", beside)
    each_of(count, work, processes=most)
    assert asked == ([begun] if begun else [])


def test_none_begins_where_nothing_compiled_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "WORTH_S", 1e-9)
    monkeypatch.setattr(processes, "kept_in", lambda: None)
    monkeypatch.setattr(processes, "_beside", lambda *_: pytest.fail("one began"))
    assert each_of(3, lambda number, progress: number, processes=2) == [0, 1, 2]


@pytest.mark.skipif(os.name != "posix", reason="signals")
@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGINT])
def test_others_end_with_the_first_and_leave_nothing(sent: signal.Signals, tmp_path: Path) -> None:
    laid_aside, told = tmp_path / "temporary", tmp_path / "told"
    laid_aside.mkdir()
    told.mkdir()
    first = subprocess.Popen(
        [sys.executable, "-c", FOREVER, str(laid_aside), str(told)],
        stderr=subprocess.DEVNULL,
        cwd=Path(__file__).parents[1],
    )
    try:
        assert _comes(lambda: len(_others(told, first.pid)) == 2)
        others = _others(told, first.pid)
        first.send_signal(sent)
        first.wait(timeout=60.0)
    finally:
        first.kill()
        first.wait()
    assert _comes(lambda: not any(map(_lives, others)))
    assert _comes(lambda: list(laid_aside.iterdir()) == [])


def _others(told: Path, first: int) -> set[int]:
    return {int(file.name.rpartition("-")[2]) for file in told.iterdir()} - {first}


def _lives(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{number}/stat")
    # one that has ended may wait for whoever takes note of it
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


def _comes(holds: Callable[[], bool]) -> bool:
    until = time.monotonic() + 60.0
    while not (held := holds()) and time.monotonic() < until:
        time.sleep(0.02)
    return held
