"""The plan of an evening on the invented upland, for the tests of all that tells or draws it."""

from __future__ import annotations

import datetime as dt
from functools import cache
from pathlib import Path

import terrain

DATA = Path(__file__).parents[1] / "data"
DAY = dt.date(2026, 11, 1)
START = terrain.Spot(lon_deg=-23.93148, lat_deg=54.39371, name="Haffra Quay car park")
SPOT = terrain.Spot(lon_deg=-23.93225, lat_deg=54.40988, name="Haffra Bank")


@cache
def upland() -> terrain.Dem:
    return terrain.read_dem(DATA / "upland.tif")


@cache
def hill() -> terrain.Hill:
    return terrain.hill_at(upland(), -23.983, 54.394, snap_m=600.0, name="Orrasel")


@cache
def evening_plan() -> terrain.Plan:
    """From the quay to a bank over the mist, east of the hill."""
    return terrain.plan_morning(
        upland(),
        SPOT,
        hill(),
        DAY,
        start=START,
        mist_top_m=280.0,
        paths=terrain.read_paths(DATA / "paths.geojson"),
        air=terrain.Air(temperature_c=6.0, wind_kmh=20.0),
        drive=dt.timedelta(minutes=25),
        evening=True,
    )
