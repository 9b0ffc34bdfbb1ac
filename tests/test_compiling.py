"""Where compiled kernels are kept, and who is told when there are none yet."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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
CALLED = """
import importlib, pkgutil, terrain
from numba.core.dispatcher import Dispatcher

found = {}
for each in pkgutil.walk_packages(terrain.__path__, "terrain."):
    if not each.name.endswith("__main__"):
        found[each.name] = vars(importlib.import_module(each.name))
inner = {
    name: [
        key
        for key, value in held.items()
        if isinstance(value, Dispatcher) and value.targetoptions.get("no_cpython_wrapper")
    ]
    for name, held in found.items()
}
print(sum(map(len, inner.values())))
print([(name, keys) for name, keys in inner.items() if keys and not name.endswith("_kernels")])
"""


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


def run(package: Path, home: Path, temporary: Path) -> list[str]:
    """What the program prints, with only these places to write to."""
    keep = {name: value for name, value in os.environ.items() if name in ("PATH", "SYSTEMROOT")}
    found = subprocess.run(
        [sys.executable, "-B", "-c", PROGRAM],
        cwd=package.parent,
        env={**keep, "HOME": str(home), "TMPDIR": str(temporary), "PYTHONPATH": ""},
        check=True,
        capture_output=True,
        text=True,
    )
    assert not found.stderr
    return found.stdout.splitlines()


def test_kept_beside_the_package_and_told_once(package: Path, tmp_path: Path) -> None:
    kept = package / "__pycache__" / f"kernels-{stamp(package)}"
    assert run(package, tmp_path, tmp_path) == ["compiling", "3.0", str(kept)]
    assert run(package, tmp_path, tmp_path) == ["3.0", str(kept)]


def test_a_kernel_that_changes_changes_those_it_is_built_into(
    package: Path, tmp_path: Path
) -> None:
    assert run(package, tmp_path, tmp_path)[1] == "3.0"
    (package / "sight" / "_low_kernels.py").write_text(KERNEL.format(more="2.0"))
    assert run(package, tmp_path, tmp_path)[:2] == ["compiling", "5.0"]


def test_what_is_damaged_is_thrown_away_told_of_and_made_anew(
    package: Path, tmp_path: Path
) -> None:
    folder = Path(run(package, tmp_path, tmp_path)[-1])
    short, code = sorted(folder.rglob("*.nbc"))
    short.write_bytes(short.read_bytes()[:-20])
    flipped = bytearray(code.read_bytes())
    flipped[len(flipped) // 2] ^= 0xFF
    code.write_bytes(flipped)
    damage = "damaged files of compiled code are thrown away and made anew"
    assert run(package, tmp_path, tmp_path)[:-1] == [damage, "3.0"]
    assert run(package, tmp_path, tmp_path)[:-1] == ["3.0"]


@pytest.mark.skipif(os.name == "nt", reason="the user's cache lies elsewhere on Windows")
def test_kept_in_the_users_cache_where_the_package_cannot_be_written(
    package: Path, tmp_path: Path
) -> None:
    close(package / "__pycache__")
    kept = tmp_path / ".cache" / "terrain" / f"kernels-{stamp(package)}"
    assert run(package, tmp_path, tmp_path) == ["compiling", "3.0", str(kept)]
    assert run(package, tmp_path, tmp_path) == ["3.0", str(kept)]


@pytest.mark.skipif(os.name == "nt", reason="the user's cache lies elsewhere on Windows")
def test_kept_among_temporary_files_without_a_home(package: Path, tmp_path: Path) -> None:
    close(package / "__pycache__")
    close(tmp_path / "home")
    first = run(package, tmp_path / "home", tmp_path)
    assert Path(first[-1]).parent == tmp_path / f"terrain-{os.getuid()}"
    assert Path(first[-1]).parent.stat().st_mode & 0o777 == 0o700
    assert first[0] == "compiling"
    assert run(package, tmp_path / "home", tmp_path) == first[1:]


@pytest.mark.skipif(os.name == "nt", reason="permissions are kept otherwise on Windows")
def test_compiled_code_that_others_could_have_put_there_is_not_run(
    package: Path, tmp_path: Path
) -> None:
    close(package / "__pycache__")
    close(tmp_path / "home")
    (tmp_path / f"terrain-{os.getuid()}").mkdir()
    (tmp_path / f"terrain-{os.getuid()}").chmod(0o777)
    assert run(package, tmp_path / "home", tmp_path) == ["compiling", "3.0", "None"]


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


def test_what_kernels_alone_call_can_be_called_from_python_too() -> None:
    """Without care numba jumps to nowhere there, and the process is gone."""
    found = subprocess.run([sys.executable, "-c", INNER], check=True, capture_output=True)
    assert found.stdout.split() == [b"3.0", b"2.0", b"8", b"1"]


def test_no_command_calls_what_kernels_alone_call() -> None:
    found = subprocess.run([sys.executable, "-c", CALLED], check=True, capture_output=True)
    inner, called = found.stdout.decode().splitlines()
    assert int(inner) > 100
    assert called == "[]"


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
