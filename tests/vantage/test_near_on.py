"""Where the sun of a day passes near a summit, against what is worked out for every cell."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from terrain.ground.places import Hill
from terrain.sun.sun_line import sun_lines
from terrain.vantage.limits import Limits
from terrain.vantage.passing import near_on, with_sun

PLACES = {"Lakeland": (-3.1, 54.5), "tropics": (36.8, -1.3), "north": (25.0, 66.0)}


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("tolerance_deg", [0.3, 1.0, 8.0])
@pytest.mark.parametrize("place", PLACES)
def test_no_cell_near_the_sun_is_left_out(place: str, tolerance_deg: float, evening: bool) -> None:
    lon, lat = PLACES[place]
    hill = Hill(lon_deg=lon, lat_deg=lat, height_m=800.0)
    days = [dt.date(2026, month, 21) for month in (2, 4, 6, 9, 10)]
    lines = sun_lines(days, hill, (lat - 0.3, lat + 0.3), evening=evening)
    draw, count = np.random.default_rng(8), 6000
    summit_deg = draw.uniform(-2.0, 12.0, count)
    cells = pd.DataFrame(
        {
            "azimuth_deg": draw.uniform(0.0, 360.0, count),
            "altitude_deg": summit_deg,
            "sky_deg": summit_deg + np.maximum(draw.uniform(-2.0, 2.0, count), 0.0),
            "lat_deg": lat + draw.uniform(-0.3, 0.3, count),
        }
    )
    points = lines[0].sky_points(cells["azimuth_deg"], cells["sky_deg"], cells["lat_deg"])
    limits = Limits(tolerance_deg=tolerance_deg)
    for line in lines:
        near = with_sun(cells, line)["best_deg"].to_numpy() <= tolerance_deg + 0.4
        np.testing.assert_array_equal(near_on(cells, points, line, limits), near)
        assert 3 < near.sum() < count // 3
