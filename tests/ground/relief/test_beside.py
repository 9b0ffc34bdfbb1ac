"""A spot beside a top stands on it, and no other spot is moved."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.errors import NoGround
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.beside import top_beside
from terrain.sight.skyline import skyline

MakeDem = Callable[..., Dem]


def at(dem: Dem, row: float, col: float) -> Spot:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Spot(lon_deg=lon, lat_deg=lat, eye_m=1.5, name="the cairn")


def cell_of(dem: Dem, spot: Spot) -> tuple[float, float]:
    row, col = dem.grid.rowcol(spot.lon_deg, spot.lat_deg)
    return round(float(row), 3), round(float(col), 3)


def two_tops() -> NDArray[np.float64]:
    """A top of 300 m at (30, 30) and one of 280 m three cells east, 15 m over the col between."""
    row, col = np.mgrid[:61, :61]
    high = 300.0 - 15.0 * np.hypot(row - 30, col - 30)
    low = 280.0 - 15.0 * np.hypot(row - 30, col - 33)
    return np.maximum(high, low)


def test_a_spot_moves_to_the_highest_top_within_two_cells(make_dem: MakeDem) -> None:
    dem = make_dem(two_tops())
    assert cell_of(dem, top_beside(dem, at(dem, 29.2, 28.6))) == (30.0, 30.0)
    assert cell_of(dem, top_beside(dem, at(dem, 30.0, 31.9))) == (30.0, 30.0)
    assert cell_of(dem, top_beside(dem, at(dem, 31.4, 33.8))) == (30.0, 33.0)
    moved = top_beside(dem, at(dem, 29.2, 28.6))
    assert (moved.eye_m, moved.name) == (1.5, "the cairn")


def test_a_spot_beside_no_top_or_on_it_stays_the_very_same(make_dem: MakeDem) -> None:
    dem = make_dem(two_tops())
    for place in ((30.0, 30.0), (30.0, 27.9), (10.0, 10.0), (33.1, 33.0)):
        spot = at(dem, *place)
        assert top_beside(dem, spot) is spot


def test_only_as_much_of_a_top_as_is_asked(make_dem: MakeDem) -> None:
    dem = make_dem(two_tops())
    east = at(dem, 30.0, 34.5)  # the eastern top falls 5 m to the col of 270 and 275 m beside it
    assert cell_of(dem, top_beside(dem, east, least_drop_m=5.0)) == (30.0, 33.0)
    assert top_beside(dem, east, least_drop_m=60.0) is east
    west = at(dem, 30.0, 28.5)  # 22 m under the top
    assert cell_of(dem, top_beside(dem, west, most_rise_m=25.0)) == (30.0, 30.0)
    assert top_beside(dem, west, most_rise_m=20.0) is west


def test_at_the_edge_of_the_known_and_beyond(make_dem: MakeDem) -> None:
    heights = two_tops()[:, 29:]
    heights[:20] = np.nan
    dem = make_dem(heights)
    assert cell_of(dem, top_beside(dem, at(dem, 30.9, 0.3))) == (30.0, 1.0)
    with pytest.raises(NoGround):
        top_beside(dem, at(dem, 5.0, 5.0))
    with pytest.raises(NoGround):
        top_beside(dem, at(dem, 30.0, -40.0))


def wall_deg(dem: Dem, spot: Spot) -> float:
    """The highest ground within a cell and a half of a spot, degrees; -90 where there is none."""
    sky = skyline(dem, spot, azimuths_deg=np.arange(0.0, 360.0, 4.0))
    near = sky.distance_m <= 1.5 * dem.cell_m
    return float(np.max(sky.altitude_deg[near], initial=-90.0))


def test_from_a_summit_no_cell_of_its_own_stands_in_the_way(open_data: Path) -> None:
    """Heights and places of Lakeland's tops: the Database of British and Irish Hills."""
    dem = read_dem(open_data / "lakeland_50m.tif")
    with (open_data / "lakeland_summits.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["name"]]
    given = [Spot(lon_deg=float(row["longitude"]), lat_deg=float(row["latitude"])) for row in rows]
    spots = [(spot, top_beside(dem, spot)) for spot in given[::2]]
    before, after = (
        [wall_deg(dem, spot) > 2.0 for spot in side] for side in zip(*spots, strict=True)
    )
    assert np.mean(before) > 0.35
    # what is left are shoulders of higher ground, which are no tops
    assert np.mean(after) < 0.04
    assert max(wall_deg(dem, top) for spot, top in spots if top is not spot) < 0.0
