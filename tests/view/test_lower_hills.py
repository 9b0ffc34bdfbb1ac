"""A lower hill seen from a higher one, with the sun coming up over far ground behind it.

The summit makes no skyline there, and yet it is the picture: a hill out of mist seen from above.
The dates of a year are held against the slow twin, which knows none of the rooms.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.ground.dem import Dem
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.view.dates import backlit_dates
from tests.twin import GEOD, Ground, Sky, appearance

YEAR = 2026
EYE_M = 1.7
NEAR_DEG = 0.4


def day_of(unix_s: float) -> dt.date:
    return dt.datetime.fromtimestamp(unix_s, dt.UTC).date()


@dataclass(frozen=True)
class Pair:
    """A higher summit and a lower one toward the sunrise, as a list of summits has them."""

    dem: Dem
    ground: Ground
    high: tuple[float, float]
    hill: Hill

    @cached_property
    def toward(self) -> tuple[float, float, float, float]:
        """Azimuth, altitude and distance of the lower one, and the highest ground before it."""
        low = self.hill.lon_deg, self.hill.lat_deg
        return self.ground.toward(*self.high, EYE_M, low, self.hill.height_m)

    @property
    def is_seen(self) -> bool:
        return self.toward[3] < self.toward[1] - 0.1

    @cached_property
    def skyline_deg(self) -> float:
        """Altitude of the ground that the sun comes up over above the lower summit."""
        altitude, _ = self.ground.skyline(*self.high, EYE_M, [self.toward[0]])
        return float(altitude[0])

    def passes(self) -> dict[dt.date, dt.datetime]:
        """When the sun leaves the skyline over the lower summit, on days when it comes near it."""
        first = dt.datetime(YEAR, 1, 1, tzinfo=dt.UTC)
        clock = np.arange(3.0, 11.0, 1.0 / 12.0) * 3600.0
        times = (first.timestamp() + 86400.0 * np.arange(365.0)[:, np.newaxis] + clock).ravel()
        azimuth, altitude, _ = self.sky.true(times)
        aside = np.abs((azimuth - self.toward[0] + 180.0) % 360.0 - 180.0)
        over = np.abs(altitude - self.skyline_deg)
        days = {day_of(at) for at in times[(aside < 1.0) & (over < 1.5)]}
        last = {day_of(at): at for at in times[(aside < 2.0) & (over < 2.0)]}
        return {day: dt.datetime.fromtimestamp(last[day], dt.UTC) for day in sorted(days)}

    @property
    def sky(self) -> Sky:
        height = float(self.ground.heights_at(*([v] for v in self.high), bare=True)[0])
        return Sky(*self.high, height + EYE_M)

    def aligned(self) -> list[dt.date]:
        """The days on which the twin has the sun appear near the lower summit's azimuth."""
        return [day for day, last in self.passes().items() if self._is_aligned(day, last)]

    def _is_aligned(self, day: dt.date, last: dt.datetime) -> bool:
        midnight = dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC)
        seen = appearance(self.ground, *self.high, EYE_M, midnight, last)
        if seen is None:
            return False
        return abs((seen.azimuth_deg - self.toward[0] + 180.0) % 360.0 - 180.0) <= NEAR_DEG


@pytest.fixture(scope="module")
def pair(open_data: Path) -> Pair:
    """The first summit of which another is 60 to 300 m lower, 0.7 to 2.5 km off, and seen."""
    dem = read_dem(open_data / "lakeland_50m.tif")
    listed, ground = pd.read_csv(open_data / "lakeland_summits.csv"), Ground.of(dem)
    lon, lat, height = (listed[name] for name in ("longitude", "latitude", "height_m"))
    for high in listed.itertuples():
        at = np.full(len(listed), high.longitude), np.full(len(listed), high.latitude)
        azimuth, _, away_m = GEOD.inv(*at, lon, lat)
        lower = (high.height_m - height).between(60.0, 300.0)
        lower &= (away_m >= 700.0) & (away_m <= 2500.0)
        lower &= (azimuth % 360.0 >= 60.0) & (azimuth % 360.0 <= 125.0)
        for low in listed[lower].itertuples():
            hill = hill_at(dem, low.longitude, low.latitude)
            pair = Pair(dem, ground, (high.longitude, high.latitude), hill)
            if pair.is_seen:
                return pair
    pytest.fail("no summit sees a lower one")


@pytest.mark.slow
def test_every_day_that_the_twin_has_is_among_the_dates(pair: Pair) -> None:
    lon, lat = pair.high
    spot = Spot(lon_deg=lon, lat_deg=lat, eye_m=EYE_M)
    found = backlit_dates(Country(pair.dem), spot, pair.hill, YEAR)
    rows = found.set_index("day")
    expected = pair.aligned()
    assert len(expected) >= 2
    assert set(expected) <= set(rows.index)
    behind = rows.loc[expected, "backdrop"]
    # the ground that makes the skyline stands behind the summit where it is over it
    assert pair.skyline_deg > pair.toward[1] + 0.1
    assert set(behind) <= {"ground"}
    assert (rows.loc[expected, "backdrop_m"] > pair.toward[2]).all()
