"""A small world to draw: a cone that stands out of mist, seen from a ridge to its west."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import find_summits, hill_at
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.view.backlight import Backlight, backlight
from terrain.view.look import look
from terrain.view.scene import Scene

DAY = dt.date(2026, 3, 20)
TOP_M = 200.0


@dataclass(frozen=True, kw_only=True)
class World:
    dem: Dem
    mist: Mist
    hill: Hill
    summits: gpd.GeoDataFrame
    scene: Scene
    spot: Spot
    answer: Backlight
    vantages: gpd.GeoDataFrame


@pytest.fixture(scope="session")
def world(make_dem: Callable[..., Dem]) -> World:
    rows, cols = np.mgrid[:160, :200]
    cone = 520.0 - 9.0 * np.hypot(rows - 86, cols - 140)
    ridge = 400.0 - 8.0 * np.abs(cols - 40) - 0.6 * np.abs(rows - 70)
    knoll = 320.0 - 10.0 * np.hypot(rows - 40, cols - 110)
    hollow = 8.0 * np.hypot(rows - 118, cols - 40)
    heights = np.maximum.reduce([cone, ridge, knoll, np.full(cone.shape, 20.0)])
    heights = np.where(hollow < 40.0, 150.0, heights)  # dry ground below the mist, walled in
    dem = make_dem(heights, cell_m=50.0)
    mist = level_mist(dem, TOP_M, levels=flood_levels(dem, min_hollow_m=np.inf))
    lon, lat = dem.grid.lonlat([86, 70], [140, 40])
    hill = hill_at(dem, float(lon[0]), float(lat[0]), name="the Cone")
    spot = Spot(lon_deg=float(lon[1]), lat_deg=float(lat[1]), name="the Ridge")
    scene = Scene(Country(dem, mist=mist), hill)
    answer = backlight(scene, look(scene, spot), DAY)
    return World(
        dem=dem,
        mist=mist,
        hill=hill,
        summits=find_summits(dem),
        scene=scene,
        spot=spot,
        answer=answer,
        vantages=_vantages(dem, answer),
    )


def _vantages(dem: Dem, answer: Backlight) -> gpd.GeoDataFrame:
    lon, lat = dem.grid.lonlat([50, 70, 71, 72, 100], [40, 40, 40, 41, 38])
    table = pd.DataFrame(
        {
            "height_m": dem.heights_at(lon, lat),
            "freeboard_m": dem.heights_at(lon, lat) - TOP_M,
            "distance_m": 5000.0,
            "azimuth_deg": 98.0,
            "appears": answer.contact.appears,
            "offset_widths": [0.2, -0.4, 1.0, 0.0, 0.3],
            "score": 0.5,
        }
    )
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(lon, lat), crs="EPSG:4326")
