"""Shallows and islets in view, by trigonometry: where they are, how large, in which lens."""

from __future__ import annotations

import math

import numpy as np
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, TerrainError
from terrain.ground.geodesy import azimuth_and_distance
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from terrain.mist.shallows import label_shallows
from terrain.view.prospect import prospect
from terrain.view.small_scenes import shallows_in_view, whole_deg2
from tests.conftest import MakeDem
from tests.scenes import Floats, cone

SIZE, STAND = 201, (100, 100)
CELL_M, TOP_M, MAST_M = 50.0, 100.0, 150.0
EYE_OVER_M = 1.0 + MAST_M
BANK, BANK_M = (100, 150), 300.0
ISLET = (60, 100)


def sea(*more: Floats, bank: tuple[int, int] = BANK) -> Floats:
    """Deep mist, a dry cell to stand on, and a round bank that is ten metres under its top."""
    row, col = np.mgrid[:SIZE, :SIZE]
    away_m = np.hypot(row - bank[0], col - bank[1]) * CELL_M
    # sheer sides, and not level, which would be water
    shoal = np.where(away_m < BANK_M, 91.0 - away_m / 200.0, 0.0)
    heights = np.maximum.reduce([shoal, *more])
    heights[STAND] = TOP_M + 1.0
    return heights


def country_of(make_dem: MakeDem, heights: Floats) -> tuple[Country, Spot]:
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(*STAND))
    country = Country(dem, mist=level_mist(dem, TOP_M))
    return country, Spot(lon_deg=lon, lat_deg=lat, eye_m=MAST_M)


@pytest.mark.parametrize("bank", [BANK, (50, 100), (150, 100)])
def test_a_round_bank_where_it_is_and_how_large(make_dem: MakeDem, bank: tuple[int, int]) -> None:
    """East, and across the north, where azimuths begin anew, and south."""
    country, spot = country_of(make_dem, sea(bank=bank))
    table = shallows_in_view(country, spot)
    assert table["kind"].tolist() == ["shallows"]
    (seen,) = table.to_dict("records")
    lon, lat = (float(part) for part in country.dem.grid.lonlat(*bank))
    azimuth, distance_m = azimuth_and_distance(spot.lon_deg, spot.lat_deg, lon, lat)
    assert abs((seen["azimuth_deg"] - float(azimuth) + 180.0) % 360.0 - 180.0) < 0.5
    assert seen["distance_m"] == pytest.approx(float(distance_m), rel=0.05)
    assert seen["width_deg"] == pytest.approx(
        2.0 * math.degrees(math.asin(BANK_M / float(distance_m))), rel=0.04
    )
    # an area on the mist's level, as large on the sky as it lies aslant and far
    area_deg2 = math.pi * BANK_M**2 * EYE_OVER_M / float(distance_m) ** 3 * math.degrees(1.0) ** 2
    assert seen["area_deg2"] == pytest.approx(area_deg2, rel=0.08)
    at = country.dem.grid.cell_of(seen["lon_deg"], seen["lat_deg"])
    assert math.dist(at, bank) * CELL_M < 0.4 * BANK_M


def test_the_lens_in_which_it_fills_a_share(make_dem: MakeDem) -> None:
    country, spot = country_of(make_dem, sea())
    for fills, sensor_mm in ((0.5, 36.0), (0.2, 23.5)):
        table = shallows_in_view(country, spot, fills=fills, sensor_width_mm=sensor_mm)
        (seen,) = table.to_dict("records")
        half_mm = seen["focal_mm"] * math.tan(math.radians(seen["width_deg"] / 2.0))
        assert 2.0 * half_mm == pytest.approx(fills * sensor_mm)
        field_mm = seen["focal_mm"] * math.tan(math.radians(seen["field_deg"] / 2.0))
        assert 2.0 * field_mm == pytest.approx(sensor_mm)


def test_islets_come_with_them_and_the_largest_first(make_dem: MakeDem) -> None:
    islet = cone(SIZE, ISLET, 140.0, 1.0)
    country, spot = country_of(make_dem, sea(islet))
    table = shallows_in_view(country, spot, islet_km2=0.02)
    assert (np.diff(table["area_deg2"]) <= 0.0).all()
    assert table["rank"].tolist() == list(range(1, len(table) + 1))
    (seen,) = table[table["kind"] == "islet"].to_dict("records")
    # 40 m over the mist and as far to either side, 2 km off
    assert seen["width_deg"] == pytest.approx(math.degrees(80.0 / 2000.0), abs=0.5)
    assert min(seen["azimuth_deg"], 360.0 - seen["azimuth_deg"]) < 0.5
    assert "islet" not in shallows_in_view(country, spot, islet_km2=0.002)["kind"].tolist()
    # from above: no part of it is higher than 140 m, nor lower than the mist
    assert seen["height_deg"] < math.degrees(60.0 / 1900.0) + 0.1


def test_behind_a_ridge_nothing_is_in_view(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:SIZE, :SIZE]
    ridge = np.where((np.abs(col - 120) <= 1) & (np.abs(row - 100) < 40), 240.0, 0.0)
    country, spot = country_of(make_dem, sea(ridge))
    assert shallows_in_view(country, spot).empty
    assert list(shallows_in_view(country, spot).columns)[:2] == ["rank", "kind"]


def test_only_what_is_in_the_frame_counts(make_dem: MakeDem) -> None:
    country, spot = country_of(make_dem, sea())
    toward = shallows_in_view(country, spot, aim_deg=(90.0, -3.0), field_deg=(20.0, 10.0))
    all_round = shallows_in_view(country, spot)
    assert toward["width_deg"].to_list() == pytest.approx(all_round["width_deg"].to_list(), abs=0.2)
    assert shallows_in_view(country, spot, aim_deg=(0.0, -3.0), field_deg=(20.0, 10.0)).empty
    assert shallows_in_view(country, spot, widest_deg=5.0).empty
    assert shallows_in_view(country, spot, least_deg2=50.0).empty


def test_shallows_that_lie_whole_in_a_frame(make_dem: MakeDem) -> None:
    country, spot = country_of(make_dem, sea())
    assert country.mist is not None
    labels = label_shallows(country.dem, country.mist)

    def whole(aim_deg: tuple[float, float], least_deg2: float = 0.02) -> float:
        about = prospect(country, spot, *aim_deg, field_deg=(30.0, 16.0))
        return whole_deg2(about, labels, least_deg2=least_deg2)

    (alone,) = shallows_in_view(country, spot)["area_deg2"]
    assert whole((90.0, -3.0)) == pytest.approx(alone, rel=0.02)
    assert whole((98.0, 0.0)) == pytest.approx(alone, rel=0.02)
    # cut by the edge, smaller than counts, or elsewhere
    assert whole((107.0, -3.0)) == whole((90.0, 5.0)) == 0.0
    assert whole((90.0, -3.0), 1.01 * alone) == 0.0
    assert whole((0.0, -3.0)) == 0.0


def test_what_cannot_be_asked(make_dem: MakeDem) -> None:
    country, spot = country_of(make_dem, sea())
    with pytest.raises(NoAnswer, match="without a mist"):
        shallows_in_view(country.under(None), spot)
    for wrong in ({"fills": 0.0}, {"fills": 1.5}, {"sensor_width_mm": 0.0}, {"widest_deg": 180.0}):
        with pytest.raises(TerrainError, match="cannot be"):
            shallows_in_view(country, spot, **wrong)
