"""How a survey grows with its tiles: processor time a tile, memory a worker, what the engine adds.

python -m tests.benchmarks.country [--workers N] [TILES]...

Every tile is the same seeded ground, which goes on at its edges where it began; so every tile has
the same hills with the same ground about them. All counts of tiles are searched in the middle of
one country, a ring of tiles larger than the most of them: what differs is the engine's. In a
country that grows with the count a tile has more far ground in sight too, up to some 280 km off,
as far as ground so high can stand over a horizon; --grow measures that. TILES are square numbers,
1 4 9 16 unless given. All is processor time: what the engine adds is that of the process of client
and scheduler, from the plan to the table, workers called before; what it takes a worker to start is
no part of it. It holds on a busy machine too, some per cent.

Two workers that are at work share the memory of the machine, and often the parts of a core; one
tile keeps one of them busy, four keep both. So what a tile takes is compared with one worker.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import tempfile
import time
from pathlib import Path
from typing import Final

import numpy as np

import terrain
from terrain.ground.dem import Dem
from terrain.surveying.run import begun
from terrain.surveying.stages import all_vantages, second_tasks
from terrain.surveying.tasks import Outcome
from terrain.surveying.warm import compile_kernels
from terrain.surveying.workers import called
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
    prominence_m=620.0,
    reach_m=12_000.0,
)
"""Of one hill a tile; its prominence in the ground that is repeated is 631 m."""


def main() -> None:
    """Measure and print, a line a country."""
    asked = argparse.ArgumentParser(prog="python -m tests.benchmarks.country")
    asked.add_argument("tiles", nargs="*", type=int, default=TILES)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--grow", action="store_true", help="let the country grow with the tiles")
    said = asked.parse_args()
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; tiles of {SIDE} x {SIDE} cells")
    for count in said.tiles:
        with (
            tempfile.TemporaryDirectory() as folder,
            called(
                terrain.Workers(count=said.workers), task_gb=1.0, prepare=compile_kernels
            ) as client,
        ):
            workers = terrain.Workers(scheduler=client().scheduler.address)
            across = round((count if said.grow else max(said.tiles)) ** 0.5) + 2
            print(_measured(round(count**0.5), across, Path(folder), workers), flush=True)


def _measured(side: int, across: int, folder: Path, workers: terrain.Workers) -> str:
    """side: of the square of tiles that are searched; across: of the country, in tiles."""
    ground = folder / "country.tif"
    write(_country(across), ground)
    began_s, own_s = time.monotonic(), time.process_time()
    begin = begun(
        ground,
        folder / "kept",
        tile_m=SIDE * CELL_M,
        workers=workers,
        told=lambda standing: None,
    )
    with begin(QUESTION.about_m) as run:
        first, known = run.known(QUESTION.prominence_m, None)
        tasks = second_tasks(run.cut, known, QUESTION)
        second = run.send("vantages", [one for one in tasks if _is_middle(one.tile, side, across)])
        table = all_vantages(run.folder, second)
    wall_s, own_s = time.monotonic() - began_s, time.process_time() - own_s
    tasks_s = _processor_s(first) + _processor_s(second)
    tiles, hills = side**2, sum(int(one.says["hills"]) for one in second.receipts)
    memory_mb = max(one.memory_mb for one in [*first.receipts, *second.receipts])
    return (
        f"{tiles:3d} tiles, {hills:3d} hills: first stage "
        f"{_processor_s(first) / run.cut.tiles:5.2f} s a tile, second "
        f"{_processor_s(second) / tiles:5.2f} s a tile, at most {memory_mb:5.0f} MB a worker; "
        f"client and scheduler {own_s:5.2f} s, {100.0 * own_s / tasks_s:4.1f} % of the tasks' "
        f"{tasks_s:6.1f} s; wall {wall_s:6.1f} s; {first.made + second.made} tasks, "
        f"{len(table)} rows"
    )


def _processor_s(outcome: Outcome) -> float:
    return sum(one.processor_s for one in outcome.receipts)


def _is_middle(tile: int, side: int, across: int) -> bool:
    """Whether a tile is one of those in the middle of a country."""
    first = (across - side) // 2
    return all(first <= at < first + side for at in divmod(tile, across))


def _country(across: int) -> Dem:
    """The same tile so many times along each side; its noise has no edge to go over."""
    tile = rugged(SIDE)
    heights = np.tile(tile.heights_m, (across, across))
    grid = terrain.Grid(crs=tile.grid.crs, transform=tile.grid.transform, shape=heights.shape)
    return terrain.Dem(heights, grid)


if __name__ == "__main__":
    main()
