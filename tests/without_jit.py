"""The same small program with the kernels compiled, and with them as plain Python."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

__all__ = ["GROUND", "both_ways"]

Answers = dict[str, NDArray[np.float64]]

GROUND = """
import sys
import numpy as np
from affine import Affine
from terrain.ground.dem import Dem
from terrain.ground.geodesy import local_transverse_mercator
from terrain.ground.grid import Grid
from terrain.ground.places import Spot

def dem_of(heights, cell_m=40.0):
    rows, cols = heights.shape
    transform = Affine(cell_m, 0, -cell_m * cols / 2, 0, -cell_m, cell_m * rows / 2)
    crs = local_transverse_mercator(-24.0, 54.4)
    return Dem(heights, Grid(crs=crs, transform=transform, shape=heights.shape))

def spot_in(dem, row, col):
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))
"""
"""How a program begins that makes its own ground."""


def both_ways(program: str, folder: Path) -> tuple[Answers, Answers]:
    """What a program saves, by name: its kernels as plain Python, and compiled.

    program: writes its answers with `np.savez(sys.argv[1], name=..., ...)`.
    """
    plain, compiled = (_run(program, folder / f"jit_{jit}.npz", jit=jit) for jit in (False, True))
    return plain, compiled


def _run(program: str, file: Path, *, jit: bool) -> Answers:
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "0" if jit else "1"}
    subprocess.run([sys.executable, "-c", program, str(file)], check=True, env=environment)
    with np.load(file) as found:
        return dict(found)
