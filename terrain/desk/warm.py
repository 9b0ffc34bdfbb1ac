"""Everything asked once on a small made ground, so that no first answer waits for its rooms.

Rooms load when they are first used, and their kernels too, or are compiled, once for a machine.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Final

import numpy as np
from affine import Affine
from pyproj import CRS

import terrain
from terrain.desk.about import first_hill, first_mist
from terrain.desk.asked import Asked
from terrain.desk.table import Table
from terrain.desk.work import Job
from terrain.errors import TerrainError

_DAY: Final = dt.date(2025, 3, 30)


def warm(table: Table, job: Job) -> None:
    """Ask everything once; Dropped where the desk is closed meanwhile."""
    for ask in (*_first_questions(table), *_questions()):
        job.check()
        # there may be no answer, but the rooms are loaded
        with suppress(TerrainError):
            ask()


def _questions() -> Iterator[Callable[[], object]]:
    """What a page asks, what it asks first first."""
    from terrain.frame.answer import answer_at
    from terrain.sight.seen import seen_ground

    country, hill, spot = _made()
    scene, kit = terrain.Scene(country, hill), terrain.Kit()
    yield lambda: seen_ground(country.dem, spot, [80.0, 90.0], [-5.0, 0.0, 5.0])
    yield lambda: answer_at(scene, spot, _DAY, kit=None)
    yield lambda: terrain.viewshed(country.seen, spot)
    yield lambda: terrain.light_arrival(country, _DAY)
    yield lambda: terrain.sky(terrain.ClearAir(), sun_altitude_deg=1.0, eye_height_m=100.0)
    yield lambda: terrain.find_vantages(country, hill, day=_DAY)
    yield lambda: answer_at(scene, spot, _DAY, kit=kit)
    yield lambda: terrain.backlight_atlas(country, hill, _DAY.year)
    yield lambda: terrain.valley_mist(country.dem, 30.0)


def _first_questions(table: Table) -> list[Callable[[], object]]:
    """The hill and the mist that the page begins with, seen from a place that it names."""
    from terrain.frame.answer import answer_at

    hill, mist = first_hill(table), first_mist(table)
    scene = Asked({"hill": hill or "", "mist": mist.text})
    places = list(table.tract.places.values())[:1]

    def answer_there() -> None:
        for place in places:
            answer_at(table.scene(scene), table.camera(place), _DAY, kit=None)

    return [lambda: table.scene(scene), answer_there]


def _made() -> tuple[terrain.Country, terrain.Hill, terrain.Spot]:
    """A cone in mist, and a place to see it from."""
    placing = Affine(100, 0, 5e5, 0, -100, 6e6)
    grid = terrain.Grid(crs=CRS(32628), transform=placing, shape=(41, 81))
    row, col = np.mgrid[-20:21, -40:41]
    heights = np.maximum(300.0 - 40.0 * np.hypot(row, col), 0.0)
    heights[:, :16] = 150.0
    dem = terrain.Dem(heights, grid)
    hill = terrain.hill_at(dem, *map(float, grid.lonlat(20, 40)))
    lon_deg, lat_deg = (float(part) for part in grid.lonlat(20, 10))
    spot = terrain.Spot(lon_deg=lon_deg, lat_deg=lat_deg)
    return terrain.Country(dem).under_level(60.0), hill, spot
