"""The colours of a view: against whole pictures at once, and as plain Python within fences."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.mist.level import level_mist
from terrain.mist.mist import Mist
from terrain.show.paper import palette
from terrain.show.view.scenery import Light, _shade, paling_m, scenery
from terrain.sight.seen import SeenGround, seen_ground
from tests.plain import plain_kernels
from tests.show.conftest import World

LIGHT = Light(azimuth_deg=98.0, altitude_deg=2.0)


def mixed(first: NDArray | str, second: str, share: NDArray) -> NDArray:
    start = to_rgb(first) if isinstance(first, str) else first
    return start + share[..., np.newaxis] * (np.array(to_rgb(second)) - start)


def whole_picture(seen: SeenGround, dem: Dem, mist: Mist | None) -> NDArray:
    """The same by whole pictures and in double precision, with scipy's own interpolation."""
    sky = np.isnan(seen.distance_m)
    distance = np.where(sky, 0.0, seen.distance_m)
    at = np.nan_to_num(np.stack([seen.row, seen.col]))
    shades = _shade(dem, LIGHT, slice(0, None), slice(0, None))
    shade = map_coordinates(shades, at, order=1, mode="nearest")
    pale = 1.0 - np.exp(-distance / paling_m(seen))
    faint = 1.0 - 0.7 * pale
    colour = mixed(palette.RIDGE_NEAR, palette.RIDGE_FAR, pale)
    colour *= (1.0 - 0.75 * np.maximum(0.5 - shade, 0.0) * faint)[..., np.newaxis]
    light = np.maximum(shade - 0.5, 0.0) * faint
    colour += light[..., np.newaxis] * np.array([0.62, 0.60, 0.52])
    if mist is not None:
        over = map_coordinates(mist.height_over(dem), at, order=1, mode="nearest")
        veil = 1.0 - np.exp(np.minimum(over, 0.0) / 5.0)
        misty = mixed(palette.MIST_DEEP, palette.MIST, np.minimum(1.1 * np.sqrt(pale), 1.0))
        colour += veil[..., np.newaxis] * (misty - colour)
        covered = np.pad((over < 0.0) & ~sky, 1)
        beside = covered[:-2, 1:-1] | covered[1:-1, :-2] | covered[1:-1, 2:]
        shore = beside & ~covered[1:-1, 1:-1]
        colour = mixed(colour, palette.SHORE, shore * 0.6 * (1.0 - 0.8 * pale))
    crest = np.zeros_like(sky)
    crest[:-1] = sky[1:] | (distance[1:] > 1.07 * distance[:-1] + 80.0)
    colour = mixed(colour, palette.INK, crest * 0.5 * (1.0 - 0.75 * pale))
    picture = np.dstack([np.clip(colour, 0.0, 1.0), ~sky])
    return np.where(sky[..., np.newaxis], 0.0, picture)


@pytest.mark.parametrize("misty", [True, False])
def test_colours_are_those_of_whole_pictures(world: World, misty: bool) -> None:
    mist = world.mist if misty else None
    middle = world.answer.view.azimuth_deg
    seen = seen_ground(
        world.dem,
        world.spot,
        np.linspace(middle - 30.0, middle + 30.0, 240),
        np.linspace(-12.0, 4.0, 90),
        lid_m=None if mist is None else mist.lid_m,
    )
    assert 0.1 < np.isnan(seen.distance_m).mean() < 0.9
    colours = scenery(seen, world.dem, LIGHT, mist=mist)
    far_off = np.abs(colours - whole_picture(seen, world.dem, mist)).max(axis=-1) > 1e-4
    # a cell within rounding of a shore or a crest may fall on either side of it
    assert far_off.mean() < 1e-4


@pytest.mark.parametrize("misty", [True, False])
def test_plain_colours(make_dem: Callable[..., Dem], misty: bool) -> None:
    rng = np.random.default_rng(5)
    heights = rng.uniform(0.0, 60.0, (12, 14)) + 12.0 * np.arange(14)
    heights[rng.random(heights.shape) < 0.04] = np.nan
    heights[6, 0] = 250.0
    dem = make_dem(heights)
    lon, lat = (float(part) for part in dem.grid.lonlat(6, 0))
    mist = level_mist(dem, 80.0) if misty else None

    def picture() -> NDArray:
        spot = Spot(lon_deg=lon, lat_deg=lat)
        azimuths, altitudes = np.linspace(-20.0, 200.0, 45), np.linspace(-60.0, 10.0, 30)
        lid = None if mist is None else mist.lid_m
        return scenery(
            seen_ground(dem, spot, azimuths, altitudes, lid_m=lid), dem, LIGHT, mist=mist
        )

    compiled = picture()
    with plain_kernels():
        plain = picture()
    assert (compiled[..., 3] > 0.0).any()
    assert (compiled[..., 3] == 0.0).any()
    np.testing.assert_allclose(plain, compiled, atol=1e-5)
