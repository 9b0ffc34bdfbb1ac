"""Small views: what is left of a picture that is too high for its place beside a map."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.show.view.small_views import _cropped

WIDE, HIGH, PX_PER_FOCAL = 600, 900, 1500.0


@pytest.mark.parametrize("summit_row", [60, 150, 300, 450, 700])
def test_summit_and_some_sky_over_it_are_in_a_tall_picture_that_is_cropped(summit_row: int) -> None:
    pixels = np.zeros((HIGH, WIDE, 3), dtype=np.uint8)
    pixels[summit_row] = 255
    camera: Any = SimpleNamespace(
        frame=SimpleNamespace(altitude_deg=2.0), px_per_focal=PX_PER_FOCAL
    )
    up = np.degrees(np.arctan((HIGH / 2 - summit_row) / PX_PER_FOCAL))
    left = _cropped(pixels, camera, 2.0 + float(up))
    (at,) = np.unique(np.argwhere(left == 255)[:, 0])
    assert left.shape[0] < HIGH // 3
    assert min(summit_row, 0.24 * left.shape[0]) <= at <= 0.76 * left.shape[0]


def test_a_wide_picture_stays_whole() -> None:
    pixels = np.zeros((200, WIDE, 3), dtype=np.uint8)
    camera: Any = SimpleNamespace(
        frame=SimpleNamespace(altitude_deg=0.0), px_per_focal=PX_PER_FOCAL
    )
    assert _cropped(pixels, camera, 0.0).shape == pixels.shape
