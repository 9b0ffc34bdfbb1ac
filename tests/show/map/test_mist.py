"""Mist on a map: deeper is whiter and denser, and specks are no islands."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from terrain.show.map.contents import MapContents
from terrain.show.map.map import draw_map
from terrain.show.map.mist import SPECK_MM2, speck_m2, veil, without_specks
from terrain.show.paper import palette
from tests.authorities.colour_vision import lightness


def lightness_over(ground: str, depth_m: float) -> float:
    *mist, density = veil(np.array(depth_m))
    mixed = density * np.array(mist) + (1.0 - density) * np.array(to_rgb(ground))
    return lightness(tuple(mixed))


@pytest.mark.parametrize("share", [0.0, 0.4, 0.8])
def test_every_doubling_of_depth_is_lighter_over_any_ground(share: float) -> None:
    ground = palette.GROUND(share)[:3]
    light = [lightness_over(ground, depth) for depth in (5.0, 10, 20, 40, 80, 160, 320)]
    assert np.all(np.diff(light) > 0.4)


def test_ground_shows_through_thin_mist_and_not_through_deep() -> None:
    dark, pale = palette.GROUND(0.0)[:3], palette.GROUND(0.75)[:3]
    thin = abs(lightness_over(dark, 1.0) - lightness_over(pale, 1.0))
    deep = abs(lightness_over(dark, 100.0) - lightness_over(pale, 100.0))
    assert thin > 4.0
    assert deep < 0.5


def test_the_scale_does_not_depend_on_what_is_shown() -> None:
    alone, among = veil(np.array([30.0])), veil(np.array([30.0, 500.0, -4.0]))
    assert np.array_equal(alone[0], among[0])
    assert np.array_equal(among[2], veil(np.array([0.0]))[0])


def test_small_isles_and_pools_are_left_off_and_large_ones_kept() -> None:
    over = np.full((30, 30), -10.0)
    over[2:4, 2:4] = 5.0
    over[10:20, 10:20] = 5.0
    over[14, 14] = -3.0
    cleaned = without_specks(over, 5.0)
    assert not (cleaned[:8] > 0.0).any()
    assert (cleaned[10:20, 10:20] > 0.0).all()
    assert np.array_equal(cleaned[over == -10.0], over[over == -10.0])


def test_a_speck_is_as_large_on_the_page_as_it_says(world) -> None:
    ax = Figure(figsize=(4.0, 3.2), dpi=100).add_axes((0, 0, 1, 1))
    draw_map(ax, world.dem, MapContents())
    west, east = ax.get_xlim()
    assert speck_m2(ax) == pytest.approx(SPECK_MM2 * ((east - west) / (4.0 * 25.4)) ** 2)
