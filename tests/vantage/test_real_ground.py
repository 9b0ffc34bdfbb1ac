"""The main job on real ground: every claim of every row, worked out again by the slow twin."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer, NoSun
from terrain.ground.dem import Dem
from terrain.ground.geodesy import destination
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from terrain.view.backlight import Backlight, backlight, check_backlight
from terrain.view.look import look
from terrain.view.scene import Scene
from tests.twin import GEOD, Appearance, Ground, appearance, nearest

COUNT = 5
# hills on the skyline, whatever they show of the mist: these are the claims about the sun
LIMITS = Limits(mist_share=0.0, against="sky")
EYE_M = 1.7


@dataclass(frozen=True)
class Job:
    """One hill, mist and morning, the answer, and the ground of the twin."""

    dem: Dem
    hill: Hill
    day: dt.date
    mist_top_m: float

    @cached_property
    def table(self) -> gpd.GeoDataFrame:
        mist = level_mist(self.dem, self.mist_top_m)
        return find_vantages(
            self.dem, self.hill, day=self.day, mist=mist, count=COUNT, limits=LIMITS
        )

    @cached_property
    def ground(self) -> Ground:
        return Ground.of(self.dem, self.mist_top_m)

    @cached_property
    def twins(self) -> list[Appearance | None]:
        return [
            first_seen(self.ground, row.lon_deg, row.lat_deg, self.day, row.appears)
            for row in self.table.itertuples()
        ]

    def owns(self, place: tuple[float, float]) -> bool:
        return owns(self.ground, self.hill, place)


def owns(ground: Ground, hill: Hill, place: tuple[float, float]) -> bool:
    summit = ground.cell(hill.lon_deg, hill.lat_deg)
    return ground.owns(summit, ground.cell(*place), hill.min_prominence_m)


def first_seen(
    ground: Ground, lon: float, lat: float, day: dt.date, claimed: dt.datetime
) -> Appearance | None:
    midnight = dt.datetime.combine(day, dt.time(), tzinfo=claimed.tzinfo)
    return appearance(ground, lon, lat, EYE_M, midnight, claimed + dt.timedelta(minutes=10))


def jacksboro_job(file: Path) -> Job:
    dem = read_dem(file)
    return Job(dem, hill_at(dem, -84.25583, 36.52333), dt.date(2026, 3, 20), 450.0)


def lakeland_job(folder: Path) -> Job:
    middle = Spot(lon_deg=-3.21, lat_deg=54.45)
    dem = read_dem(folder / "lakeland_50m.tif", around=middle, reach_m=14_000.0)
    return Job(dem, hill_at(dem, -3.21191, 54.45433), dt.date(2026, 2, 22), 250.0)


def srtm_job(folder: Path) -> Job:
    tiles = [folder / f"{tile}.hgt.zip" for tile in ("N49E011", "N50E011")]
    # both tiles have a part in it: they meet at 50 degrees north
    middle = Spot(lon_deg=11.82, lat_deg=50.02)
    dem = read_dem(tiles, around=middle, reach_m=14_000.0)
    return Job(dem, hill_at(dem, 11.85333, 50.05167), dt.date(2026, 2, 22), 560.0)


MAKERS = {"jacksboro": jacksboro_job, "lakeland": lakeland_job, "srtm": srtm_job}


@pytest.fixture(scope="module", params=list(MAKERS))
def job(request: pytest.FixtureRequest) -> Job:
    source = "jacksboro_file" if request.param == "jacksboro" else "open_data"
    return MAKERS[request.param](request.getfixturevalue(source))


def test_there_is_something_to_check(job: Job) -> None:
    assert len(job.table) >= 4
    assert job.table["rank"].tolist() == list(range(1, len(job.table) + 1))


def test_sees_the_summit_of_a_hill_on_the_skyline(job: Job) -> None:
    for row in job.table.itertuples():
        place = (row.lon_deg, row.lat_deg, EYE_M)
        azimuth, altitude, distance, before = job.ground.toward(
            *place, (job.hill.lon_deg, job.hill.lat_deg), job.hill.height_m
        )
        assert row.azimuth_deg == pytest.approx(azimuth, abs=0.01)
        assert row.distance_m == pytest.approx(distance, abs=0.1)
        # the ground at the eye is bilinear on another lattice: as far off as rasters are
        lattice_deg = np.degrees(5.0 / distance)
        assert row.altitude_deg == pytest.approx(altitude, abs=lattice_deg)
        assert before <= altitude
        highest, away_m = job.ground.skyline(*place, [azimuth])
        assert highest[0] == pytest.approx(altitude, abs=lattice_deg)
        lon, lat, _ = GEOD.fwd(row.lon_deg, row.lat_deg, azimuth, away_m[0])
        assert job.owns((lon, lat))


def test_stands_above_the_mist_on_ground_to_stand_on(job: Job) -> None:
    limits = Limits()
    for row in job.table.itertuples():
        height = float(job.ground.heights_at([row.lon_deg], [row.lat_deg], bare=True)[0])
        assert row.height_m == pytest.approx(height, abs=6.0)
        assert row.freeboard_m == pytest.approx(height - job.mist_top_m, abs=6.0)
        assert height - job.mist_top_m >= limits.freeboard_m
        assert not job.ground.misty[job.ground.cell(row.lon_deg, row.lat_deg)]
        assert row.slope_deg <= limits.max_slope_deg


def test_sun_first_appears_at_the_stated_offset(job: Job) -> None:
    for row, twin in zip(job.table.itertuples(), job.twins, strict=True):
        assert twin is not None
        if row.best == "contact":
            assert job.owns(twin.place)
        aside = (twin.azimuth_deg - row.azimuth_deg + 180.0) % 360.0 - 180.0
        offset = aside * np.cos(np.radians(twin.altitude_deg))
        assert row.offset_deg == pytest.approx(offset, abs=row.uncertainty_deg + 0.03)


def test_sun_passes_the_summit_as_near_as_is_stated(job: Job) -> None:
    for row in job.table.itertuples():
        place, toward = (row.lon_deg, row.lat_deg, EYE_M), (row.azimuth_deg, row.altitude_deg)
        begin_s = row.appears.timestamp() - 600.0
        apart = nearest(job.ground, place, toward, begin_s, row.best_at.timestamp() + 1800.0)
        if row.best == "passage":
            assert row.best_deg == pytest.approx(apart, abs=0.1)
        assert min(apart, row.best_deg) <= Limits().tolerance_deg + row.uncertainty_deg


def test_sun_appears_at_the_stated_time(job: Job) -> None:
    off_s = np.array(
        [
            twin.unix_s - row.appears.timestamp()
            for row, twin in zip(job.table.itertuples(), job.twins, strict=True)
            if twin is not None
        ]
    )
    assert off_s.size == len(job.table)
    assert np.median(np.abs(off_s)) <= 15.0
    assert (np.abs(off_s) <= np.maximum(60.0, 3.0 * job.table["uncertainty_s"])).all()


def test_a_row_is_what_a_look_from_there_finds(job: Job) -> None:
    mist = level_mist(job.dem, job.mist_top_m)
    row = job.table.iloc[0]
    spot = Spot(lon_deg=row.lon_deg, lat_deg=row.lat_deg)
    answer = check_backlight(job.dem, spot, job.hill, job.day, mist=mist)
    assert answer.within(LIMITS.tolerance_deg)
    assert answer.view.visible
    assert answer.contact.appears == row.appears
    assert (answer.offset_deg, answer.uncertainty_deg) == (row.offset_deg, row.uncertainty_deg)
    assert answer.view.clearance_m == row.clearance_m >= Limits().clearance_m


def test_limits_are_kept_and_the_answer_is_the_same_again(job: Job) -> None:
    limits = replace(
        LIMITS, apart_m=1000.0, tolerance_deg=0.6, max_distance_m=9000.0, max_slope_deg=20.0
    )
    mist = level_mist(job.dem, job.mist_top_m)
    starts = [
        Spot(lon_deg=lon, lat_deg=lat, name=name)
        for name, (lon, lat) in zip("ab", (job.dem.grid.centre_lonlat,) * 2, strict=True)
    ]
    first, again = (
        find_vantages(
            job.dem, job.hill, day=job.day, mist=mist, count=3, limits=limits, starts=starts
        )
        for _ in range(2)
    )
    pd.testing.assert_frame_equal(pd.DataFrame(first), pd.DataFrame(again))
    assert 1 <= len(first) <= 3
    assert (first["best_deg"] <= 0.6).all()
    assert (first["distance_m"] <= 9000.0 * 1.002).all()
    assert (first["slope_deg"] <= 20.0).all()
    assert (first["start"] == "a").all()
    assert first["score"].is_monotonic_decreasing
    for i, one in enumerate(first.itertuples()):
        for other in list(first.itertuples())[:i]:
            away = GEOD.inv(one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg)[2]
            assert away >= 1000.0 * 0.998


def spots_about(job: Job) -> list[Backlight]:
    """Looks from spots drawn about where the rising sun stands over the hill, and far from it."""
    rng = np.random.default_rng(8)
    scene = Scene(Country(job.dem), job.hill)
    row = job.table.iloc[0]
    found: list[Backlight] = []
    while len(found) < 4:
        spread = 4.0 if len(found) % 2 else 30.0
        back = row.azimuth_deg + 180.0 + rng.normal(0.0, spread)
        at = destination(job.hill.lon_deg, job.hill.lat_deg, back, rng.uniform(1500.0, 9000.0))
        lon, lat = map(float, at)
        if np.isnan(job.dem.heights_at(lon, lat)):
            continue
        try:
            spot = Spot(lon_deg=lon, lat_deg=lat)
            answer = backlight(scene, look(scene, spot), job.day)
        except (NoSun, NoAnswer):
            continue
        # the crest at one's feet is another on another lattice: only farther ones are compared
        if answer.contact.distance_m >= 10.0 * job.dem.cell_m:
            found.append(answer)
    return found


def test_any_spot_behind_or_not(job: Job) -> None:
    ground = Ground.of(job.dem)
    answers = spots_about(job)
    off_s = []
    for answer in answers:
        spot, contact, view = answer.view.spot, answer.contact, answer.view
        twin = first_seen(ground, spot.lon_deg, spot.lat_deg, job.day, contact.appears)
        assert twin is not None, answer.reason
        if twin.distance_m < 10.0 * job.dem.cell_m:
            continue
        off_s.append(abs(twin.unix_s - contact.appears.timestamp()))
        assert off_s[-1] <= max(60.0, 3.0 * contact.uncertainty_s), answer.reason
        if answer.behind:
            assert owns(ground, job.hill, twin.place), answer.reason
        if not view.visible and view.clearance_m < -10.0:
            _, altitude, _, before = ground.toward(
                spot.lon_deg,
                spot.lat_deg,
                spot.eye_m,
                (job.hill.lon_deg, job.hill.lat_deg),
                job.hill.height_m,
            )
            assert before > altitude
    assert len(off_s) >= 3
    assert np.median(off_s) <= 15.0
    assert not all(answer.behind for answer in answers)
