"""What a raster's edge leaves open, in figures worked by hand and in words."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.sight.bend import bend_per_m
from terrain.sight.left_out import LeftOut, left_out

MakeDem = Callable[..., Dem]

CELL_M = 100.0


@pytest.fixture(scope="module")
def strip(make_dem: MakeDem) -> Dem:
    """Eleven cells from south to north that rise by 10 m each, and one that is unknown."""
    heights = np.append(np.nan, 100.0 - 10.0 * np.arange(11))
    return make_dem(heights[:, np.newaxis], cell_m=CELL_M)


def test_figures_by_hand(strip: Dem) -> None:
    """Looking south and level, hidden ground begins at the edge, and must be as high as the eye."""
    out = left_out(strip, 180.0, np.zeros(strip.shape), eye_m=2.0, refraction=1.0)
    known_m = CELL_M * (np.arange(11)[::-1] + 0.5)
    eyes_m = 102.0 - 10.0 * np.arange(11)
    assert out.cells == 11
    assert out.known_m == pytest.approx(np.sort(known_m)[1], rel=1e-4)
    assert out.median_known_m == pytest.approx(np.sort(known_m)[5], rel=1e-4)
    assert out.hidden_m == pytest.approx(np.sort(eyes_m)[1])
    assert out.median_hidden_m == pytest.approx(52.0)
    assert (out.lowest_m, out.highest_m) == (0.0, 100.0)
    # hidden ground as high as the highest is too low for the first cell alone
    assert out.open_share == pytest.approx(10.0 / 11.0)


def test_the_line_of_sight_rises_and_the_earth_falls_away(strip: Dem) -> None:
    up = left_out(strip, 180.0, np.full(strip.shape, 10.0))
    lowest = strip.heights_m[:, 0].astype(float)[1:]
    known_m = CELL_M * (np.arange(11)[::-1] + 0.5)
    line_m = lowest + math.tan(math.radians(10.0)) * known_m + bend_per_m(0.13) * known_m**2
    assert up.median_hidden_m == pytest.approx(np.median(line_m), abs=0.01)
    assert up.open_share == pytest.approx(np.mean(line_m <= 100.0))


def test_cells_without_a_direction_are_not_asked_about(strip: Dem) -> None:
    azimuth = np.full(strip.shape, 180.0)
    azimuth[3:] = np.nan
    out = left_out(strip, azimuth, np.zeros(strip.shape))
    assert out.cells == 2
    assert out.median_known_m == pytest.approx(1000.0, rel=1e-4)
    nobody = left_out(strip, np.nan, np.zeros(strip.shape))
    assert nobody.cells == 0
    assert np.isnan([nobody.known_m, nobody.median_hidden_m, nobody.open_share]).all()
    assert (nobody.lowest_m, nobody.highest_m) == (0.0, 100.0)


def test_where_no_known_ground_lies_ahead_any_hidden_ground_will_do(strip: Dem) -> None:
    altitude = np.zeros(strip.shape)
    altitude[:7] = np.nan
    out = left_out(strip, 180.0, altitude, refraction=1.0)
    assert out.cells == 11
    assert out.open_share == 1.0
    assert out.median_hidden_m == pytest.approx(20.0)  # of the five whose line is known


def test_many_cells_are_looked_at_evenly(make_dem: MakeDem) -> None:
    """Every third column is known, so that steps in a row could fall on few of them."""
    heights = np.full((400, 900), np.nan)
    heights[:, ::3] = np.arange(400.0)[:, np.newaxis]
    dem = make_dem(heights, cell_m=CELL_M)
    out = left_out(dem, 0.0, np.zeros(dem.shape), refraction=1.0)
    assert out.cells == 100_000
    # due north along a column every height is as common as another
    assert out.median_hidden_m == pytest.approx(199.5, abs=2.0)
    assert out.hidden_m == pytest.approx(39.9, abs=2.0)


def test_nothing_known_has_no_ends(make_dem: MakeDem) -> None:
    nothing = make_dem(np.full((3, 3), np.nan))
    out = left_out(nothing, 90.0, np.zeros(nothing.shape))
    assert np.isnan([out.lowest_m, out.highest_m]).all()


def test_altitudes_of_another_shape_are_refused(strip: Dem) -> None:
    with pytest.raises(ValueError, match=r"shape \(2,\) for ground of \(12, 1\)"):
        left_out(strip, 180.0, np.zeros(2))


def said(**figures: float) -> str:
    usual = {
        "cells": 9,
        "known_m": 1234.0,
        "median_known_m": 5000.0,
        "hidden_m": 320.0,
        "median_hidden_m": 700.0,
        "lowest_m": 50.0,
        "highest_m": 812.0,
        "open_share": 0.25,
    }
    return LeftOut(**{**usual, **figures}).sentence("the sunrise")


def test_in_words() -> None:
    assert said() == (
        "Toward the sunrise the ground is known for at least 1.2 km in nine of ten cells. Hidden "
        "ground beyond must rise above 320 m to change the answer in nine of ten; in 25 % of them "
        "it need not be higher than the highest here, 812 m."
    )
    # ground below the lowest that is known is as good as any
    assert "rise above 50 m to change" in said(hidden_m=-90.0)
