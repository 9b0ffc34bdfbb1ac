"""A process that compiles beside a command on its first run: what for, and that it ends."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from terrain.command import beside
from terrain.command.beside import compiled_beside

WAITING = "import sys, pathlib; pathlib.Path(sys.argv[2]).touch(); sys.stdin.read()"
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
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A file that the process beside makes when it begins, on a machine of two cores."""
    monkeypatch.setattr(beside, "_PROGRAM", WAITING)
    monkeypatch.setattr(beside, "nothing_kept", lambda: True)
    monkeypatch.setattr(beside, "cores", lambda: 2)
    monkeypatch.setitem(beside.LAST, str(tmp_path / "begun"), ())
    return tmp_path / "begun"


def test_it_begins_with_the_first_run_and_ends_with_it(started: Path) -> None:
    with compiled_beside([str(started)]) as process:
        assert process is not None
        until = time.monotonic() + 30.0
        while not started.exists() and time.monotonic() < until:
            time.sleep(0.01)
        assert started.exists()
        assert process.poll() is None
    assert process.poll() is not None


@pytest.mark.parametrize("name", ["nothing_kept", "cores", "LAST"])
def test_none_begins_where_it_is_no_use(
    name: str, started: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    useless = {"nothing_kept": lambda: False, "cores": lambda: 1, "LAST": {}}
    monkeypatch.setattr(beside, name, useless[name])
    monkeypatch.setattr(subprocess, "Popen", lambda *_, **__: pytest.fail("one began"))
    with compiled_beside([str(started)]), compiled_beside([]):
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
