"""Where mist pours over passes as it stands: which passes, which way, how deep."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.mist.passes import passes
from terrain.mist.pouring import describe_pouring, pouring, pouring_paths

MakeDem = Callable[..., Dem]
PASS_M = 200.0


@pytest.fixture(scope="module")
def two_basins(make_dem: MakeDem) -> Dem:
    """Bowls 100 and 150 m high at their floors, with a gap at 200 m in the wall between them."""
    row, col = np.mgrid[:61, :121].astype(float)
    west = 100.0 + 4.0 * np.hypot(row - 30, col - 30)
    east = 150.0 + 4.0 * np.hypot(row - 30, col - 90)
    ground = np.where(col < 60, west, east)
    ground[:, 60] = PASS_M + 20.0 + 4.0 * np.abs(np.arange(61) - 30)
    ground[30, 58:63] = PASS_M
    ground[30, 31:58] = np.minimum(ground[30, 31:58], PASS_M - 2.0)
    ground[30, 63:90] = np.minimum(ground[30, 63:90], PASS_M - 2.0)
    ground[[0, -1], :], ground[:, [0, -1]] = 500.0, 500.0
    return make_dem(ground)


def in_basin(dem: Dem, col: int) -> Spot:
    lon, lat = dem.grid.lonlat(30, col)
    return Spot(lon_deg=float(lon), lat_deg=float(lat))


def test_level_mist_pours_while_it_stands_just_above_the_pass(two_basins: Dem) -> None:
    levels = flood_levels(two_basins, seeds=[in_basin(two_basins, 30)])
    found = passes(two_basins, levels=levels, min_depth_m=20.0)
    at = {top: pouring(level_mist(two_basins, top, levels=levels), found) for top in (190, 215)}
    assert at[190].empty
    (over,) = at[215]["over_m"]
    assert over == pytest.approx(15.0, abs=0.01)
    assert at[215]["side_a"].tolist() == ["west"]
    far = level_mist(two_basins, 300.0, levels=levels)
    assert pouring(far, found).empty
    assert len(pouring(far, found, within_m=150.0)) == 1


def test_mist_from_everywhere_pours_nowhere(two_basins: Dem) -> None:
    found = passes(two_basins, min_depth_m=20.0)
    assert pouring(level_mist(two_basins, 215.0), found).empty


@pytest.mark.parametrize(("high", "way"), [("west", ("west", "east")), ("east", ("east", "west"))])
def test_sloping_mist_pours_from_the_side_where_it_is_higher(
    two_basins: Dem, high: str, way: tuple[str, str]
) -> None:
    col = np.mgrid[:61, :121][1]
    upper = (col <= 61) if high == "west" else (col >= 59)
    top = np.where(upper, 210.0, 180.0)
    mist = Mist(np.where(top > two_basins.heights_m, top, np.nan), two_basins.grid)
    found = passes(two_basins, min_depth_m=20.0)
    (row,) = [row for _, row in pouring(mist, found).iterrows()]
    assert (row["side_a"], row["side_b"]) == way
    assert row["over_m"] == pytest.approx(10.0, abs=0.01)
    assert f"in the valley to the {high} pours over" in describe_pouring(row)
    (line,) = pouring_paths(two_basins, pouring(mist, found)).geometry
    _, end_col = two_basins.grid.rowcol(*line.coords[-1])
    assert end_col > 75 if high == "west" else end_col < 45


def test_mist_that_fills_both_sides_alike_pours_nowhere(two_basins: Dem) -> None:
    top = np.where(np.mgrid[:61, :121][1] < 60, 210.0, 211.0)
    mist = Mist(np.where(top > two_basins.heights_m, top, np.nan), two_basins.grid)
    assert pouring(mist, passes(two_basins, min_depth_m=20.0)).empty


@pytest.mark.parametrize(("over_m", "said"), [(0.3, "1 m deep"), (1.4, "1 m deep"), (12.0, "12 m")])
def test_mist_that_just_pours_is_a_metre_deep(two_basins: Dem, over_m: float, said: str) -> None:
    levels = flood_levels(two_basins, seeds=[in_basin(two_basins, 30)])
    found = passes(two_basins, levels=levels, min_depth_m=20.0)
    poured = pouring(level_mist(two_basins, PASS_M + over_m, levels=levels), found)
    (row,) = [row for _, row in poured.iterrows()]
    assert f", {said}" in describe_pouring(row)
