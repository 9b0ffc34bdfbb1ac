"""The first run of a command on a machine compiles in several processes.

To compile holds the interpreter, so that threads would take turns. The command itself compiles a
kernel when it needs it; one or two processes beside it, where there are cores for them, go over a
small ground for what the command needs last, and end with the command. What two of them come to,
one compiles and the other reads (`compiled_files`), so whatever becomes of those beside it, the
answer is the same.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from functools import cache
from threading import Thread
from typing import TYPE_CHECKING, Final

from terrain.compiling import PACKAGE, nothing_kept
from terrain.cores import cores
from terrain.memory import free_bytes

if TYPE_CHECKING:
    from terrain.ground.dem import Dem
    from terrain.ground.places import Spot

_PROGRAM: Final = """
import sys
sys.path.append(sys.argv[1])
from terrain.command.beside import compile_last
compile_last(sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
"""
_MOST: Final = 2  # what the command needs first is its own to compile
_ROOM: Final = 2_000_000_000
"""Memory that must be free for each of them: it takes up to 0.7 GB, the command more (measured)."""


@contextmanager
def compiled_beside(words: list[str]) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Let others compile what the command of these words needs last, for as long as the block."""
    command = words[0] if words and words[0] in LAST and nothing_kept() else None
    started = [] if command is None else _start(command, _how_many())
    try:
        yield started
    finally:
        for process in started:
            process.kill()
            process.communicate()


def _how_many() -> int:
    free = free_bytes()
    room = _MOST if free is None else free // _ROOM
    return max(min(cores() - 1, _MOST, room), 0)


def _start(command: str, count: int) -> list[subprocess.Popen[bytes]]:
    # -P: nothing is imported from the folder that a user happens to be in
    program = [sys.executable, "-P", "-c", _PROGRAM, str(PACKAGE.parent), command]
    started: list[subprocess.Popen[bytes]] = []
    with suppress(OSError):  # where none can be started, the command compiles all
        for part in range(count if sys.executable else 0):
            process = subprocess.Popen(
                [*program, str(part), str(count)],
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
            started.append(process)
    return started


def compile_last(command: str, part: int, count: int) -> None:
    """Compile a share of what a command needs last, the last first, until the command ends."""
    Thread(target=_end_with_the_command, daemon=True).start()
    gc.disable()
    for use in LAST[command][part::count]:
        # what cannot be compiled here is where it is needed, and told of there
        with suppress(Exception):
            use()


def _end_with_the_command() -> None:
    sys.stdin.buffer.read()
    os._exit(0)


@cache
def _cone() -> tuple[Dem, Spot]:
    """A small hill and a spot beside it."""
    import numpy as np
    from affine import Affine
    from pyproj import CRS

    from terrain.ground.dem import Dem
    from terrain.ground.grid import Grid
    from terrain.ground.places import Spot

    row, col = np.mgrid[-30:31, -40:41]
    grid = Grid(
        crs=CRS.from_epsg(32628), transform=Affine(100, 0, 5e5, 0, -100, 6e6), shape=row.shape
    )
    lon, lat = grid.lonlat(30, 10)
    heights = np.maximum(300.0 - 10.0 * np.hypot(row, col), 1.0).astype(np.float32)
    return Dem(heights, grid), Spot(lon_deg=float(lon), lat_deg=float(lat))


def _viewshed() -> None:
    from terrain.sight.viewshed import viewshed

    viewshed(*_cone())


def _seen() -> None:
    from terrain.sight.seen import seen_ground

    seen_ground(*_cone(), azimuths_deg=[90, 91], altitudes_deg=[-1, 0, 1])


def _skyline() -> None:
    from terrain.sight.rays import altitudes_toward

    altitudes_toward(_cone()[0], [10, 20], [10, 20], [90.0, 91.0])


def _line() -> None:
    from terrain.sight.line import sight_line

    dem, spot = _cone()
    lon, lat = map(float, dem.grid.lonlat(20, 40))
    sight_line(dem, spot, lon, lat, 500.0)


def _hill_before_ground() -> None:
    from terrain.sight.rays import before_and_behind

    dem, _ = _cone()
    before_and_behind(dem, dem.heights_m > 100.0, [10, 20], [10, 20], [90.0, 91.0], 3000.0)


def _mist_in_view() -> None:
    from terrain.country import Country
    from terrain.mist.level import level_mist
    from terrain.view.prospect import prospect

    dem, spot = _cone()
    prospect(Country(dem, mist=level_mist(dem, 20.0)), spot, 90.0, 0.0)


def _horizon() -> None:
    from terrain.sight.horizon import horizon

    horizon(_cone()[0], 110.0)


def _picture() -> None:
    from terrain.country import Country
    from terrain.frame.lens import Frame, Sensor
    from terrain.ground.relief.summits import hill_at
    from terrain.show.view.moment import Moment
    from terrain.show.view.photograph import Camera
    from terrain.view.scene import Scene

    dem, spot = _cone()
    scene = Scene(Country(dem), hill_at(dem, *map(float, dem.grid.lonlat(30, 40))))
    frame = Frame(azimuth_deg=90.0, altitude_deg=0.5, focal_mm=50.0, sensor=Sensor())
    moment = Moment(azimuth_deg=100.0, true_deg=0.5, semidiameter_deg=0.267, eye_m=100.0)
    Camera(scene=scene, spot=spot, frame=frame, width_px=60).picture(moment)


_PLAN: Final = (_horizon, _picture, _line, _seen, _skyline, _viewshed)
LAST: Final[dict[str, tuple[Callable[[], None], ...]]] = {
    "sunrise": (_viewshed, _seen, _skyline, _line),
    "vantages": (_line, _seen, _skyline, _mist_in_view, _hill_before_ground, _viewshed),
    "plan": _PLAN,
    "demo": _PLAN,
}
"""What each command needs last, that first."""
