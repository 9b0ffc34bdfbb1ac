"""Processes that compile beside a command on its first run: what for, and that they end."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from terrain import compiling
from terrain.command import beside
from terrain.command.beside import compiled_beside
from terrain.command.report import progress

WAITING = "import sys, pathlib; pathlib.Path(sys.argv[2] + sys.argv[3]).touch(); sys.stdin.read()"
WATCHED = """
import json, sys
from numba.core.dispatcher import Dispatcher
from terrain.command.beside import LAST
from terrain.command.main import run

def signatures():
    # of the kernels that Python calls
    called = [
        kernel
        for name, module in list(sys.modules.items())
        if name.startswith("terrain.") and not name.endswith("_kernels")
        for kernel in vars(module).values() if isinstance(kernel, Dispatcher)
    ]
    return {f"{k.__module__}.{k.__name__}": sorted(map(str, k.signatures)) for k in called}

for use in LAST[sys.argv[1]]:
    use()
before = {name: found for name, found in signatures().items() if found}
try:
    run(sys.argv[1:])
except SystemExit as stop:
    assert not stop.code
after = signatures()
print(json.dumps([before, {name: after[name] for name in before}]))
"""


@pytest.fixture
def command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A first command on four cores; each process beside it makes a file as it begins."""
    monkeypatch.setattr(beside, "_PROGRAM", WAITING)
    monkeypatch.setattr(beside, "nothing_kept", lambda: True)
    monkeypatch.setattr(beside, "cores", lambda: 4)
    monkeypatch.setattr(beside, "free_bytes", lambda: None)
    monkeypatch.setitem(beside.LAST, str(tmp_path / "begun"), ())
    return str(tmp_path / "begun")


@pytest.mark.parametrize(("cores", "count"), [(2, 1), (3, 2), (4, 2)])
def test_they_begin_with_the_first_run_and_end_with_it(
    cores: int, count: int, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(beside, "cores", lambda: cores)
    files = [Path(f"{command}{part}") for part in range(count)]
    with compiled_beside([command]) as processes:
        until = time.monotonic() + 30.0
        while not all(file.exists() for file in files) and time.monotonic() < until:
            time.sleep(0.01)
        assert all(file.exists() for file in files)
        assert [process.poll() for process in processes] == [None] * count
    assert None not in [process.poll() for process in processes]


def test_what_is_shared_out_is_all_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[int] = []
    uses = tuple(lambda each=each: done.append(each) for each in range(5))
    monkeypatch.setattr(beside, "_end_with_the_command", lambda: None)
    monkeypatch.setattr("gc.disable", lambda: None)
    monkeypatch.setitem(beside.LAST, "work", uses)
    for part in range(2):
        beside.compile_last("work", part, 2)
    assert done == [0, 2, 4, 1, 3]


@pytest.mark.parametrize("name", ["nothing_kept", "cores", "free_bytes", "LAST"])
def test_none_begins_where_it_is_no_use(
    name: str, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    useless = {
        "nothing_kept": lambda: False,
        "cores": lambda: 1,
        "free_bytes": lambda: 10**9,
        "LAST": {},
    }
    monkeypatch.setattr(beside, name, useless[name])
    monkeypatch.setattr(subprocess, "Popen", lambda *_, **__: pytest.fail("one began"))
    with compiled_beside([command]), compiled_beside([]):
        pass


def test_it_ends_when_the_command_is_killed() -> None:
    program = "from terrain.command.beside import _end_with_the_command; _end_with_the_command()"
    process = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE)
    assert process.stdin is not None
    process.stdin.close()
    assert process.wait(timeout=60.0) == 0


@pytest.mark.slow
@pytest.mark.parametrize("command", ["sunrise", "vantages", "plan"])
def test_it_compiles_what_the_command_asks_for(
    command: str, demo_folder: Path, tmp_path: Path
) -> None:
    words = {
        "sunrise": ["--spot", "Hessick Spur"],
        "vantages": [],
        "plan": ["--start", "Ashket Gap car park", "--save", str(tmp_path / "plan.html")],
    }
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            WATCHED,
            command,
            str(demo_folder / "area.toml"),
            *words[command],
            "--json",
        ],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    before, after = json.loads(found.stdout.splitlines()[-1])
    assert "terrain.sight._viewshed_kernels.sweep_part" in before
    assert after == before, "the process beside compiles for other types"


def test_the_bar_counts_what_has_been_compiled(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    with progress("drawing"):
        for tell in (*compiling._counting, *compiling._counting):
            tell()
    assert "drawing: compiling, part 2" in capsys.readouterr().err
    assert compiling._counting == []
