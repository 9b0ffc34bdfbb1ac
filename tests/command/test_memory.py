"""How commands keep to the memory there is, and what they say of it."""

from __future__ import annotations

import json
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from affine import Affine
from pyproj import CRS

from terrain.command import room, summits
from terrain.command.room import Room, Work
from terrain.errors import TerrainError
from terrain.ground.grid import Grid
from terrain.ground.raster.blocks import Coarse, coarse_enough
from tests.command.conftest import Terrain

# 48,000 cells of the island take a gigabyte with it
HEAVY = Work(25_000.0, 0.1, near=True)


@pytest.fixture
def heavy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(summits, "SUMMITS", HEAVY)
    monkeypatch.setattr(room, "free_bytes", lambda: 10**10)


@pytest.mark.usefixtures("heavy")
def test_ground_that_takes_too_much_is_read_coarser_with_a_word(
    terrain: Terrain, isle: Path
) -> None:
    fine = terrain("summits", isle, "--json")
    coarse = terrain("summits", isle, "--json", "--memory", "0.7")
    assert (fine.code, coarse.code, fine.err) == (0, 0, "")
    assert coarse.err.startswith("note: the ground is read at 150 m cells (of 50 m)")
    assert "to stay within 0.7 GB" in coarse.err
    assert "--memory 2 or a place with --near and --reach reads finer" in coarse.err
    tops = [[row["height_m"] for row in json.loads(told.out)] for told in (fine, coarse)]
    assert tops[0] == tops[1]


@pytest.mark.usefixtures("heavy")
def test_cells_that_take_too_much_are_refused_with_what_helps(terrain: Terrain, isle: Path) -> None:
    told = terrain("summits", isle, "--memory", "0.7", "--cell", "50")
    assert told.code == 2
    assert told.err.count("\n") == 1
    assert "take about 1.7 GB, and 0.7 GB may be taken: give --cell 150 or more" in told.err
    near = terrain("summits", isle, "--memory", "0.7", "--cell", "50", "--near", "the ridge")
    assert "--memory 2 or a smaller --reach" in near.err
    assert terrain("summits", isle, "--memory", "0.7", "--cell", "150").err == ""


@pytest.mark.parametrize("asked", ["0.2", "0.5"])
def test_too_little_for_the_program_itself(terrain: Terrain, isle: Path, asked: str) -> None:
    told = terrain("summits", isle, "--memory", asked)
    assert told.code == 2
    assert told.err.startswith(f"terrain: --memory {asked} is too little")
    assert "give 0.55 GB or more" in told.err


def test_what_is_free_bounds_what_may_be_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    work = Work(100.0, 0.1)
    monkeypatch.setattr(room, "free_bytes", lambda: None)
    assert Room(work=work).limit_gb == room.DEFAULT_GB
    monkeypatch.setattr(room, "free_bytes", lambda: 2 * 10**9)
    assert Room(work=work, memory_gb=8.0).limit_gb == pytest.approx(1.8)
    assert Room(work=work).most_cells == pytest.approx(13_000_000)
    monkeypatch.setattr(room, "free_bytes", lambda: 3 * 10**8)
    with pytest.raises(TerrainError, match=r"only 0\.3 GB of memory is free"):
        _ = Room(work=work).most_cells


@pytest.mark.parametrize(
    ("free_gb", "memory_gb", "cores", "processes"),
    [
        *[(20.0, None, 1, 1), (20.0, None, 2, 2), (20.0, None, 16, 6)],
        *[(20.0, 16.0, 16, 16), (1.6, None, 4, 2), (0.8, None, 4, 1)],
    ],
)
def test_as_many_processes_as_there_are_cores_and_memory_for(
    free_gb: float,
    memory_gb: float | None,
    cores: int,
    processes: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(room, "free_bytes", lambda: free_gb * 1e9)
    monkeypatch.setattr(room, "cores", lambda: cores)
    asked = Room(work=room.SEASON, memory_gb=memory_gb)
    assert asked.processes(2_560_000) == processes
    assert Room(work=room.VANTAGES).processes(2_560_000) == 1


def test_long_work_says_so_from_the_start(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(room, "free_bytes", lambda: 10**11)
    asked = Room(work=Work(100.0, 2.0), memory_gb=64.0)
    large = Coarse(side=1, cells=300_000_000, own_m=10.0, is_asked=False)
    asked.check(lambda **_: large, is_whole=True)
    assert capsys.readouterr().err == (
        "note: 300 million cells of ground take about 30.5 GB and 10 minutes\n"
    )


@pytest.mark.parametrize(
    ("work", "cell_m", "finer_gb"), [(room.LIGHT, 30, 23), (room.SUMMITS, 20, 12)]
)
def test_ground_of_196_million_cells_is_read_coarser_within_four_gigabytes(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    work: Work,
    cell_m: int,
    finer_gb: int,
) -> None:
    """A tile of 140 km at 10 m."""
    monkeypatch.setattr(room, "free_bytes", lambda: 10**11)
    placing = Affine(10.0, 0.0, 4e5, 0.0, -10.0, 6.1e6)
    tile = Grid(crs=CRS("EPSG:32628"), transform=placing, shape=(14_000, 14_000))
    asked = Room(work=work)
    asked.check(partial(coarse_enough, tile), is_whole=True)
    told = capsys.readouterr().err
    assert told.startswith(f"note: the ground is read at {cell_m} m cells (of 10 m)")
    assert "to stay within 4 GB" in told
    assert f"--memory {finer_gb} or a place with --near and --reach reads finer" in told
    read = coarse_enough(tile, most_cells=asked.most_cells)
    assert asked.takes_gb(read.cells) <= 4.0
    # finer ones would take too much
    assert asked.takes_gb(tile.shape[0] ** 2 / (read.side - 1) ** 2) > 4.0


NO_MEMORY = """
import resource, sys
from terrain.command import room
from terrain.command.main import run
import rasterio, numba, geopandas, terrain.country
room.free_bytes = lambda: None  # nobody tells how little there is
taken = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (taken + int(sys.argv[1]) * 2**20,) * 2)
run(sys.argv[2:])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="address space is bounded in another way")
@pytest.mark.slow
@pytest.mark.parametrize("more_mb", [1, 30, 90])
def test_memory_that_runs_out_is_one_line(tmp_path: Path, more_mb: int) -> None:
    """In a process that may take only so much more than it has."""
    from tests.benchmarks.ground import rugged
    from tests.scenes import written

    file = written(tmp_path / "large.tif", rugged(2000).heights_m)
    saved = tmp_path / "mist.gpkg"
    asked = ["mist", str(file), "--top", "500", "--save", str(saved)]
    done = subprocess.run(
        [sys.executable, "-c", NO_MEMORY, str(more_mb), *asked],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2, done.stderr[-500:]
    told = [line for line in done.stderr.splitlines() if not line.startswith("the first run")]
    assert len(told) == 1, done.stderr
    assert told[0].startswith("terrain: there is not enough memory for this: give larger cells")
    assert list(tmp_path.iterdir()) == [file]
