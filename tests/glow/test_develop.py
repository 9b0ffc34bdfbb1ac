"""The colours of a picture."""

from __future__ import annotations

import numpy as np
import pytest

import terrain
from terrain.glow.develop import _within_gamut
from terrain.glow.spectrum import LUMINANCE


def test_grey_stays_grey_and_brighter_is_brighter() -> None:
    light = np.linspace(0.0, 30.0, 200)[:, np.newaxis] * np.ones(3)
    shown = terrain.develop(light, 1.0).astype(int)
    assert (shown == shown[:, :1]).all()
    assert (np.diff(shown[:, 0]) >= 0).all()
    assert shown[0, 0] == 0
    assert shown[-1, 0] == 255


def test_exposure_and_light_count_alike() -> None:
    light = np.random.default_rng(1).uniform(0.0, 2.0, (5, 4, 3))
    assert (terrain.develop(light, 0.5) == terrain.develop(light * 0.5, 1.0)).all()


def test_colours_beyond_the_screen_keep_their_hue_and_end_in_white() -> None:
    orange = np.array([1.0, 0.3, -0.05])
    shown = [terrain.develop(orange, level).astype(int) for level in (0.05, 0.5, 2.0, 1000.0)]
    assert all(red >= green >= blue for red, green, blue in shown)
    assert shown[0][0] > shown[0][1] > 0
    assert shown[-1].min() > 200


def test_a_colour_beyond_the_screen_keeps_its_luminance() -> None:
    """In the dark, where no white is mixed in, it is as bright as grey that is as bright."""
    vivid = np.array([0.30, 0.02, -0.03])
    shown = _within_gamut(vivid)
    assert shown @ LUMINANCE == pytest.approx(vivid @ LUMINANCE, rel=1e-9)
    assert shown.min() >= 0.0
    assert shown[0] > shown[1] > shown[2]


def test_what_is_unknown_is_black_and_no_exposure_is_refused() -> None:
    assert terrain.develop([np.nan, np.nan, np.nan], 1.0).tolist() == [0, 0, 0]
    with pytest.raises(terrain.TerrainError, match="exposure 0 is not above 0"):
        terrain.develop([1.0, 1.0, 1.0], 0.0)
