"""Where compiled kernels are kept, and who is told when there are none yet."""

from __future__ import annotations

import importlib
import os
import pkgutil
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from numba.core.dispatcher import Dispatcher

import terrain
from terrain import compiling
from terrain.compiling import PACKAGE, UNUSED_DAYS, on_first_compile, stamp

KERNEL = """
from terrain.compiling import njit

@njit(cache=True, nogil=True)
def rise(height_m):
    return height_m + {more}
"""
CALLER = """
from terrain.compiling import njit
from terrain.sight._low_kernels import rise

@njit(cache=True)
def rise_twice(height_m):
    return rise(rise(height_m))
"""
PROGRAM = """
from terrain.compiling import kept_in, on_first_compile, on_trouble
with on_first_compile(lambda: print("compiling")), on_trouble(print):
    from terrain.sight._high_kernels import rise_twice
    print(rise_twice(1.0))
print(kept_in())
"""
INNER = """
from terrain.compiling import inner, njit

@inner(cache=False)
def rise(height_m):
    return height_m + 1

@njit(cache=False)
def rise_twice(height_m):
    return rise(rise(height_m))

print(rise_twice(1.0), rise(1.0), rise(height_m=7), len(rise.signatures))
"""
FORKS = """
import os, sys, tempfile
import numba

# the compiler's own parts are loaded by the first that is compiled
numba.njit(lambda height_m: height_m + 0.5)(1.0)
for line in sys.stdin:
    program, folder, variables = eval(line)
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        os.chdir(folder)
        os.environ.clear()
        os.environ.update(variables)
        tempfile.tempdir = None
        exec(program)
        break
    _, status = os.waitpid(child, 0)
    print(os.waitstatus_to_exitcode(status))
    print("ended", flush=True)
"""

Run = Callable[[str, Path, dict[str, str]], list[str]]


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """A package that is this one's door and two kernels, one of them built into the other."""
    package = tmp_path / "lib" / "terrain"
    (package / "sight").mkdir(parents=True)
    for part in (package, package / "sight"):
        (part / "__init__.py").touch()
    for name in ("compiling.py", "compiled_files.py", "constants.py"):
        shutil.copy(PACKAGE / name, package)
    (package / "sight" / "_low_kernels.py").write_text(KERNEL.format(more="1.0"))
    (package / "sight" / "_high_kernels.py").write_text(CALLER)
    return package


def close(folder: Path) -> None:
    """Let nothing be written there, not even by an administrator: it is no folder."""
    folder.write_text("not a folder")


def alone(program: str, folder: Path, variables: dict[str, str]) -> list[str]:
    """What a program prints in a process of its own."""
    found = subprocess.run(
        [sys.executable, "-B", "-c", program],
        cwd=folder,
        env=variables,
        check=True,
        capture_output=True,
        text=True,
    )
    assert not found.stderr
    return found.stdout.splitlines()


@pytest.fixture(scope="module")
def forked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Run]:
    """The same in a fork of a process that has loaded numba, where there are forks: sooner."""
    if not hasattr(os, "fork"):
        yield alone
        return
    complaints = tmp_path_factory.mktemp("forks") / "complaints.txt"
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with (
        complaints.open("w") as stderr,
        subprocess.Popen([sys.executable, "-B", "-c", FORKS], stderr=stderr, **pipes) as server,
    ):

        def run(program: str, folder: Path, variables: dict[str, str]) -> list[str]:
            print(repr((program, str(folder), variables)), file=server.stdin, flush=True)
            *said, ended = iter(server.stdout.readline, "ended\n")
            assert (ended, complaints.read_text()) == ("0\n", "")
            return [line.rstrip("\n") for line in said]

        yield run
        server.stdin.close()


def said(run: Run, package: Path, home: Path, temporary: Path) -> list[str]:
    """What the program prints, with only these places to write to."""
    keep = {name: value for name, value in os.environ.items() if name in ("PATH", "SYSTEMROOT")}
    places = {"HOME": str(home), "TMPDIR": str(temporary), "PYTHONPATH": ""}
    return run(PROGRAM, package.parent, {**keep, **places})


def test_kept_beside_the_package_and_told_once(package: Path, tmp_path: Path) -> None:
    kept = package / "__pycache__" / f"kernels-{stamp(package)}"
    assert said(alone, package, tmp_path, tmp_path) == ["compiling", "3.0", str(kept)]
    assert said(alone, package, tmp_path, tmp_path) == ["3.0", str(kept)]


def test_a_kernel_that_changes_changes_those_it_is_built_into(
    package: Path, tmp_path: Path, forked: Run
) -> None:
    assert said(forked, package, tmp_path, tmp_path)[1] == "3.0"
    (package / "sight" / "_low_kernels.py").write_text(KERNEL.format(more="2.0"))
    assert said(forked, package, tmp_path, tmp_path)[:2] == ["compiling", "5.0"]


def test_what_is_damaged_is_thrown_away_told_of_and_made_anew(
    package: Path, tmp_path: Path, forked: Run
) -> None:
    folder = Path(said(forked, package, tmp_path, tmp_path)[-1])
    short, code = sorted(folder.rglob("*.nbc"))
    short.write_bytes(short.read_bytes()[:-20])
    flipped = bytearray(code.read_bytes())
    flipped[len(flipped) // 2] ^= 0xFF
    code.write_bytes(flipped)
    damage = "damaged files of compiled code are thrown away and made anew"
    assert said(forked, package, tmp_path, tmp_path)[:-1] == [damage, "3.0"]
    assert said(forked, package, tmp_path, tmp_path)[:-1] == ["3.0"]


@pytest.mark.skipif(os.name == "nt", reason="the user's cache lies elsewhere on Windows")
def test_kept_in_the_users_cache_where_the_package_cannot_be_written(
    package: Path, tmp_path: Path, forked: Run
) -> None:
    close(package / "__pycache__")
    kept = tmp_path / ".cache" / "terrain" / f"kernels-{stamp(package)}"
    assert said(forked, package, tmp_path, tmp_path) == ["compiling", "3.0", str(kept)]
    assert said(forked, package, tmp_path, tmp_path) == ["3.0", str(kept)]


@pytest.mark.skipif(os.name == "nt", reason="the user's cache lies elsewhere on Windows")
def test_kept_among_temporary_files_without_a_home(
    package: Path, tmp_path: Path, forked: Run
) -> None:
    close(package / "__pycache__")
    close(tmp_path / "home")
    first = said(forked, package, tmp_path / "home", tmp_path)
    assert Path(first[-1]).parent == tmp_path / f"terrain-{os.getuid()}"
    assert Path(first[-1]).parent.stat().st_mode & 0o777 == 0o700
    assert first[0] == "compiling"
    assert said(forked, package, tmp_path / "home", tmp_path) == first[1:]


@pytest.mark.skipif(os.name == "nt", reason="permissions are kept otherwise on Windows")
def test_compiled_code_that_others_could_have_put_there_is_not_run(
    package: Path, tmp_path: Path, forked: Run
) -> None:
    close(package / "__pycache__")
    close(tmp_path / "home")
    (tmp_path / f"terrain-{os.getuid()}").mkdir()
    (tmp_path / f"terrain-{os.getuid()}").chmod(0o777)
    assert said(forked, package, tmp_path / "home", tmp_path) == ["compiling", "3.0", "None"]


def test_an_asked_for_folder_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "asked"))
    kept = compiling.kept_in.__wrapped__()
    assert kept == tmp_path / "asked" / f"kernels-{stamp(PACKAGE)}"


def test_what_has_long_not_been_used_goes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    for name, days in (("kernels-old", UNUSED_DAYS + 1), ("kernels-new", 1), ("other", 999)):
        (tmp_path / name).mkdir()
        then = (tmp_path / name).stat().st_mtime - days * 86_400
        os.utime(tmp_path / name, (then, then))
    kept = compiling.kept_in.__wrapped__()
    left = {folder.name for folder in tmp_path.iterdir()}
    assert left == {"kernels-new", "other", kept.name}


def test_what_has_long_not_been_used_and_cannot_go_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    stuck = tmp_path / "kernels-stuck"
    close(stuck)
    os.utime(stuck, (0.0, 0.0))
    assert compiling.kept_in.__wrapped__().parent == tmp_path
    assert stuck.exists()


def test_nobody_is_told_where_nothing_is_compiled() -> None:
    told: list[str] = []
    with on_first_compile(lambda: told.append("compiling")):
        pass
    assert told == []
    assert compiling._waiting == []


def test_what_kernels_alone_call_can_be_called_from_python_too(forked: Run) -> None:
    """Without care numba jumps to nowhere there, and the process is gone."""
    assert forked(INNER, PACKAGE.parent, dict(os.environ)) == ["3.0 2.0 8 1"]


def test_no_command_calls_what_kernels_alone_call() -> None:
    inner = [
        (each.name, name)
        for each in pkgutil.walk_packages(terrain.__path__, "terrain.")
        if not each.name.endswith("__main__")
        for name, value in vars(importlib.import_module(each.name)).items()
        if isinstance(value, Dispatcher) and value.targetoptions.get("no_cpython_wrapper")
    ]
    assert len(inner) > 100
    assert [each for each in inner if not each[0].endswith("_kernels")] == []


def test_every_kernel_goes_through_the_one_door() -> None:
    direct = re.compile(
        r"^\s*(from numba import .*\b(n?jit|prange)\b|@numba\.)|parallel=True", re.MULTILINE
    )
    files = [file for file in PACKAGE.rglob("*.py") if direct.search(file.read_text())]
    assert files == []
    decorated = re.compile(r"@(njit|inner)\b")
    outside = {
        file.name
        for file in PACKAGE.rglob("*.py")
        if decorated.search(file.read_text()) and not file.name.endswith("kernels.py")
    }
    assert outside == {"compiling.py"}, "a kernel elsewhere is not in the stamp"
