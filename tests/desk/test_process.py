"""A desk as a process: it tells its address, answers there, and ends with Ctrl-C."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from http.cookiejar import CookieJar
from pathlib import Path

import pytest

from terrain.desk import serve as served
from terrain.errors import TerrainError
from tests.command.conftest import terrain as terrain_command

command = terrain_command
"""Run a command in this process."""

ADDRESS = re.compile(r"The desk is at (http://127\.0\.0\.1:(\d+))/\?t=[\w-]+\n")
RUN = "from terrain.command.main import run; run()"
WAIT_S = 60


@pytest.fixture
def desk(isle_file: Path, tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """A desk in a process of its own, in an empty folder, with temporary files of its own."""
    (tmp_path / "tmp").mkdir()
    own = {"TMPDIR": str(tmp_path / "tmp"), "PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, "desk", str(isle_file), "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=tmp_path,
        env={**os.environ, **own},
    )
    yield process
    process.kill()
    process.communicate()


def opener() -> urllib.request.OpenerDirector:
    return urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))


def test_it_answers_at_its_address_and_ends_with_ctrl_c(desk, tmp_path):
    said = desk.stdout.readline()
    found = ADDRESS.fullmatch(said)
    assert found, said
    browser, port = opener(), int(found[2])
    assert browser.open(said.split()[-1], timeout=WAIT_S).status == 200
    with pytest.raises(urllib.error.HTTPError, match="403"):
        opener().open(f"{found[1]}/about.json", timeout=WAIT_S)
    assert b"Small Isle" in browser.open(f"{found[1]}/about.json", timeout=WAIT_S).read()
    desk.send_signal(signal.SIGINT)
    rest, errors = desk.communicate(timeout=WAIT_S)
    assert (desk.returncode, rest) == (0, "")
    assert "Traceback" not in errors
    with socket.socket() as caller:
        assert caller.connect_ex(("127.0.0.1", port)) != 0
    assert [path.name for path in tmp_path.rglob("*")] == ["tmp"]


def test_ground_that_is_not_there_is_one_line_and_exit_2(command, tmp_path):
    outcome = command("desk", tmp_path / "no.tif", "--no-browser")
    assert outcome.code == 2
    assert outcome.err == f"terrain: there is no file {tmp_path / 'no.tif'}\n"


def test_a_port_that_is_taken_is_said_so():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(TerrainError, match=f"port {port} cannot be had"):
            served.serve(lambda: None, port=port, say=print, browser=False)


def test_the_browser_is_opened_at_the_address(command, monkeypatch, isle_file):
    opened: list[str] = []
    monkeypatch.setattr(served.webbrowser, "open", opened.append)
    monkeypatch.setattr(served.uvicorn.Server, "run", lambda server, sockets: None)
    outcome = command("desk", isle_file)
    assert outcome.code == 0
    assert outcome.out.endswith(f"{opened[0]}\n")


def test_nothing_heavy_is_loaded_before_the_page_is_served():
    heavy = ("numpy", "numba", "geopandas", "matplotlib", "scipy", "pvlib")
    code = (
        "import sys; from terrain.desk import serve; from terrain.command import desk; "
        f"print(*[name for name in {heavy} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""
