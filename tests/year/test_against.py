"""Days of an atlas where the summit stands against sky, mist or ground, as full looks have it."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.view.backdrop import Backdrop
from terrain.view.look import look
from terrain.view.scene import Scene
from terrain.year.atlas import backlight_atlas
from tests.conftest import MakeDem


@pytest.fixture(scope="module")
def scene(make_dem: MakeDem) -> Scene:
    """A slope in the west over a low hill in mist, and far behind it a ridge with a gap."""
    row, col = np.mgrid[-40:41, 0:140]
    slope = 520.0 - 12.0 * np.maximum(col, 6)
    hill = 260.0 - 35.0 * np.hypot(row, col - 75)
    ridge = np.where(np.abs(row - 8) > 9, 420.0 - 30.0 * np.abs(col - 125.0), 0.0)
    dem: Dem = make_dem(np.maximum.reduce([slope, hill, ridge, 0.0 * row]), cell_m=100.0)
    place = map(float, dem.grid.lonlat(40, 75))
    return Scene(Country(dem, mist=level_mist(dem, 120.0)), hill_at(dem, *place))


def test_an_atlas_has_days_only_against_what_was_asked_for(scene: Scene) -> None:
    atlases = {
        kind: backlight_atlas(scene.country, scene.hill, 2026, against=kind, tolerance_deg=1.0)
        for kind in (None, *Backdrop)
    }
    every = atlases[None].has_days
    drawn = np.random.default_rng(5).permutation(np.argwhere(every & atlases[None].sees))[:60]
    agree, kinds = [], set()
    for row, col in drawn:
        lon, lat = (float(part) for part in scene.dem.grid.lonlat(row, col))
        backdrop = look(scene, Spot(lon_deg=lon, lat_deg=lat)).backdrop
        kinds.add(backdrop)
        agree += [bool(atlases[kind].has_days[row, col]) == (kind == backdrop) for kind in Backdrop]
    assert kinds == set(Backdrop)
    assert np.mean(agree) >= 0.97
    parts = sum(atlases[kind].has_days.astype(int) for kind in Backdrop)
    assert (parts == every).all()
