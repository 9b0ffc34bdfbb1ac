"""More mist never uncovers ground, nor lowers its top anywhere: every kind, on any ground."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from numpy.typing import NDArray
from scipy import ndimage

from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.ground.raster.read import read_dem
from terrain.mist.drainage import drain
from terrain.mist.flood import flood_levels
from terrain.mist.level import level_mist, mist_range
from terrain.mist.mist import Mist
from terrain.mist.valley import valley_mist

MakeDem = Callable[..., Dem]
Places = Sequence[Spot]

# fells beside sea that is not there, and wooded hills
WINDOWS = {
    "lakeland_50m.tif": Spot(lon_deg=-3.276, lat_deg=54.394),
    "N50E011.hgt.zip": Spot(lon_deg=11.5, lat_deg=50.5),
}
DEPTHS_M = (20.0, 40.0, 60.0, 80.0, 100.0, 150.0)
RISES_M = (0.25, 1.0, 3.0, 7.0, 12.0, 20.0, 45.0)

# flats, pits, edges and unknown cells, none of them rare
ANY_GROUND = hnp.arrays(
    np.float32,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=3, max_side=12),
    elements=st.one_of(st.integers(0, 30).map(float), st.just(4.0), st.just(np.nan)),
).filter(lambda ground: np.isfinite(ground).any())


def rolling(seed: int) -> NDArray[np.float32]:
    """Hills and valleys of 60 x 60 cells, some of them unknown, with a plain in every other one."""
    rng = np.random.default_rng(seed)
    broad, fine = (ndimage.gaussian_filter(rng.standard_normal((60, 60)), far) for far in (8, 2))
    ground = 60.0 * broad / broad.std() + 12.0 * fine / fine.std() + np.arange(60)[:, np.newaxis]
    if seed % 2:
        ground = np.maximum(ground, np.quantile(ground, 0.2))
    ground[tuple(rng.integers(0, 60, (2, 6)))] = np.nan
    return ground.astype(np.float32)


def along_valleys(dem: Dem, depth_m: object, **options: object) -> Mist:
    """A valley mist on ground of a few cells."""
    given_anyway = {"channel_km2": 0.02, "smooth_m": 120.0, "max_floor_slope": 0.4}
    return valley_mist(dem, depth_m, **{**given_anyway, **options})  # type: ignore[arg-type]


def lowest_m(dem: Dem) -> float:
    return float(np.nanmin(dem.heights_m))


def raised(mist: Mist, dem: Dem, by_m: float) -> Mist:
    """A mist made with the third of the rises, as if with another."""
    return mist.raised(dem, by_m - RISES_M[2])


# how each kind of mist is made from some ground and two places on it, the more metres the more
KINDS: dict[str, Callable[[Dem, Places, float], Mist]] = {
    "level": lambda dem, places, more: level_mist(dem, lowest_m(dem) + more),
    "level, wells in any hollow": lambda dem, places, more: level_mist(
        dem, lowest_m(dem) + more, min_hollow_m=0.0
    ),
    "level from places": lambda dem, places, more: level_mist(
        dem, lowest_m(dem) + more, seeds=places
    ),
    "level by levels": lambda dem, places, more: level_mist(
        dem, lowest_m(dem) + more, levels=flood_levels(dem, seeds=places[:1])
    ),
    "level, raised": lambda dem, places, more: raised(
        level_mist(dem, lowest_m(dem) + RISES_M[2]), dem, more
    ),
    "of a range": lambda dem, places, more: mist_range(dem, [lowest_m(dem) + more]).hoped,
    "valley": lambda dem, places, more: along_valleys(dem, more),
    "valley, not smoothed": lambda dem, places, more: along_valleys(dem, more, smooth_m=0.0),
    "valley, little floor": lambda dem, places, more: along_valleys(
        dem, more, max_floor_slope=0.08
    ),
    "valley under a ceiling": lambda dem, places, more: along_valleys(
        dem, more, ceiling_m=lowest_m(dem) + 15.0
    ),
    "valley under a higher ceiling": lambda dem, places, more: along_valleys(
        dem, 15.0, ceiling_m=lowest_m(dem) + more
    ),
    "valley from places": lambda dem, places, more: along_valleys(dem, more, seeds=places),
    "valley, deeper at one place": lambda dem, places, more: along_valleys(
        dem, {places[0]: more, places[1]: 8.0}
    ),
    "valley, raised": lambda dem, places, more: raised(
        along_valleys(dem, RISES_M[2], ceiling_m=lowest_m(dem) + 20.0), dem, more
    ),
    "valley by places, raised": lambda dem, places, more: raised(
        along_valleys(dem, {places[0]: RISES_M[2], places[1]: 2.0}), dem, more
    ),
}


def growing(kind: str, dem: Dem, places: Places) -> Iterator[NDArray[np.float32]]:
    """The tops of a kind of mist, ever more of it, where there is any and some ground is clear."""
    for more in RISES_M:
        try:
            yield KINDS[kind](dem, places, more).top_m
        except NoAnswer as nothing:
            if "covers all ground" in str(nothing):
                return
            yield np.full(dem.shape, np.nan, dtype=np.float32)


def check_growth(tops: Iterator[NDArray[np.float32]]) -> None:
    """That nothing is freed and nothing lowered from each top to the next, not by the last bit."""
    before = None
    for top in tops:
        if before is not None:
            freed = ~np.isnan(before) & np.isnan(top)
            lowered = before > top
            assert (np.count_nonzero(freed), np.count_nonzero(lowered)) == (0, 0)
        before = top


def two_places(dem: Dem, at: tuple[float, float]) -> Places:
    """Known cells, as far through all of them as two shares say."""
    rows, cols = np.nonzero(~np.isnan(dem.heights_m))
    places = []
    for share in at:
        number = min(int(share * rows.size), rows.size - 1)
        lon, lat = dem.grid.lonlat(rows[number], cols[number])
        places.append(Spot(lon_deg=float(lon), lat_deg=float(lat)))
    return places


SHARES = st.tuples(st.floats(0, 1), st.floats(0, 1))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=25, deadline=None)
@given(ground=ANY_GROUND, at=SHARES)
def test_more_mist_of_any_kind_uncovers_nothing(
    make_dem: MakeDem, kind: str, ground: NDArray[np.float32], at: tuple[float, float]
) -> None:
    dem = make_dem(ground)
    check_growth(growing(kind, dem, two_places(dem, at)))


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 10_000), at=SHARES)
def test_nor_does_it_among_hills(
    make_dem: MakeDem, kind: str, seed: int, at: tuple[float, float]
) -> None:
    dem = make_dem(rolling(seed))
    check_growth(growing(kind, dem, two_places(dem, at)))


def deeper(dem: Dem) -> Iterator[NDArray[np.float32]]:
    drainage = drain(dem)
    for depth_m in DEPTHS_M:
        yield valley_mist(dem, depth_m, drainage=drainage).top_m


def test_a_deeper_valley_mist_uncovers_nothing_of_real_ground(jacksboro: Dem) -> None:
    check_growth(deeper(jacksboro))


@pytest.mark.parametrize("file", WINDOWS)
def test_a_deeper_valley_mist_uncovers_nothing_of_a_tile(open_data: Path, file: str) -> None:
    check_growth(deeper(read_dem(open_data / file, around=WINDOWS[file], reach_m=18_000.0)))
