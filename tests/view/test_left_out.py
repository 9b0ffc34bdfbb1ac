"""What is left out is said of every field: how far ground is known, and what would change it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.relief.summits import find_summits
from terrain.light.day import day_atlas, light_arrival
from terrain.sight.skyline import skyline
from terrain.vantage.limits import Limits
from terrain.vantage.pairs import backlit_pairs
from terrain.view.contact import sun_contact
from terrain.year.atlas import Atlas, backlight_atlas
from tests.scenes import cone

MakeDem = Callable[..., Dem]
SPRING = dt.date(2025, 3, 21)


def spot_at(dem: Dem, row: int, col: int, eye_m: float = 1.7) -> Spot:
    lon, lat = dem.grid.lonlat(row, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat), eye_m=eye_m)


def hill_on(dem: Dem, row: int, col: int) -> Hill:
    lon, lat = (float(part) for part in dem.grid.lonlat(row, col))
    return Hill(lon_deg=lon, lat_deg=lat, height_m=float(dem.heights_m[row, col]), name="Cone")


def country() -> NDArray[np.float64]:
    """A cone with a lower ridge behind it, and a tarn of unknown ground beside the line."""
    ground = cone(121, (60, 70), 500.0, 0.35)
    ground[:, 105:108] = np.maximum(ground[:, 105:108], 60.0)
    ground[20:30, 85:95] = np.nan
    return ground


@pytest.fixture(scope="module")
def dem(make_dem: MakeDem) -> Dem:
    return make_dem(country())


@pytest.fixture(scope="module")
def atlas(dem: Dem) -> Atlas:
    return backlight_atlas(dem, hill_on(dem, 60, 70), 2025, tolerance_deg=1.0)


def test_the_atlas_says_how_far_the_ground_is_known_behind_the_summit(
    dem: Dem, atlas: Atlas
) -> None:
    known = atlas.known_to_m
    np.testing.assert_array_equal(np.isnan(known), np.isnan(atlas.azimuth_deg))
    # from due west of the summit along the row to the raster's edge
    assert known[60, 10] == pytest.approx((120.5 - 10.0) * 50.0, abs=1.0)
    assert (known[:, :60] > atlas.distance_m[:, :60])[atlas.sees[:, :60]].all()
    # the line from here over the summit ends at the unknown ground behind it
    row, col = 95, 50
    assert atlas.sees[row, col]
    line = skyline(dem, spot_at(dem, row, col), azimuths_deg=[float(atlas.azimuth_deg[row, col])])
    assert known[row, col] == pytest.approx(line.known_to_m[0], abs=1.5 * dem.cell_m)
    assert known[row, col] < math.hypot(95 - 20, 95 - 50) * dem.cell_m
    with pytest.raises(ValueError, match="read-only"):
        known[0, 0] = 1.0


def test_unknown_ground_before_the_summit_shows_as_less_than_its_distance(
    dem: Dem, atlas: Atlas
) -> None:
    behind_the_tarn = np.s_[2:12, 95:105]
    sees = atlas.sees[behind_the_tarn]
    before = atlas.known_to_m[behind_the_tarn] < atlas.distance_m[behind_the_tarn]
    assert (before & sees).any()


@pytest.mark.parametrize("over_m", [-3.0, 3.0])
def test_hidden_ground_over_the_height_told_and_only_it_takes_the_skyline(
    make_dem: MakeDem, over_m: float
) -> None:
    """A wall put just beyond the end of the known ground, a little lower or higher than told."""
    ground = cone(121, (60, 70), 500.0, 0.35)
    ground[:, 110:] = np.nan
    dem = make_dem(ground)
    atlas = backlight_atlas(dem, hill_on(dem, 60, 70), 2025)
    beyond = atlas.beyond_height_m()
    for row, col in ((60, 8), (60, 30), (60, 44)):
        assert atlas.on_skyline[row, col]
        assert atlas.known_to_m[row, col] == pytest.approx((109 - col) * 50.0)
        walled = ground.copy()
        # a wall a cell farther off than the last known centre
        slack = math.tan(math.radians(float(atlas.altitude_deg[row, col]))) * dem.cell_m
        walled[:, 110:] = 0.0
        walled[40:81, 110] = beyond[row, col] + over_m + (slack if over_m > 0.0 else 0.0)
        other = backlight_atlas(make_dem(walled), atlas.hill, 2025)
        assert bool(other.on_skyline[row, col]) == (over_m < 0.0)


def test_what_the_atlas_leaves_out_in_figures(atlas: Atlas) -> None:
    out = atlas.left_out()
    asked = atlas.sees & (atlas.distance_m > 0.0)
    assert out.cells == pytest.approx(asked.sum(), abs=1)
    assert out.known_m == pytest.approx(np.nanpercentile(atlas.known_to_m, 10), rel=1e-3)
    beyond = atlas.beyond_height_m()
    assert out.median_hidden_m == pytest.approx(np.nanmedian(beyond), rel=0.01)
    assert out.highest_m == 500.0
    assert out.open_share == pytest.approx(np.mean(beyond[asked] <= 500.0), abs=0.01)


def test_light_says_how_far_the_ground_is_known_toward_the_sun(make_dem: MakeDem) -> None:
    """As a whole skyline says of each cell; beyond a gap as well as beyond the raster's edge."""
    ground = cone(150, (75, 40), 300.0, 0.25)
    ground[60:100, 100:104] = np.nan
    dem = make_dem(ground, cell_m=90.0)
    arrival = light_arrival(dem, SPRING)
    beyond = arrival.beyond_height_m()
    asked = ~np.isnan(arrival.azimuth_deg)
    np.testing.assert_array_equal(~np.isnan(arrival.known_to_m), asked)
    assert np.nanmax(arrival.known_to_m[70:90, 60]) < 41 * 90.0
    assert np.nanmin(arrival.known_to_m[5:20, 60]) > 80 * 90.0
    looked_at = 0
    for row, col in ((80, 20), (75, 38), (64, 90), (10, 50), (140, 60), (120, 10)):
        contact = sun_contact(skyline(dem, spot_at(dem, row, col, eye_m=0.0)), SPRING)
        assert arrival.known_to_m[row, col] == pytest.approx(contact.known_to_m, rel=0.02, abs=180)
        if contact.altitude_deg > 0.5:  # else the lowest point of the line lies farther off
            looked_at += 1
            assert beyond[row, col] == pytest.approx(contact.beyond_height_m, rel=0.02, abs=6.0)
    assert looked_at >= 2
    out = arrival.left_out()
    assert out.cells == asked.sum()
    assert out.median_known_m == pytest.approx(np.nanmedian(arrival.known_to_m), rel=1e-3)


def test_a_day_atlas_and_pairs_say_the_same(make_dem: MakeDem) -> None:
    ground = cone(200, (90, 140), 600.0, 0.3)
    dem = make_dem(np.maximum(ground, 20.0 + 0.1 * np.arange(200)))
    summits = find_summits(dem, min_prominence_m=150.0)
    day = day_atlas(dem, SPRING, summits=summits, until_deg=12.0)
    assert day.known_to_m is day.arrival.known_to_m
    np.testing.assert_array_equal(day.beyond_height_m(), day.arrival.beyond_height_m())
    pairs = backlit_pairs(dem, summits, SPRING, limits=Limits(min_distance_m=1500.0))
    assert len(pairs)
    for pair in pairs.itertuples():
        row, col = dem.grid.cell_of(pair.lon_deg, pair.lat_deg)
        assert pair.known_to_m == pytest.approx(float(day.known_to_m[row, col]), rel=0.02)
        beyond = float(day.beyond_height_m()[row, col])
        assert pair.beyond_height_m == pytest.approx(beyond, rel=0.05)
    assert pairs.attrs["left_out"].highest_m == day.left_out().highest_m
    for out in (pairs.attrs["left_out"], day.left_out()):
        assert 0.0 <= out.open_share <= 1.0
