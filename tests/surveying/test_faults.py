"""What can go wrong on a long night: nothing is lost, nothing done twice, the rest is finished."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from distributed import LocalCluster

import terrain
from terrain.surveying.warm import compile_kernels
from tests.surveying.conftest import QUIET, SIDE, Ask, made_hills, write_ground

WORDS = (
    *("--from", "2026-10-01", "--to", "2026-10-20", "--ends", "mornings"),
    *("--mist-top", "90:110:20", "--prominence", "260", "--farthest", "4", "--within", "2"),
    *("--reach", "5", "--per-hill", "1", "--tile", "5", "--workers", "2"),
)


@pytest.fixture(scope="module")
def kernels() -> None:
    """All of them compiled and kept, lest a process that is to be killed is still at that."""
    compile_kernels()


@pytest.fixture
def own_cluster() -> Iterator[LocalCluster]:
    """Two workers for one test, who may be killed."""
    with LocalCluster(n_workers=2, threads_per_worker=1, **QUIET) as cluster:
        yield cluster


SMALL_DISK = """
mount -t tmpfs -o size=400k tmpfs "$0" || exit 77
kept=$1; shift; "$@"; code=$?; cp -a "$0/." "$kept"; exit $code
"""
"""A command that has a disk of 400 kB of its own, at a folder, and what is on it in the end."""


def start(
    ground: Path, folder: Path, *, by: tuple[str, ...] = (), **more: object
) -> subprocess.Popen[bytes]:
    """The command in a process of its own, and a group of its own, as from a terminal.

    by: what starts it.
    """
    own = [sys.executable, "-m", "terrain", "survey", str(ground), *WORDS, "--save", str(folder)]
    words, pipe = [*by, *own], subprocess.PIPE
    return subprocess.Popen(words, stdout=pipe, stderr=pipe, start_new_session=True, **more)


def receipts(folder: Path, of: str = "") -> dict[str, int]:
    """When each receipt was written, by its name."""
    found = (folder / "receipts").glob(f"{of}*.json")
    return {file.name: file.stat().st_mtime_ns for file in found}


def until(holds: Callable[[], bool], *, most_s: float = 90.0) -> None:
    began_s = time.monotonic()
    while not holds():
        assert time.monotonic() - began_s < most_s, "it never came to pass"
        time.sleep(0.05)


@pytest.mark.slow
@pytest.mark.usefixtures("kernels")
@pytest.mark.parametrize("stage", ["ground", "vantages"])
def test_a_worker_killed_in_its_work_loses_nothing(
    ask: Ask, first: terrain.Survey, own_cluster: LocalCluster, tmp_path: Path, stage: str
) -> None:
    killed = list[int]()

    def kill_once(standing: terrain.surveying.tasks.Standing) -> None:
        if standing.stage != stage or standing.done < 1 or killed:
            return
        busy = {one.address for one in own_cluster.scheduler.workers.values() if one.processing}
        for victim in own_cluster.workers.values():
            if victim.worker_address in busy and not killed:
                killed.append(victim.process.pid)
                os.kill(killed[0], signal.SIGKILL)

    who = terrain.Workers(scheduler=own_cluster.scheduler_address)
    shaken = ask(tmp_path / "shaken", tile_m=5_000.0, workers=who, progress=kill_once)
    assert killed
    assert not shaken.failures
    calm = first.table.drop(columns="tile")
    pd.testing.assert_frame_equal(shaken.table.drop(columns="tile"), calm)


@pytest.mark.slow
@pytest.mark.usefixtures("kernels")
def test_a_client_killed_and_started_again_goes_on(country: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    first = start(country, folder)
    until(lambda: bool(receipts(folder, "vantages")))
    first.kill()
    first.communicate()
    # the workers that it leaves behind go, and do not go on beside those of the next
    until(lambda: not is_anybody_left(first.pid))
    goes_on(country, folder)
    assert not left_over(folder)


def goes_on(country: Path, folder: Path) -> None:
    """What is done stays as it is, and the same command does the rest."""
    before = receipts(folder)
    again = start(country, folder)
    _, said = again.communicate(timeout=240.0)
    assert again.returncode == 0, said
    after = receipts(folder)
    assert {name: after[name] for name in before} == before
    assert len(after) > len(before)


def is_anybody_left(group: int) -> bool:
    """Whether a process of a group is there."""
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return False
    return True


def left_over(folder: Path) -> list[str]:
    """Files that no receipt speaks of, among the parts."""
    signed = {name.removesuffix(".json") for name in receipts(folder)}
    return [part.name for part in (folder / "parts").glob("[!.]*") if part.stem not in signed]


@pytest.mark.slow
@pytest.mark.usefixtures("kernels")
def test_ctrl_c_ends_it_cleanly_and_says_how_to_go_on(country: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    run = start(country, folder)
    until(lambda: bool(receipts(folder, "vantages")))
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=60.0)
    words = said.decode().splitlines()
    assert run.returncode == 130, words
    assert "the same command goes on from there" in words[-2]
    assert words[-1].startswith("terrain: stopped")
    assert "Traceback" not in said.decode()


@pytest.mark.slow
@pytest.mark.usefixtures("kernels")
def test_a_full_disk_is_told_and_what_is_done_is_kept(country: Path, tmp_path: Path) -> None:
    if shutil.which("unshare") is None:
        pytest.skip("nothing here gives a process a disk of its own")
    disk, folder = tmp_path / "disk", tmp_path / "kept"
    disk.mkdir()
    by = ("unshare", "--user", "--map-root-user", "--mount", "sh", "-c", SMALL_DISK)
    run = start(country, disk, by=(*by, str(disk), str(folder)))
    _, said = run.communicate(timeout=240.0)
    words = said.decode().splitlines()
    if run.returncode == 77 or "unshare" in words[-1]:
        pytest.skip(f"no process may have a disk of its own here: {words[-1]}")
    assert run.returncode == 2, words
    assert "No space left on device" in words[-1]
    assert "Traceback" not in said.decode()
    assert receipts(folder, "vantages")
    assert not left_over(folder)
    goes_on(country, folder)


@pytest.mark.slow
@pytest.mark.usefixtures("kernels")
def test_a_file_that_may_not_grow_is_told_and_what_is_done_is_kept(
    country: Path, tmp_path: Path
) -> None:
    resource = pytest.importorskip("resource")
    folder = tmp_path / "kept"

    def little_room() -> None:
        # no file may grow larger: tables of vantages do, what tiles know of the ground does not
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    run = start(country, folder, preexec_fn=little_room)
    _, said = run.communicate(timeout=120.0)
    words = said.decode().splitlines()
    assert run.returncode == 2, words
    assert "cannot write" in words[-1]
    assert "File too large" in words[-1]
    before = receipts(folder)
    assert before
    again = start(country, folder)
    again.communicate(timeout=120.0)
    assert again.returncode == 0
    after = receipts(folder)
    assert {name: after[name] for name in before} == before


@pytest.mark.slow
def test_a_tile_that_is_damaged_is_named_and_the_rest_finished(
    ask: Ask, first: terrain.Survey, tmp_path: Path
) -> None:
    heights = made_hills()
    west = write_ground(tmp_path / "west.tif", heights[:, :180])
    east = write_ground(tmp_path / "east.tif", heights[:, 180:], first_col=180)
    whole = east.read_bytes()
    east.write_bytes(whole[:2000])
    found = ask(tmp_path / "kept", ground=[west, east], tile_m=5_000.0)
    assert found.failures
    assert all("east.tif" in why for why in found.failures.values())
    assert all(label.startswith("tile ") for label in found.failures)
    assert len(found.table) > 0
    east.write_bytes(whole)
    mended = ask(tmp_path / "kept", ground=[west, east], tile_m=5_000.0)
    assert not mended.failures
    calm = first.table.drop(columns="tile")
    pd.testing.assert_frame_equal(mended.table.drop(columns="tile"), calm)


def test_a_tile_with_no_ground_has_no_hills(ask: Ask, tmp_path: Path) -> None:
    heights = made_hills()
    heights[: SIDE // 2, : SIDE // 2] = np.nan
    found = ask(tmp_path / "kept", ground=write_ground(tmp_path / "half.tif", heights))
    assert not found.failures
    assert set(found.table["tile"]) <= {2, 3, 4}


def test_ground_that_is_all_unknown_is_told(ask: Ask, tmp_path: Path) -> None:
    nothing = np.full((SIDE, SIDE), np.nan, dtype=np.float32)
    with pytest.raises(terrain.NoGround, match="no ground is known in any tile"):
        ask(tmp_path / "kept", ground=write_ground(tmp_path / "none.tif", nothing))


def test_without_its_libraries_one_line_says_what_to_install(
    ask: Ask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("terrain.surveying.extra.find_spec", lambda name: None)
    with pytest.raises(terrain.TerrainError, match=r"pip install 'terrain\[country\]'"):
        ask(tmp_path / "kept")
