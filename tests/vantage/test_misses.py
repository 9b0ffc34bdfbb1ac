"""Where no day of a year answers, by how much the nearest misses, and what would be asked for it.

Strips of ground beside a cone, from which all places look one way.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import Any

import numpy as np
import pytest

from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.grid import Grid
from terrain.ground.places import Hill
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.search import near_on

OBLIQUITY_DEG = 23.44
"""Astronomical Almanac, mean obliquity of the ecliptic in the 2020s, to the hundredth."""

EQUINOX = dt.date(2026, 3, 25)
"""The sun rises behind the cone from the strip, as it stands 2.5 degrees high."""

LIMITS = Limits(min_distance_m=2000.0)


def cone_at_the_end(rows: int, cols: int) -> tuple[Dem, Hill]:
    """A cone of 300 m in the first cells of a strip that falls slightly away from it."""
    grid = Grid(crs=32628, transform=(100, 0, 5e5, 0, -100, 6e6), shape=(rows, cols))
    row, col = np.mgrid[:rows, :cols]
    at = (rows // 2, 8) if cols > rows else (8, cols // 2)
    away = np.hypot(row - at[0], col - at[1])
    dem = Dem(np.maximum(300.0 - 40.0 * away, 20.0 - 0.1 * away), grid)
    lon, lat = (float(part) for part in grid.lonlat(*at))
    return dem, hill_at(dem, lon, lat, name="Cone")


def test_a_hill_that_is_too_far_north_of_all_places_is_missed_by_what_the_sphere_says() -> None:
    dem, hill = cone_at_the_end(81, 5)
    with pytest.raises(NoAnswer, match="the closest misses by about") as caught:
        find_vantages(dem, hill, year=2026, limits=LIMITS)
    said = re.search(r"about ([\d.]+) degrees", str(caught.value))
    assert said is not None
    # by vectors: the pole from the direction of the cone, from any place that is far enough
    lat = math.radians(hill.lat_deg)
    pole = (math.cos(lat), 0.0, math.sin(lat))
    needs_deg = []
    for away_m in range(2000, 7300, 100):
        for aside_m in (0.0, 100.0, 200.0):
            aside, up = math.atan2(aside_m, away_m), math.atan2(280.0 + away_m / 1000.0, away_m)
            seen = (math.cos(up) * math.cos(aside), math.cos(up) * math.sin(aside), math.sin(up))
            needs_deg.append(90.0 - math.degrees(math.acos(np.dot(seen, pole))))
    assert float(said[1]) == pytest.approx(min(needs_deg) - OBLIQUITY_DEG, abs=0.3)
    assert caught.value.loosen == ()


def test_a_hill_that_all_places_see_in_the_west_is_one_for_the_evening() -> None:
    dem, hill = cone_at_the_end(5, 81)
    with pytest.raises(NoAnswer, match="all look toward the west") as caught:
        find_vantages(dem, hill, year=2026, limits=LIMITS)
    (loosen,) = caught.value.loosen
    assert loosen == {"evening": True}
    assert len(find_vantages(dem, hill, year=2026, limits=LIMITS, evening=True)) > 0
    with pytest.raises(NoAnswer, match="all look toward the east") as caught:
        find_vantages(*east_of_all(), year=2026, limits=LIMITS, evening=True)
    assert caught.value.loosen == ({"evening": False},)


def east_of_all() -> tuple[Dem, Hill]:
    dem, _ = cone_at_the_end(5, 81)
    turned = Dem(dem.heights_m[:, ::-1].copy(), dem.grid)
    lon, lat = (float(part) for part in dem.grid.lonlat(2, 72))
    return turned, hill_at(turned, lon, lat, name="Cone")


def test_a_span_misses_by_its_own_days_and_a_little_by_what_is_asked_for_it() -> None:
    dem, hill = east_of_all()
    # from the strip the sun is behind the cone about the equinoxes
    among = dt.date(2026, 4, 4), dt.date(2026, 4, 5)
    with pytest.raises(NoAnswer, match="misses by about") as caught:
        find_vantages(dem, hill, year=among, limits=Limits(tolerance_deg=0.2, min_distance_m=5e3))
    said = re.search(r"about ([\d.]+) degrees", str(caught.value))
    assert said is not None
    (loosen,) = caught.value.loosen
    assert float(said[1]) <= loosen["tolerance_deg"] <= float(said[1]) + 0.7


def test_no_looks_are_spent_on_the_sun_where_the_mist_in_the_frame_lacks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dem, hill = east_of_all()
    mist = level_mist(dem, 17.0)
    looked: list[float] = []

    def counted(*given: Any, **named: Any) -> Any:
        looked.append(given[3].tolerance_deg)
        return near_on(*given, **named)

    monkeypatch.setattr("terrain.vantage.search.near_on", counted)
    monkeypatch.setattr("terrain.vantage.nearest.near_on", counted)
    limits = Limits(min_distance_m=2000.0, freeboard_m=0.5, mist_share=0.9)
    with pytest.raises(NoAnswer, match="mist in 90% of the view") as caught:
        find_vantages(dem, hill, day=EQUINOX, mist=mist, limits=limits)
    assert caught.value.loosen[0]["mist_share"] < 0.9
    assert looked == []
    # without a mist the sun is what lacks, and is looked for more widely
    with pytest.raises(NoAnswer, match="the low sun within"):
        find_vantages(dem, hill, day=EQUINOX, limits=Limits(tolerance_deg=1e-4))
    assert max(looked) > 3.0
