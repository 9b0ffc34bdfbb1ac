from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from terrain.errors import NoGround, NoSun, TerrainError
from terrain.ground.dem import Dem
from terrain.ground.geodesy import drop_m
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.light import sweeps as first_light
from terrain.light.arrival import Arrival
from terrain.light.colour import warm_light
from terrain.light.day import light_arrival
from terrain.light.field import sun_field
from terrain.mist.level import level_mist
from terrain.sight.skyline import skyline
from terrain.sun.path import sun_path
from terrain.sun.refraction import refract
from terrain.view.contact import sun_contact
from terrain.view.touch import first_touch
from tests.twin import Ground, appearance

MakeDem = Callable[..., Dem]

SPRING = dt.date(2025, 3, 21)
MORNING_DEG = np.arange(35.0, 230.0, 0.05)
DEMO = Path(__file__).parents[2] / "data" / "upland.tif"


def place(dem: Dem, row: int, col: int) -> tuple[float, float]:
    lon, lat = dem.grid.lonlat(row, col)
    return float(lon), float(lat)


def passes(
    dem: Dem, row: int, col: int, day: dt.date, ground: Callable[[float], float], limb: float = 1.0
) -> dt.datetime:
    """When a part of the disc passes what a function of the grid azimuth gives, over one cell.

    The disc is as wide as the limb's offset: all of its rim is looked at, point by point.
    """
    lon, lat = place(dem, row, col)
    height = float(dem.heights_m[row, col])
    path = sun_path(day, lon_deg=lon, lat_deg=lat, height_m=height)
    aside = np.linspace(-1.0, 1.0, 41) if limb > 0.0 else np.zeros(1)

    def over(t_s: float) -> float:
        azimuth, true = path.true_at(t_s)
        up = limb * path.semidiameter_deg * np.sqrt(1.0 - aside**2)
        rim = refract(
            np.clip(true + up, -90.0, 90.0),
            pressure_hpa=path.pressure_hpa,
            temperature_c=path.temperature_c,
        )
        turned = azimuth + path.semidiameter_deg * aside / np.cos(np.radians(true))
        on_grid = dem.grid.grid_azimuth_deg(turned, lon, lat)
        return float(max(r - ground(float(g)) for r, g in zip(rim, on_grid, strict=True)))

    times = np.arange(0.0, path.length_s, 600.0)
    values = [over(t) for t in times]
    first = next(i for i in range(1, len(values)) if values[i - 1] < 0.0 <= values[i])
    return path.time(brentq(over, times[first - 1], times[first], xtol=0.05))


def off_s(arrival: Arrival, cell: tuple[int, int], moment: dt.datetime) -> float:
    return float(arrival.arrives_s[cell]) - arrival.seconds(moment)


@pytest.mark.parametrize(
    ("lon", "lat"), [(-24.0, 54.4), (-70.0, -45.0), (-25.0, 0.3), (20.0, 66.0)]
)
@pytest.mark.parametrize("limb", [1.0, 0.0, -1.0])
def test_a_plain_is_lit_at_the_level_sunrise_of_each_cell(
    make_dem: MakeDem, lon: float, lat: float, limb: float
) -> None:
    dem = make_dem(np.zeros((60, 60)), cell_m=1500.0, lon=lon, lat=lat)
    arrival = light_arrival(dem, SPRING, limb=limb)
    for cell in ((0, 0), (5, 55), (30, 30), (58, 2), (57, 57)):
        expected = passes(dem, *cell, SPRING, lambda azimuth: 0.0, limb)
        assert abs(off_s(arrival, cell, expected)) < 2.0
    # 90 km are over a degree: minutes from end to end
    assert np.nanmax(arrival.arrives_s) - np.nanmin(arrival.arrives_s) > 150.0


@pytest.mark.parametrize(("lon", "lat"), [(-24.0, 54.4), (-70.0, -45.0), (-25.0, 0.3)])
def test_the_shadow_of_a_wall_draws_in(make_dem: MakeDem, lon: float, lat: float) -> None:
    heights = np.zeros((401, 300))
    heights[:, 280:] = 400.0
    dem = make_dem(heights, cell_m=50.0, lon=lon, lat=lat)
    arrival = light_arrival(dem, SPRING)
    for cells_off in (10, 30, 60, 120, 200):
        cell = (200, 280 - cells_off)

        def top(azimuth: float, away_m: float = 50.0 * cells_off) -> float:
            along_m = away_m / max(math.sin(math.radians(azimuth)), 1e-3)
            return math.degrees(math.atan((400.0 - float(drop_m(along_m))) / along_m))

        expected = passes(dem, *cell, SPRING, top)
        assert abs(off_s(arrival, cell, expected)) < 5.0
    lit = arrival.arrives_s[200, 50:280]
    assert np.all(np.diff(lit) > 0.0)
    # higher ground beyond the raster would delay the sun, by the line over the wall's top
    beyond = float(arrival.beyond_height_m()[200, 150])
    assert beyond == pytest.approx(400.0 * 150 / 130, rel=0.05)


@pytest.mark.parametrize("ray_cells", [0.0, 1e9])
def test_over_an_edge_that_falls_to_the_right_the_right_rim_comes_first(
    make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch, ray_cells: float
) -> None:
    monkeypatch.setattr(first_light, "_RAY_CELLS", ray_cells)
    heights = np.zeros((120, 300))  # a wall that falls to the south by 58 degrees
    heights[:, 200:] = np.clip((70.0 - np.arange(120)) * 80.0, 0.0, 1500.0)[:, np.newaxis]
    dem = make_dem(heights, cell_m=50.0, lon=-3.0, lat=54.4)
    arrival = light_arrival(dem, SPRING)
    for row, col in ((35, 80), (40, 100), (45, 120)):
        lon, lat = place(dem, row, col)
        path = sun_path(SPRING, lon_deg=lon, lat_deg=lat, height_m=0.0)
        centre, true = path.true_at(float(arrival.arrives_s[row, col]))
        aside = (arrival.azimuth_deg[row, col] - float(centre)) * math.cos(math.radians(true))
        assert 0.4 * path.semidiameter_deg < aside < 1.02 * path.semidiameter_deg


def test_the_rim_that_looks_past_an_upright_edge_counts(
    make_dem: MakeDem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sun comes round the end of a wall that stands degrees above its middle.

    The twin looks at 240 points of the rim. The rays look at 0.87 semi-diameters aside at most,
    which takes the sun 10 seconds more, and the end of the wall is half a cell of the raster wide.
    """
    monkeypatch.setattr(first_light, "_RAY_CELLS", 0.0)
    heights = np.zeros((200, 260))
    heights[:100, 160:] = 1500.0
    dem = make_dem(heights, lon=-3.0, lat=54.4)
    arrival, ground = light_arrival(dem, SPRING), Ground.of(dem)
    for row, col in ((80, 60), (88, 60), (84, 90), (92, 90)):
        moment = arrival.at(*place(dem, row, col))
        until = moment + dt.timedelta(minutes=10)
        seen = appearance(ground, *place(dem, row, col), 0.0, arrival.since, until)
        assert seen is not None
        assert abs(moment.timestamp() - seen.unix_s) < 30.0


def test_the_height_of_the_tile_is_that_of_its_own_ground(make_dem: MakeDem) -> None:
    heights = np.linspace(1000.0, 1500.0, 400).reshape(20, 20)
    field = sun_field(make_dem(heights), SPRING)
    assert (field.low_m, field.span_m) == (1000.0, 500.0)


def test_a_cone_hides_the_sun_as_long_as_its_side_is_steep(make_dem: MakeDem) -> None:
    row, col = np.mgrid[-150:151, -150:151]
    slope = math.tan(math.radians(12.0))
    heights = np.maximum(1200.0 - np.hypot(row, col) * 50.0 * slope, 0.0)
    dem = make_dem(heights, cell_m=50.0)
    arrival = light_arrival(dem, SPRING)
    # on the side turned from the sun its own generator is the horizon
    lon, lat = place(dem, 150, 150)
    path = sun_path(SPRING, lon_deg=lon, lat_deg=lat, height_m=600.0)
    azimuth = float(np.interp(12.0, *reversed(path.at(np.arange(6.0, 11.0, 0.05) * 3600.0))))
    turned = math.radians(azimuth)
    cell = (150 + round(60 * math.cos(turned)), 150 - round(60 * math.sin(turned)))
    assert arrival.altitude_deg[cell] == pytest.approx(12.0, abs=0.2)
    # nothing stands before the side turned to it, but a plain that falls away as the earth does
    before = (150 - round(60 * math.cos(turned)), 150 + round(60 * math.sin(turned)))
    assert arrival.altitude_deg[before] < 0.0


def test_where_the_raster_ends_on_high_ground_the_earth_itself_hides_the_sun(
    make_dem: MakeDem,
) -> None:
    heights = np.tile(np.minimum((99 - np.arange(100)) * 100.0, 800.0), (40, 1))
    dem = make_dem(heights)
    arrival = light_arrival(dem, SPRING)
    cell = (20, 93)
    assert dem.heights_m[cell] == 600.0
    dip_deg = -math.degrees(math.sqrt(2.0 * 600.0 * 0.87 / 6_371_000.0))
    assert arrival.altitude_deg[cell] == pytest.approx(dip_deg, abs=1e-3)
    assert abs(off_s(arrival, cell, passes(dem, *cell, SPRING, lambda azimuth: dip_deg))) < 2.0


def check_against_contacts(
    dem: Dem, day: dt.date, count: int, seed: int, *, median_s: float, most_s: float
) -> None:
    arrival = light_arrival(dem, day)
    low = float(np.nanmin(dem.heights_m))
    rng, off = np.random.default_rng(seed), []
    while len(off) < count:
        cell = int(rng.integers(8, dem.shape[0] - 8)), int(rng.integers(8, dem.shape[1] - 8))
        lon, lat = place(dem, *cell)
        height = float(dem.heights_m[cell])
        try:
            spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=0.0)
            contact = first_touch(skyline(dem, spot, azimuths_deg=MORNING_DEG), day)
        except TerrainError:
            continue
        dip_deg = -math.degrees(math.sqrt(2.0 * (height - low) * 0.87 / 6_371_000.0))
        near = contact.distance_m < 5.0 * dem.cell_m
        # where the raster ends on high ground the skyline is that of nothing at all
        if near or contact.altitude_deg <= dip_deg:
            continue
        off.append(abs(off_s(arrival, cell, contact.appears)))
    assert np.median(off) < median_s
    assert np.percentile(off, 95) < most_s


@pytest.mark.parametrize("day", [SPRING, dt.date(2025, 6, 21), dt.date(2025, 12, 10)])
def test_agrees_with_the_whole_disc_over_skylines(jacksboro: Dem, day: dt.date) -> None:
    check_against_contacts(jacksboro, day, 10, day.month, median_s=5.0, most_s=60.0)


@pytest.mark.parametrize("day", [SPRING, dt.date(2025, 12, 10)])
def test_agrees_with_the_whole_disc_on_fells(fells: Dem, day: dt.date) -> None:
    check_against_contacts(fells, day, 10, day.month, median_s=15.0, most_s=75.0)


def test_agrees_with_a_sun_and_a_ground_of_another_make() -> None:
    """The slow twin: astropy's sun, point by point of its rim, over geodesics of half a cell."""
    whole = read_dem(DEMO)
    upland = Dem(whole.heights_m[200:480, 300:580], whole.grid.window(200, 300, (280, 280)))
    day = dt.date(2026, 10, 13)
    arrival, ground = light_arrival(upland, day), Ground.of(upland)
    low = float(np.nanmin(upland.heights_m))
    rng, off = np.random.default_rng(3), []
    while len(off) < 5:
        cell = int(rng.integers(20, 260)), int(rng.integers(20, 180))
        if not np.isfinite(arrival.arrives_s[cell]):
            continue
        moment = arrival.moment(arrival.arrives_s[cell])
        until = moment + dt.timedelta(minutes=10)
        seen = appearance(ground, *place(upland, *cell), 0.0, arrival.since, until)
        assert seen is not None
        dip_deg = -math.degrees(math.sqrt(2.0 * (upland.heights_m[cell] - low) * 0.87 / 6_371_000))
        # nearer than five cells the ground between the cells decides; see the module
        if seen.distance_m > 5.0 * upland.cell_m and seen.altitude_deg > dip_deg:
            off.append(abs(moment.timestamp() - seen.unix_s))
    assert np.median(off) < 10.0
    assert np.percentile(off, 85) < 60.0


def test_clock_times_are_whole_steps_about_the_light(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 120))
    heights[:, 100:] = 400.0
    arrival = light_arrival(make_dem(heights), SPRING)
    times = arrival.clock_times(7.0)
    first, last = float(np.nanmin(arrival.arrives_s)), float(np.nanmax(arrival.arrives_s))
    assert arrival.seconds(times[0]) <= first < arrival.seconds(times[1])
    assert arrival.seconds(times[-2]) < last
    assert {(b - a).total_seconds() for a, b in itertools.pairwise(times)} == {420.0}
    assert all(arrival.seconds(time) % 420.0 == 0.0 for time in times)
    whole = arrival.clock_times(7.0, share=1.0)
    assert whole[: len(times)] == times
    assert arrival.seconds(whole[-2]) < last <= arrival.seconds(whole[-1])
    near = np.zeros(heights.shape, dtype=bool)
    near[:, 90:100] = True
    assert arrival.clock_times(7.0, cells=near)[0] > times[0]
    assert arrival.clock_times(7.0, cells=np.zeros(heights.shape, dtype=bool)) == []
    with pytest.raises(TerrainError, match="steps of 0 minutes"):
        arrival.clock_times(0)


def test_sweeps_and_rays_agree(jacksboro: Dem, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(first_light, "_RAY_CELLS", 1e9)
    swept = light_arrival(jacksboro, SPRING)
    monkeypatch.setattr(first_light, "_RAY_CELLS", 0.0)
    cast = light_arrival(jacksboro, SPRING)
    assert np.array_equal(np.isnan(swept.arrives_s), np.isnan(cast.arrives_s)) or (
        np.mean(np.isnan(swept.arrives_s) != np.isnan(cast.arrives_s)) < 1e-3
    )
    apart = np.abs(swept.arrives_s - cast.arrives_s)
    assert np.nanmax(apart) > 0.0
    assert np.nanmedian(apart) < 2.0
    assert np.nanpercentile(apart, 95) < 30.0


def test_any_part_comes_before_half_and_half_before_all(jacksboro: Dem) -> None:
    window = Dem(jacksboro.heights_m[:150, :150], jacksboro.grid.window(0, 0, (150, 150)))
    first, half, whole = (light_arrival(window, SPRING, limb=limb) for limb in (1.0, 0.0, -1.0))
    known = np.isfinite(first.arrives_s + half.arrives_s + whole.arrives_s)
    assert known.mean() > 0.9
    assert np.mean((first.arrives_s <= half.arrives_s + 3.0)[known]) > 0.998
    assert np.mean((half.arrives_s <= whole.arrives_s + 3.0)[known]) > 0.998
    # the disc takes about 80 s to climb its own half at this latitude, and longer aslant
    assert 50.0 < np.median((half.arrives_s - first.arrives_s)[known]) < 140.0


def test_polar_night_and_polar_day(make_dem: MakeDem) -> None:
    flat = make_dem(np.zeros((20, 20)), lon=20.0, lat=75.0)
    with pytest.raises(NoSun, match="does not rise over this ground on 2025-12-21"):
        light_arrival(flat, dt.date(2025, 12, 21))
    with pytest.raises(NoSun, match="does not set over this ground on 2025-06-21"):
        light_arrival(flat, dt.date(2025, 6, 21))


def test_a_wall_has_a_morning_even_on_a_polar_day(make_dem: MakeDem) -> None:
    heights = np.zeros((200, 40))
    heights[:10] = 900.0  # in the north, where the sun is lowest
    dem = make_dem(heights, lon=20.0, lat=75.0)
    arrival = light_arrival(dem, dt.date(2025, 6, 21))
    near, far = (30, 20), (190, 20)
    assert np.isneginf(arrival.arrives_s[far])
    assert np.isfinite(arrival.arrives_s[near])
    assert arrival.lit(arrival.since)[far]
    assert not arrival.lit(arrival.since)[near]
    with pytest.raises(NoSun, match="up all night"):
        arrival.at(*place(dem, *far))


def test_mist_is_lit_before_the_valley_under_it(make_dem: MakeDem) -> None:
    col = np.arange(200)
    heights = np.tile(np.abs(col - 100) * 6.0, (80, 1))
    dem = make_dem(heights)
    mist = level_mist(dem, 200.0)
    bare, misty = light_arrival(dem, SPRING), light_arrival(dem, SPRING, mist=mist)
    covered = mist.covers & np.isfinite(bare.arrives_s)
    covered[:20] = covered[45:] = False  # there the way to the sun leaves the raster
    later = bare.arrives_s[covered] - misty.arrives_s[covered]
    assert later.min() > 0.0
    assert np.median(later) > 200.0
    # the bed of the valley lies 200 m under the mist, behind a side of 6.8 degrees
    assert bare.arrives_s[40, 95] - misty.arrives_s[40, 95] > 300.0


def test_share_of_a_valley(make_dem: MakeDem) -> None:
    heights = np.zeros((30, 120))
    heights[:, 100:] = 300.0
    heights[:, :5] = np.nan
    dem = make_dem(heights)
    arrival = light_arrival(dem, SPRING)
    valley = np.zeros(dem.shape, dtype=bool)
    valley[:, :100] = True
    times = [arrival.since + dt.timedelta(minutes=minutes) for minutes in range(0, 24 * 60, 15)]
    share = arrival.share_lit(valley, times)
    assert share[0] == 0.0
    assert share[-1] == 1.0
    assert np.all(np.diff(share) >= 0.0)
    noon = times[48]
    counted = valley & arrival.is_known
    assert share[48] == pytest.approx((arrival.lit(noon) & counted).sum() / counted.sum())
    some = times[int(np.searchsorted(share, 0.3))]
    assert 0.0 < arrival.share_lit(valley, [some])[0] < 1.0
    assert np.isnan(arrival.share_lit(np.isnan(heights), times)).all()
    with pytest.raises(ValueError, match="a mask of shape"):
        arrival.share_lit(valley[1:], times)


def test_edges_part_the_lit_from_the_rest(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 200))
    heights[:, 180:] = 500.0
    dem = make_dem(heights)
    arrival = light_arrival(dem, SPRING)
    row, col = 30, 100
    time = arrival.at(*place(dem, row, col))
    edges = arrival.edges([time, time - dt.timedelta(hours=12)])
    assert list(edges["time"]) == [time]
    rows, cols = dem.grid.rowcol(*edges.get_coordinates().to_numpy().T)
    assert np.min(np.hypot(rows - row, cols - col)) < 0.05
    # one across the plain, and one at the foot of the wall, whose top is lit first of all
    assert edges["length_m"].iloc[0] > 2 * 58 * 50.0


def test_at_says_why_not(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 90))
    heights[20, 40] = np.nan
    heights[30:34, 30:60] = 2000.0  # a wall to the south hides the December sun all day
    dem = make_dem(heights)
    arrival = light_arrival(dem, dt.date(2025, 12, 21))
    with pytest.raises(NoGround, match="is unknown: choose"):
        arrival.at(*place(dem, 20, 40))
    with pytest.raises(NoSun, match="the ground hides it all day"):
        arrival.at(*place(dem, 29, 45))
    with pytest.raises(NoGround, match=r"toward azimuth 1[23]\d.\d is unknown"):
        arrival.at(*place(dem, 59, 89))
    with pytest.raises(NoGround, match="no ground at"):
        arrival.at(0.0, 0.0)
    with pytest.raises(ValueError, match="has no time zone"):
        arrival.lit(dt.datetime(2025, 12, 21, 12))
    with pytest.raises(ValueError, match="not on the disc"):
        light_arrival(dem, SPRING, limb=1.5)
    with pytest.raises(NoGround, match="no ground of the raster is known"):
        light_arrival(make_dem(np.full((4, 4), np.nan)), SPRING)


def test_unknown_ground_and_bands_tell_the_cells_apart(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 90))
    heights[20, 40] = np.nan
    heights[30:34, 30:60] = 2000.0
    dem = make_dem(heights)
    arrival = light_arrival(dem, dt.date(2025, 12, 21))
    first, hours, azimuth, altitude, state = arrival.bands().values()
    counts = {int(kind): int((state == kind).sum()) for kind in np.unique(state[state == state])}
    assert np.isnan(state).sum() == 1
    assert counts[0] == np.isfinite(arrival.arrives_s).sum()
    assert counts[2] > 0
    area_km2, share = arrival.unknown()
    assert area_km2 == pytest.approx(counts[3] * dem.cell_m**2 / 1e6)
    assert share == pytest.approx(counts[3] / (heights.size - 1))
    came = np.isfinite(first)
    assert (came == np.isfinite(azimuth)).all()
    assert (came == np.isfinite(altitude)).all()
    moment = arrival.moment(first[came][0]).astimezone(dt.UTC)
    midnight = dt.datetime(2025, 12, 21, tzinfo=dt.UTC)
    assert hours[came][0] == pytest.approx((moment - midnight).total_seconds() / 3600.0)


def test_a_sun_beyond_noon_still_counts(make_dem: MakeDem) -> None:
    heights = np.zeros((60, 60))
    heights[30:60, 35:] = 1500.0
    heights[20:31, 31:] = 1500.0
    heights[45:, 20:] = 1500.0
    dem = make_dem(heights)
    arrival = light_arrival(dem, SPRING)
    moment = arrival.at(*place(dem, 35, 30))
    assert moment.hour >= 13
    assert 200.0 < arrival.azimuth_deg[35, 30] < 290.0


def test_warm_light(make_dem: MakeDem) -> None:
    heights = np.zeros((40, 300))
    heights[:, 260:] = 300.0
    dem = make_dem(heights)
    lon, lat = place(dem, 20, 100)
    spot = Spot(lon_deg=lon, lat_deg=lat)
    contact = sun_contact(skyline(dem, spot), SPRING)
    light = warm_light(contact, spot)
    path = sun_path(SPRING, lon_deg=lon, lat_deg=lat)
    assert light.begins == contact.appears
    assert light.ends is not None
    assert light.length == light.ends - light.begins
    assert float(path.true_at(path.seconds(light.ends))[1]) == pytest.approx(6.0, abs=0.01)
    assert light.twilight.sunrise - light.colour_begins == dt.timedelta(minutes=15)
    names = [name for name, _ in light.stages()]
    assert names.index("civil dawn") < names.index("sunrise") < names.index("sun appears")
    assert names[-1] == "warm light ends"
    near = Spot(lon_deg=place(dem, 20, 245)[0], lat_deg=lat)
    late = warm_light(sun_contact(skyline(dem, near), SPRING), near)
    assert late.length == dt.timedelta(0)
    assert [name for name, _ in late.stages()][-1] == "sun appears"


def test_the_bed_of_a_deep_sea_leaves_the_morning_of_the_land_as_it_is(make_dem: MakeDem) -> None:
    row, col = np.mgrid[:120, :120] * 100.0
    away = np.hypot(row - 6000.0, col - 6000.0)
    hill = 900.0 * np.exp(-((away / 1500.0) ** 2))
    shelf = np.clip((away - 3500.0) / 2500.0, 0.0, 1.0)
    shallow, deep = (
        light_arrival(make_dem(hill + bed * shelf, cell_m=100.0), dt.date(2026, 3, 22)).arrives_s
        for bed in (-400.0, -10_900.0)
    )
    # behind the hill the sun comes over land
    behind = (away < 2000.0) & (col < 5000.0) & (np.abs(row - 6000.0) < 1500.0)
    assert behind.sum() > 100
    off_s = np.abs(deep[behind] - shallow[behind])
    assert np.median(off_s) < 1.0
    assert off_s.max() < 15.0
