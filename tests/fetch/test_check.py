"""What is said of files about a place, on ground whose extent is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from affine import Affine

from terrain.fetch.check import GroundCheck, check_ground
from terrain.fetch.tiles import Tile, sunrise_azimuths_deg, tiles_about
from terrain.ground.places import Spot
from terrain.show.chart.coverage import coverage_figure

SIDE = 120
MIDDLE = Spot(lon_deg=11.5, lat_deg=50.5)
DEGREE_M = 111_200.0


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> GroundCheck:
    """A degree of ground with a void in its north-west corner."""
    path = tmp_path_factory.mktemp("check") / "degree.tif"
    heights = np.full((SIDE, SIDE), 300.0, dtype="float32")
    heights[: SIDE // 4, : SIDE // 4] = np.nan
    profile = {"driver": "GTiff", "height": SIDE, "width": SIDE, "count": 1, "dtype": "float32"}
    at = Affine(1 / SIDE, 0, 11, 0, -1 / SIDE, 51)
    with rasterio.open(path, "w", crs="EPSG:9518", transform=at, nodata=np.nan, **profile) as file:
        file.write(heights, 1)
    return check_ground(path, MIDDLE, reach_m=60_000, sunward_m=80_000)


def known_toward(found: GroundCheck, azimuth_deg: int) -> float:
    return float(found.known_m[azimuth_deg])


def test_known_to_the_edge(found: GroundCheck) -> None:
    east_m = 0.5 * DEGREE_M * np.cos(np.radians(50.5))
    assert known_toward(found, 90) == pytest.approx(east_m, rel=0.01)
    assert known_toward(found, 0) == pytest.approx(0.5 * DEGREE_M, rel=0.01)


def test_known_to_the_void(found: GroundCheck) -> None:
    # the corner of the void is half way to the corner of the degree
    corner = np.degrees(np.arctan2(-0.25 * np.cos(np.radians(50.5)), 0.25)) % 360
    assert known_toward(found, round(corner)) < 0.6 * known_toward(found, round(360 - corner))


def test_facts_of_the_file(found: GroundCheck) -> None:
    (file,) = found.files
    assert file.datum == "EGM2008 geoid"
    assert file.cell_m[1] == pytest.approx(DEGREE_M / SIDE, rel=0.01)
    assert file.crs == "WGS 84"


def test_sunrise_over_the_year(found: GroundCheck) -> None:
    # Meeus, Astronomical Algorithms (1998): the solstices' declinations are ±23.44
    first, last = sunrise_azimuths_deg(50.5)
    assert found.month_azimuth_deg[5] == pytest.approx(first, abs=0.2)
    assert found.month_azimuth_deg[11] == pytest.approx(last, abs=0.2)
    assert found.sunrise_m[2] == pytest.approx(known_toward(found, 88), rel=0.02)


def test_missing_tiles(found: GroundCheck) -> None:
    # the void's own tile too
    assert {"N50E010", "N50E012", "N51E011", "N49E011", "N50E011"} <= set(found.missing)
    assert "N48E011" not in found.missing


def test_sun_does_not_set_in_the_north() -> None:
    assert sunrise_azimuths_deg(70.0) == (0.0, 180.0)


def test_tiles_toward_the_sun() -> None:
    near = tiles_about(MIDDLE, 10_000)
    far = tiles_about(MIDDLE, 10_000, 120_000)
    assert near == [Tile(50, 11)]
    assert Tile(50, 13) in far
    assert Tile(50, 9) in far
    # nothing straight north or south: the sun does not come up there
    assert {Tile(52, 11), Tile(48, 11)}.isdisjoint(far)


def test_tiles_about_the_date_line() -> None:
    there = Spot(lon_deg=179.95, lat_deg=-0.02)
    assert set(tiles_about(there, 10_000)) == {
        Tile(south, west) for south in (-1, 0) for west in (179, -180)
    }


def test_picture(found: GroundCheck, tmp_path: Path) -> None:
    page = coverage_figure(found)
    shown = page.axes[0].patches
    assert {"known", "unknown", "reach"} <= {str(patch.get_gid()) for patch in shown}
    words = " ".join(text.get_text() for ax in page.axes for text in ax.texts)
    assert "N51E011" in words
