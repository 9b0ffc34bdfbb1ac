"""How long the first use of everything takes, when every kernel has to be compiled.

    python -m tests.benchmarks.first_use

runs everything once on small ground with an empty cache, then again with what that left in it.
"""

from __future__ import annotations

import datetime as dt
import importlib
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numba.core import event
from numba.core.dispatcher import Dispatcher

import terrain
from terrain.ground.relief.hills import hill_ground

HERE = "--here"


def everything() -> list[Callable[[], object]]:
    """One call for each kernel of the package, and more."""
    from terrain.ground.dem import Dem
    from terrain.ground.geodesy import azimuth_and_distance
    from terrain.ground.relief.summits import find_summits
    from terrain.light.day import light_arrival
    from terrain.mist.flood import flood_levels
    from terrain.mist.level import level_mist
    from terrain.mist.passes import passes
    from terrain.mist.valley import valley_mist
    from terrain.sight.horizon import horizon, horizon_and_distance
    from terrain.sight.line import profile, sight_line
    from terrain.sight.rays import altitudes_toward, before_and_behind
    from terrain.sight.seen import seen_ground
    from terrain.sight.skyline import skyline
    from terrain.sight.viewshed import margin, viewshed
    from terrain.vantage.find import find_vantages
    from terrain.vantage.pairs import backlit_pairs
    from terrain.year.atlas import backlight_atlas
    from tests.benchmarks.ground import hill, middle, rugged

    dem = rugged(240)
    pitted = np.zeros(dem.shape)
    pitted[100:105, 100:105] = -300.0  # the few cells that wait there are asked by rays
    pit = Dem(pitted, dem.grid)
    spot, summit, day = middle(dem), hill(dem), dt.date(2026, 10, 9)
    lon, lat = (float(part) for part in dem.grid.lonlat(20, 30))
    rows, cols = np.array([20, 60]), np.array([30, 70])
    toward, distance_m = azimuth_and_distance(lon, lat, summit.lon_deg, summit.lat_deg)
    turned = dem.grid.grid_azimuth_deg(toward, lon, lat)
    return [
        lambda: find_summits(dem),
        lambda: hill_ground(dem, summit),
        lambda: viewshed(dem, spot),
        lambda: margin(dem, spot),
        lambda: skyline(dem, spot),
        lambda: profile(dem, spot, 80.0),
        lambda: sight_line(dem, spot, lon, lat, 500.0),
        lambda: horizon(dem, 110.0),
        lambda: horizon_and_distance(dem, 110.0),
        lambda: seen_ground(dem, spot, azimuths_deg=[90, 91], altitudes_deg=[-1, 0, 1]),
        lambda: altitudes_toward(dem, rows, cols, turned),
        lambda: before_and_behind(dem, hill_ground(dem, summit), rows, cols, turned, distance_m),
        lambda: flood_levels(dem),
        lambda: level_mist(dem, 400.0),
        lambda: valley_mist(dem, 60.0),
        lambda: passes(dem),
        lambda: backlight_atlas(dem, summit, 2026),
        lambda: light_arrival(dem, day),
        lambda: light_arrival(pit, day),
        lambda: backlit_pairs(dem, find_summits(dem), day),
        lambda: find_vantages(dem, summit, day=day),
    ]


class Watch(event.Listener):
    """Seconds spent in the compiler, by any thread, and the names of what it compiled."""

    def __init__(self) -> None:
        self.compile_s = 0.0
        self.kernels: list[str] = []
        self._deep, self._since = 0, 0.0
        self._lock = threading.Lock()

    def on_start(self, happening: Any) -> None:
        with self._lock:
            if self._deep == 0:
                self._since = time.perf_counter()
            self._deep += 1
            function = happening.data["dispatcher"].py_func
            self.kernels.append(f"{function.__module__}.{function.__qualname__}")

    def on_end(self, happening: Any) -> None:
        with self._lock:
            self._deep -= 1
            if self._deep == 0:
                self.compile_s += time.perf_counter() - self._since


def kernels() -> dict[str, Any]:
    """Every compiled function of the package by module and name."""
    package = Path(terrain.__file__).parent
    found = {}
    for source in sorted(package.glob("*/_*kernels.py")):
        name = f"terrain.{source.parent.name}.{source.stem}"
        module = importlib.import_module(name)
        for each, value in vars(module).items():
            if isinstance(value, Dispatcher) and value.__module__ == name:
                found[f"{name}.{each}"] = value
    return found


def run_here() -> dict[str, Any]:
    """Use everything in this process and say what that took."""
    from terrain.errors import NoAnswer

    watch = Watch()
    event.register("numba:compile", watch)
    started, used = time.perf_counter(), time.process_time()
    for call in everything():
        try:
            call()
        except NoAnswer as nothing:  # the small ground has no vantage: the kernels ran
            print(nothing, file=sys.stderr)
    return {
        "wall_s": time.perf_counter() - started,
        "cpu_s": time.process_time() - used,
        "compile_s": watch.compile_s,
        "compiled": watch.kernels,
        "not_used": [name for name, kernel in kernels().items() if not kernel.signatures],
    }


def run_apart(cache: Path) -> dict[str, Any]:
    """Use everything in a new process with this folder for the cache."""
    found = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.first_use", HERE],
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache)},
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    said: dict[str, Any] = json.loads(found.stdout.splitlines()[-1])
    return said


def main() -> None:
    with tempfile.TemporaryDirectory() as cache:
        first, second = run_apart(Path(cache)), run_apart(Path(cache))
    if first["not_used"]:
        print("not called, so not counted:", ", ".join(first["not_used"]))
    own = Counter(name for name in first["compiled"] if name.startswith("terrain."))
    if again := [f"{name} ({times})" for name, times in own.items() if times > 1]:
        print("compiled more than once, for arguments of several types:", ", ".join(again))
    for name, took in (("first", first), ("second", second)):
        print(
            f"{name} use: {len(took['compiled'])} kernels compiled in {took['compile_s']:.1f} s; "
            f"all calls {took['wall_s']:.1f} s, {took['cpu_s']:.1f} s of processor time"
        )


if __name__ == "__main__":
    if HERE in sys.argv:
        print(json.dumps(run_here()))
    else:
        main()
