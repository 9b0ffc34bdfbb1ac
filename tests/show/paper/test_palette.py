"""The colours: told apart in grey print, by colour-blind readers, and against the paper."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from matplotlib.colors import to_hex, to_rgb

from terrain.show.paper import palette
from tests.authorities.colour_vision import (
    DEUTERANOPIA,
    MARK_CONTRAST,
    PROTANOPIA,
    TEXT_CONTRAST,
    lightness,
)
from tests.show.paper.seen import NEIGHBOURS, as_seen, contrast


@pytest.mark.parametrize(("first", "second"), NEIGHBOURS)
def test_neighbours_differ_in_grey(first: str, second: str) -> None:
    assert abs(lightness(first) - lightness(second)) > 25.0
    assert contrast(first, second) > MARK_CONTRAST * 0.8


@pytest.mark.parametrize("matrix", [DEUTERANOPIA, PROTANOPIA])
@pytest.mark.parametrize(("first", "second"), NEIGHBOURS)
def test_neighbours_differ_to_colour_blind_readers(
    first: str, second: str, matrix: tuple[tuple[float, ...], ...]
) -> None:
    seen = [lightness(as_seen(colour, matrix)) for colour in (first, second)]
    assert abs(seen[0] - seen[1]) > 20.0


def test_the_matrices_keep_grey() -> None:
    for matrix in (DEUTERANOPIA, PROTANOPIA):
        assert np.allclose(np.array(matrix).sum(axis=1), 1.0, atol=1e-5)
        assert to_rgb(as_seen("#808080", matrix)) == pytest.approx(to_rgb("#808080"), abs=0.005)


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET, palette.SUN])
def test_text_can_be_read_on_the_paper(ink: str) -> None:
    assert contrast(ink, palette.PAPER) >= TEXT_CONTRAST


def test_ground_gets_only_paler_with_height_and_ridges_with_distance() -> None:
    heights = [lightness(to_hex(palette.GROUND(share))) for share in np.linspace(0, 1, 30)]
    assert np.all(np.diff(heights) > -0.2)
    shares = np.linspace(0, 1, 9)
    ridges = palette.mixed(palette.RIDGE_NEAR, palette.RIDGE_FAR, shares)
    far = [lightness(to_hex(colour)) for colour in ridges]
    assert np.all(np.diff(far) > 3.0)


def test_mist_is_paler_than_any_ground() -> None:
    ground = max(lightness(to_hex(palette.GROUND(share))) for share in (0.0, 0.5, 0.8))
    assert lightness(palette.MIST) > ground + 5.0
    assert lightness(palette.MIST_DEEP) > lightness(palette.RIDGE_FAR) + 8.0


def test_mixed_begins_and_ends_with_its_colours() -> None:
    ends = palette.mixed(palette.SUN, palette.MIST, np.array([-1.0, 0.0, 1.0, 2.0]))
    assert ends == pytest.approx(
        np.array([to_rgb(c) for c in (palette.SUN, palette.SUN, palette.MIST, palette.MIST)])
    )


def test_lightness_of_known_colours() -> None:
    # black, white and the sRGB primaries, from CIE 1976 L* of their luminances
    known = {"#000000": 0.0, "#ffffff": 100.0, "#ff0000": 53.24, "#00ff00": 87.73, "#0000ff": 32.30}
    for colour, value in known.items():
        assert lightness(colour) == pytest.approx(value, abs=0.01)


def test_marks_differ_from_one_another() -> None:
    faces = [palette.INK, palette.HILL, palette.PAPER]
    for first, second in itertools.combinations(faces, 2):
        assert abs(lightness(first) - lightness(second)) > 15.0
