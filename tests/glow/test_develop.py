"""The colours of a picture."""

from __future__ import annotations

import numpy as np
import pytest

import terrain
from terrain.glow import _develop_kernels
from terrain.glow._develop_kernels import within_gamut
from terrain.glow.spectrum import LUMINANCE
from tests.plain import plain_kernels


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
    shown = vivid.copy()
    within_gamut(shown, float(vivid @ LUMINANCE))
    assert shown @ LUMINANCE == pytest.approx(vivid @ LUMINANCE, rel=1e-9)
    assert shown.min() >= 0.0
    assert shown[0] > shown[1] > shown[2]


@pytest.mark.parametrize("softer", [0.0, 0.12])
def test_the_kernel_is_the_curve_as_it_is_written_down(softer: float) -> None:
    light = np.random.default_rng(2).lognormal(-1.0, 2.0, (4000, 3)) - 0.02
    shown = terrain.develop(light, 0.7, softer=softer).astype(int)
    assert np.abs(shown - _developed(0.7 * light, softer)).max() < 0.52


def test_the_kernel_is_the_same_as_plain_python() -> None:
    light = np.random.default_rng(3).lognormal(-1.0, 2.0, (40, 3)).astype(np.float32)
    encoded, pixels = np.linspace(0.0, 255.0, 64), np.zeros((2, 40, 3), dtype=np.uint8)
    _develop_kernels.develop_pixels((0, 40), light, (0.5, 0.1), LUMINANCE, encoded, pixels[0])
    with plain_kernels():
        _develop_kernels.develop_pixels((0, 40), light, (0.5, 0.1), LUMINANCE, encoded, pixels[1])
    assert (pixels[0] == pixels[1]).all()


def _slope(bytes_per_px: float, size: tuple[int, int] = (96, 160)) -> np.ndarray:
    """Grey light whose bytes fall so fast along the rows and down them, about the middle."""
    rows, cols = size
    wanted = 120.0 + bytes_per_px * (np.arange(cols) + 0.3 * np.arange(rows)[:, np.newaxis])
    grey = np.linspace(0.0, 1.0, 20_001)
    bytes_of = _developed(grey[:, np.newaxis] * np.ones(3), 0.0)[:, 0]
    return np.interp(wanted, bytes_of, grey)[..., np.newaxis] * np.ones(3)


def test_a_faint_slope_has_no_bands_when_it_is_dithered() -> None:
    """The mean of four pixels is within an eighth of a byte, where rounding is off by a half."""
    light = _slope(0.01)
    exact = _developed(light.reshape(-1, 3), 0.0).reshape(light.shape)
    off = {}
    for dithered in (False, True):
        shown = terrain.develop(light, 1.0, dithered=dithered).astype(float)
        apart = (shown - exact).reshape(48, 2, 80, 2, 3).mean(axis=(1, 3))
        off[dithered] = np.abs(apart).max()
    assert off[False] > 0.45
    assert off[True] < 0.15


def test_what_is_no_faint_slope_is_developed_as_ever_and_all_of_it_the_same_twice() -> None:
    noise = np.random.default_rng(4).lognormal(-1.0, 1.0, (60, 70, 3))
    for light in (noise, _slope(0.4)):
        shown = [terrain.develop(light, 1.0, dithered=dithered) for dithered in (False, True, True)]
        assert (shown[1] == shown[2]).all()
        assert (shown[0] == shown[1]).mean() > 0.999
    dark = terrain.develop(np.zeros((4, 5, 3)), 1.0, dithered=True)
    assert (dark == 0).all()
    bright = terrain.develop(np.full((4, 5, 3), 99.0), 1.0, dithered=True)
    assert (bright == 255).all()


def test_rows_in_parts_or_in_plain_python_are_those_of_the_whole() -> None:
    light = (_slope(0.03, (12, 30))).astype(np.float32)
    encoded = np.linspace(0.0, 255.0, 64)
    whole, parts, plain = (np.full(light.shape, 77, dtype=np.uint8) for _ in range(3))
    _develop_kernels.develop_rows((0, 12), light, (0.9, 0.1), LUMINANCE, encoded, whole)
    for part in ((0, 1), (1, 5), (5, 5), (5, 12)):
        _develop_kernels.develop_rows(part, light, (0.9, 0.1), LUMINANCE, encoded, parts)
    with plain_kernels():
        _develop_kernels.develop_rows((0, 12), light, (0.9, 0.1), LUMINANCE, encoded, plain)
    assert (whole == parts).all()
    assert (whole == plain).all()
    assert (whole[:, :, 0] % 2 == 0).any()


def test_only_a_picture_is_dithered() -> None:
    with pytest.raises(terrain.TerrainError, match=r"shape \(3,\) is no picture"):
        terrain.develop([1.0, 1.0, 1.0], 1.0, dithered=True)
    assert terrain.develop(np.ones((0, 5, 3)), 1.0, dithered=True).shape == (0, 5, 3)
    assert terrain.develop(np.ones((1, 1, 3)), 1.0, dithered=True).shape == (1, 1, 3)


def _developed(light: np.ndarray, softer: float) -> np.ndarray:
    """The slow twin: bytes before they are rounded."""
    light = light + softer * ((light @ LUMINANCE)[:, np.newaxis] - light)
    grey = np.maximum(light @ LUMINANCE, 0.0)[:, np.newaxis]
    room = grey / np.maximum(grey - light.min(axis=1, keepdims=True), 1e-12)
    vivid = np.maximum(grey + (light - grey) * np.minimum(1.1, room), 0.0)
    peak = np.maximum(vivid.max(axis=1, keepdims=True), 1e-12)
    vivid += (peak - vivid) * peak**2 / (peak**2 + 60.0**2)
    toned = 0.45 * _academy(vivid) + 0.55 * _academy(peak) * vivid / peak
    steep = 1.055 * np.maximum(toned, 0.0031308) ** (1.0 / 2.4) - 0.055
    return 255.0 * np.where(toned <= 0.0031308, 12.92 * toned, steep)


def _academy(light: np.ndarray) -> np.ndarray:
    shown = light * (2.51 * light + 0.03) / (light * (2.43 * light + 0.59) + 0.14)
    return np.minimum(shown, 1.0)


def test_what_is_unknown_is_black_and_no_exposure_is_refused() -> None:
    assert terrain.develop([np.nan, np.nan, np.nan], 1.0).tolist() == [0, 0, 0]
    with pytest.raises(terrain.TerrainError, match="exposure 0 is not above 0"):
        terrain.develop([1.0, 1.0, 1.0], 0.0)
