"""How a survey grows with its tiles: processor time a tile, memory a worker, what the engine adds.

python -m tests.benchmarks.country [TILES]...

Every tile is the same seeded ground, turned over at its seams so that it goes on without a step; so
every tile has the same work, and what differs is the engine's. TILES are square numbers, 1 4 9 16
unless given. On an idle machine the wall tells too; processor time tells on any.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

import numpy as np

import terrain
from terrain.ground.dem import Dem
from terrain.surveying.receipts import Folder, Receipt
from terrain.surveying.warm import compile_kernels
from tests.benchmarks.ground import CELL_M, rugged
from tests.benchmarks.peers import write

TILES: Final = (1, 4, 9, 16)
SIDE: Final = 1415
"""Cells along a tile: two million in all."""

QUESTION: Final = terrain.SurveyQuestion(
    days=(dt.date(2026, 10, 1), dt.date(2026, 10, 31)),
    tops_m=(900.0,),
    limits=terrain.Limits(max_distance_m=8_000.0),
    count=2,
    prominence_m=580.0,
    reach_m=12_000.0,
)


def main(wanted: list[str]) -> None:
    """Measure and print, a line a country."""
    compile_kernels()  # once, before the engine is measured
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; tiles of {SIDE} x {SIDE} cells")
    for count in [int(word) for word in wanted] or TILES:
        with tempfile.TemporaryDirectory() as folder:
            print(_measured(count, Path(folder)), flush=True)


def _measured(count: int, folder: Path) -> str:
    ground = folder / "country.tif"
    write(_country(round(count**0.5)), ground)
    began_s, own_s = time.monotonic(), time.process_time()
    found = terrain.survey(
        ground,
        QUESTION,
        save=folder / "kept",
        tile_m=SIDE * CELL_M,
        workers=terrain.Workers(count=2),
    )
    wall_s, own_s = time.monotonic() - began_s, time.process_time() - own_s
    kept = Folder(folder / "kept")
    signed = [kept.receipt(file.stem) for file in (folder / "kept" / "receipts").iterdir()]
    first, second = (_of_tiles(signed, stage) for stage in ("ground", "vantages"))
    tasks_s = sum(one.processor_s for one in [*first, *second])
    hills = sum(int(one.says["hills"]) for one in second)
    return (
        f"{count:3d} tiles, {hills:4d} hills: first stage "
        f"{sum(one.processor_s for one in first) / count:6.2f} s a tile, second "
        f"{sum(one.processor_s for one in second) / max(hills, 1):6.2f} s a hill, at most "
        f"{max(one.memory_mb for one in [*first, *second]):5.0f} MB a worker; client and scheduler "
        f"{own_s:5.1f} s, {100.0 * own_s / tasks_s:4.1f} % of the tasks' {tasks_s:6.1f} s; wall "
        f"{wall_s:6.1f} s; {found.made} tasks, {len(found.table)} rows"
    )


def _of_tiles(signed: list[Receipt | None], stage: str) -> list[Receipt]:
    return [one for one in signed if one is not None and one.name.startswith(stage)]


def _country(across: int) -> Dem:
    """So many tiles along each side, each the mirror image of those beside it."""
    tile = rugged(SIDE).heights_m
    rows = [
        np.hstack([tile[:: 1 - 2 * (row % 2), :: 1 - 2 * (col % 2)] for col in range(across)])
        for row in range(across)
    ]
    whole = rugged(SIDE).grid
    heights = np.vstack(rows)
    grid = terrain.Grid(crs=whole.crs, transform=whole.transform, shape=heights.shape)
    return terrain.Dem(heights, grid)


if __name__ == "__main__":
    main(sys.argv[1:])
