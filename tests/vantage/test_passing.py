"""The cells that the sun may pass on some day, against each day asked of every cell."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from terrain.arrays import Flags
from terrain.ground.places import Hill
from terrain.sun.sun_line import SunLine, sun_lines
from terrain.vantage.limits import Limits
from terrain.vantage.passing import may_pass

HILL = Hill(lon_deg=-3.1, lat_deg=54.5, height_m=700.0)


def cells_about() -> pd.DataFrame:
    """Cells that see a summit in any direction, from a little above it to far below it."""
    draw = np.random.default_rng(8)
    return pd.DataFrame(
        {
            "azimuth_deg": draw.uniform(0.0, 360.0, 4000),
            "altitude_deg": draw.uniform(-4.0, 25.0, 4000),
            "lat_deg": draw.uniform(54.2, 54.8, 4000),
        }
    )


def passed_on(line: SunLine, cells: pd.DataFrame, wide_deg: float) -> Flags:
    """Where a line lies to either side of points up from a summit, or near one of them."""
    low_deg = cells["altitude_deg"].to_numpy()
    up = np.maximum(15.0 - low_deg, 0.0) * np.linspace(0.0, 1.0, 6)[:, np.newaxis]
    aside = line.aside_of(cells["azimuth_deg"], low_deg + up, cells["lat_deg"])
    low, high = np.fmin.reduce(aside), np.fmax.reduce(aside)
    return np.asarray((low <= wide_deg) & (high >= -wide_deg))


@pytest.mark.parametrize("evening", [False, True])
@pytest.mark.parametrize("days", [1, 2, 28])
@pytest.mark.parametrize("first", [dt.date(2026, 3, 3), dt.date(2026, 10, 1)])
def test_as_each_day_has_it_for_every_cell(first: dt.date, days: int, evening: bool) -> None:
    asked = [first + dt.timedelta(days=n) for n in range(days)]
    lines = sun_lines(asked, HILL, (54.2, 54.8), evening=evening)
    cells = cells_about()
    expected = np.logical_or.reduce([passed_on(line, cells, 1.8) for line in lines])
    np.testing.assert_array_equal(may_pass(lines, cells, Limits()), expected)
    assert 0.01 < expected.mean() < 0.5


def test_no_cell_where_the_sun_comes_up_on_no_day() -> None:
    assert not may_pass([], cells_about(), Limits()).any()
