"""`terrain season` in several processes: Ctrl-C ends them all, with one line."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from terrain_start import STOPPED, STOPPED_WORDS
from tests.command.conftest import COMPILING, Terrain

AT_ONCE = """
import signal, sys
# what is begun in the background of a shell would not hear it
signal.signal(signal.SIGINT, signal.default_int_handler)
from terrain import processes
from terrain.command import room
processes.WORTH_S = 1e-3
room.cores = lambda: 3
from terrain.command.main import run
run(sys.argv[1:])
"""


def test_it_asks_for_as_many_as_there_is_room_for(
    terrain: Terrain, demo_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []

    def each_of(count: int, work: object, *, processes: int, progress: object) -> None:
        asked.append(processes)
        raise KeyboardInterrupt

    monkeypatch.setattr("terrain.command.room.cores", lambda: 3)
    monkeypatch.setattr("terrain.command.room.free_bytes", lambda: 10**10)
    monkeypatch.setattr("terrain.vantage.season.each_of", each_of)
    for memory in ("4", "0.8"):
        assert terrain("season", demo_folder / "area.toml", "--memory", memory).code == STOPPED
    assert asked == [3, 1]


@pytest.mark.skipif(os.name != "posix", reason="a terminal sends Ctrl-C to a group of processes")
def test_stopped_it_leaves_nothing(demo_folder: Path, tmp_path: Path) -> None:
    words = ["season", str(demo_folder / "area.toml"), "--from", "2026-10-01"]
    command = subprocess.Popen(
        [sys.executable, "-c", AT_ONCE, *words],
        env=os.environ | {"TMPDIR": str(tmp_path)},
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert _comes(lambda: any(tmp_path.glob(".terrain-workers-*/rest")))
    time.sleep(0.5)
    os.killpg(command.pid, signal.SIGINT)
    out, err = command.communicate(timeout=60.0)
    said = err.replace(COMPILING, "")
    assert (command.returncode, out, said) == (STOPPED, "", f"terrain: {STOPPED_WORDS}\n")
    assert not any(tmp_path.glob(".terrain-*"))
    with pytest.raises(ProcessLookupError):
        os.killpg(command.pid, 0)


def _comes(holds: Callable[[], bool]) -> bool:
    until = time.monotonic() + 120.0
    while not (held := holds()) and time.monotonic() < until:
        time.sleep(0.02)
    return held
