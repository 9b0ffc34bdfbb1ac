"""The first moments of a run, and the ways to begin one."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress

import pytest

STOPPED = "terrain: stopped; every file already written is whole\n"


@pytest.mark.skipif(os.name != "posix", reason="a process that sends itself Ctrl-C")
@pytest.mark.parametrize("module", ["lazy_loader", "terrain.command", "signal", "typer"])
def test_ctrl_c_before_the_package_is_loaded(tmp_path, module):
    start = f"""
import builtins, os, signal, sys
class Stop:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            os.kill(os.getpid(), 2)
for name in ("signal", "lazy_loader"):
    sys.modules.pop(name, None)
from terrain_start import run
sys.meta_path.insert(0, Stop())
run()
"""
    done = subprocess.run(
        [sys.executable, "-c", start, "--help"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", STOPPED)


def test_the_package_runs_as_the_command_does(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "terrain", "summits", tmp_path / "gone.tif"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr == f"terrain: there is no file {tmp_path / 'gone.tif'}\n"


@pytest.mark.skipif(os.name != "posix", reason="a terminal of its own")
def test_on_a_terminal_a_run_says_at_once_that_it_has_begun(tmp_path):
    import pty

    ours, its = pty.openpty()
    words = ["-m", "terrain", "summits", "ground.tif", "--save", "summits.doc"]
    with subprocess.Popen([sys.executable, *words], stdout=its, stderr=its) as process:
        process.wait()
    os.close(its)
    said = b""
    # what a terminal hands on comes in pieces, and its end is an error
    with suppress(OSError):
        while piece := os.read(ours, 10_000):
            said += piece
    os.close(ours)
    said = said.decode()
    moment, blank, answer = said.split("\r", 2)
    assert moment == "one moment …"
    assert blank.isspace()
    assert len(blank) >= len(moment)
    assert answer.startswith("terrain: cannot save as summits.doc")
