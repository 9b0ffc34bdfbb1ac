"""What each command takes, bytes and microseconds of processor time a cell: for `command/room.py`.

python -m tests.benchmarks.room [COMMAND]...

Each runs by itself on made ground of two sizes; what the larger takes more is its cells'. What
`Work` says must not be less.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np

from terrain.command import room
from terrain.ground.raster.read import read_dem
from tests.benchmarks.ground import hill, rugged
from tests.scenes import written

SIDES: Final = (2000, 3000)
WORK: Final = {"sunrise": "ONE_SPOT", "skyline": "ONE_SPOT"}
"""Where the figures of a command are not under its name."""

RUN: Final = "from terrain.command.main import run; run()"
# a process begins with the peak of the one that started it, so a small one stands between
MEASURED: Final = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_maxrss, used.ru_utime + used.ru_stime)
"""


def main(wanted: list[str]) -> None:
    """Measure and print, a line a case."""
    with tempfile.TemporaryDirectory() as folder:
        grounds = [_ground(Path(folder), side) for side in SIDES]
        for case in _cases():
            if wanted and case[0] not in wanted:
                continue
            found = [_run(case, *ground, Path(folder)) for ground in grounds]
            cells = SIDES[1] ** 2 - SIDES[0] ** 2
            peak, seconds = ((found[1][at] - found[0][at]) / cells for at in (0, 1))
            said = getattr(room, WORK.get(case[0], case[0].upper()))
            print(
                f"{' '.join(case):60.60}  {peak:4.0f} bytes of {said.bytes_a_cell:.0f}, "
                f"{1e6 * seconds:.1f} µs of {said.us_a_cell:g}",
                flush=True,
            )


def _cases() -> Iterator[list[str]]:
    """What is asked of each command, with files to write; `PLACE` stands for the hill.

    `SPOT` stands for a place three kilometres south of it.
    """
    mist = ["--top", "500"]
    yield ["summits", "--save", "out.png"]
    yield ["mist", *mist, "--save", "out.gpkg"]
    yield ["mist", "--depth", "60"]
    yield ["passes"]
    yield ["light", "--date", "2026-03-22", "--save", "out.tif", "--save", "out.png"]
    yield ["hills", "--date", "2026-10-13", "--prominence", "300"]
    yield ["season", *mist, "--prominence", "600", "--from", "2026-10-13", "--to", "2026-10-14"]
    yield ["atlas", "--hill", "PLACE", "--year", "next", "--reach", "200"]
    yield ["vantages", "--hill", "PLACE", "--date", "2026-10-13", "--reach", "200", *mist]
    yield ["skyline", "--spot", "PLACE", "--reach", "200"]
    yield ["sunrise", "--spot", "SPOT", "--hill", "PLACE", "--date", "2026-10-13", "--reach", "200"]


def _ground(folder: Path, side: int) -> tuple[Path, dict[str, str]]:
    """A raster of so many cells along each side, and places of it as LAT,LON."""
    dem = rugged(side)
    file = written(folder / f"{side}.tif", np.asarray(dem.heights_m))
    top = hill(dem)
    row, col = dem.grid.cell_of(top.lon_deg, top.lat_deg)
    rows, cols = np.array([row, row + 60]), np.array([col, col])
    lon, lat = read_dem(file).grid.lonlat(rows, cols)
    return file, {name: f"{lat[at]:.5f},{lon[at]:.5f}" for at, name in enumerate(("PLACE", "SPOT"))}


def _run(case: list[str], file: Path, places: dict[str, str], folder: Path) -> tuple[float, float]:
    """The peak of memory, bytes, and the processor time, seconds, of one run."""
    command, *options = [places.get(word, word) for word in case]
    asked = [command, str(file), *options, "--memory", "64"]
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, sys.executable, "-c", RUN, *asked],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
        stdout=subprocess.PIPE,
        check=True,
        text=True,
    )
    kilobytes, seconds = done.stdout.split()
    return 1024.0 * float(kilobytes), float(seconds)


if __name__ == "__main__":
    main(sys.argv[1:])
