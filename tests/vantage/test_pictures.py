"""What the first three rows of twenty hills show, by the slow twin: mist, foot, sun's moment.

Half of the hills are left to the slow tests.

The twin (`tests.twin`) looks for itself: how much of the frame is mist, where mist ends below the
summit, how near to it the sun passes while any of it shows.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from _pytest.mark import ParameterSet

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from tests.twin import GEOD, Ground, mist_share, nearest, sea_deg

EYE_M = 1.7
REACH_M = 14_000.0
LIMITS = Limits(max_distance_m=12_000.0)

# longitude and latitude
LAKELAND = {
    "Great Cockup": (-3.12893, 54.6897),
    "Dodd": (-3.17237, 54.63581),
    "Lingmoor Fell": (-3.07635, 54.43179),
    "Cat Bells": (-3.17043, 54.56843),
    "Loughrigg Fell": (-3.0079, 54.43778),
    "Black Fell": (-3.0179, 54.40579),
    "Great Mell Fell": (-2.93573, 54.6199),
    "Hallin Fell": (-2.87813, 54.57),
    "Little Mell Fell": (-2.89443, 54.60808),
    "Wansfell": (-2.92156, 54.43802),
}
DEMO = {
    "Nubrath": (-23.95169, 54.43907),
    "Bravennor": (-23.95045, 54.35751),
    "Orrasel": (-23.98002, 54.39387),
    "Pellisk": (-23.98087, 54.36306),
    "Ombrith": (-23.93797, 54.41446),
    "527 m": (-23.94864, 54.44499),
    "496 m": (-23.96477, 54.3693),
    "496 m in the south": (-23.93407, 54.35993),
    "Lunnarel": (-23.96594, 54.42816),
    "472 m": (-23.92344, 54.42695),
}


def every_other_quick(names: Iterable[str]) -> list[ParameterSet]:
    """Every second name runs with the slow tests."""
    marks = cycle([(), (pytest.mark.slow,)])
    return [pytest.param(name, marks=mark) for name, mark in zip(names, marks, strict=False)]


@pytest.mark.parametrize("name", every_other_quick(LAKELAND))
def test_hills_of_lakeland(open_data: Path, name: str) -> None:
    lon, lat = LAKELAND[name]
    around = Spot(lon_deg=lon, lat_deg=lat)
    dem = read_dem(open_data / "lakeland_50m.tif", around=around, reach_m=REACH_M)
    hold(dem, (lon, lat), dt.date(2026, 10, 11), 200.0)


@pytest.mark.parametrize("name", every_other_quick(DEMO))
def test_hills_of_the_demo(name: str) -> None:
    dem = read_dem(Path(__file__).parents[2] / "data" / "upland.tif")
    # of Lunnarel nothing shows over mist in October
    day = dt.date(2026, 9, 20) if name == "Lunnarel" else dt.date(2026, 10, 13)
    hold(dem, DEMO[name], day, 280.0)


def hold(dem: Dem, place: tuple[float, float], day: dt.date, top_m: float) -> None:
    hill, mist = hill_at(dem, *place), level_mist(dem, top_m)
    found = find_vantages(dem, hill, day=day, mist=mist, count=3, limits=LIMITS)
    assert len(found)
    assert found["score"].is_monotonic_decreasing
    ground = Ground.of(dem, top_m)
    for row in found.itertuples():
        eye = (row.lon_deg, row.lat_deg, EYE_M)
        azimuth, altitude, _, before = ground.toward(*eye, place, hill.height_m)
        assert before <= altitude + 0.02
        share = mist_share(ground, eye, (azimuth, altitude), 8.0)
        assert share >= LIMITS.mist_share - 0.02
        assert share == pytest.approx(row.mist_share, abs=0.08)
        passes_near(ground, eye, (azimuth, altitude), row)
        stands_by(ground, eye, (azimuth, altitude), row)
        if not np.isnan(row.over_mist_deg):
            # the nearest shore may meet the hill well aside of the line to the summit
            shores = np.array(
                [
                    shore_deg(ground, eye, azimuth + turn, row.distance_m)
                    for turn in np.linspace(-8.0, 8.0, 17)
                ]
            )
            over = altitude - shores[shores > altitude - 8.0]
            assert over.min() - 1.0 <= row.over_mist_deg <= over.max() + 1.0


def passes_near(
    ground: Ground, eye: tuple[float, float, float], summit: tuple[float, float], row: Any
) -> None:
    """The sun, low, is as near to where the sky begins over the summit as the row says."""
    sky, _ = ground.skyline(*eye, [summit[0]])
    eye_height_m = float(ground.heights_at([eye[0]], [eye[1]], bare=True)[0]) + EYE_M
    over = summit[0], max(summit[1], float(sky[0]), sea_deg(eye_height_m))
    at_s = row.best_at.timestamp()
    apart = nearest(ground, eye, over, at_s - 900.0, at_s + 900.0)
    if row.best == "passage":
        assert row.best_deg == pytest.approx(apart, abs=0.1)
    # as it first shows its rim is on the ground, and its middle half a width under it
    assert min(apart, row.best_deg) <= LIMITS.tolerance_deg + 0.1


def stands_by(
    ground: Ground, eye: tuple[float, float, float], summit: tuple[float, float], row: Any
) -> None:
    """The sun is as far from the summit itself as is scored, and so is what lies behind."""
    if row.best == "passage":
        at_s = row.best_at.timestamp()
        apart = nearest(ground, eye, summit, at_s - 20.0, at_s + 20.0)
        assert row.sun_from_summit_deg == pytest.approx(apart, abs=0.15)
    assert row.togetherness == pytest.approx(np.interp(row.sun_from_summit_deg, [1, 5], [1, 0]))
    if row.backdrop != "ground":
        assert row.contrast == 1.0
    elif row.backdrop_m < ground.reach_m:
        altitude, away_m = ground.along(*eye, [summit[0]], ground.reach_m)
        beyond = away_m > row.distance_m + 4.0 * ground.cell_m
        # of lines a little under the summit and over it, as cells may tell the heights
        low, high = (
            1.0 - 0.02 ** ((away_m[beyond & (altitude[0] >= line)][0] - row.distance_m) / 30_000.0)
            if (beyond & (altitude[0] >= line)).any()
            else 1.0
            for line in (summit[1] - 0.1, summit[1] + 0.1)
        )
        assert low - 0.05 <= row.contrast <= high + 0.05


def shore_deg(
    ground: Ground, eye: tuple[float, float, float], azimuth_deg: float, distance_m: float
) -> float:
    """Altitude of the highest mist in view before the summit on the line to it."""
    altitude, away_m = ground.along(*eye, [azimuth_deg], distance_m)
    lon, lat, _ = GEOD.fwd(
        np.full(away_m.size, eye[0]),
        np.full(away_m.size, eye[1]),
        np.full(away_m.size, azimuth_deg),
        away_m,
    )
    row, col = (np.rint(part).astype(int) for part in ground.rowcol(lon, lat))
    seen = altitude[0] >= np.maximum.accumulate(altitude[0])
    return float(np.max(altitude[0][seen & ground.misty[row, col]], initial=-90.0))
