"""Places are understood as people write them."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.command.coordinates import OnGrid, degrees_in, on_grid
from terrain.command.place_names import place_on
from terrain.errors import TerrainError
from tests.scenes import written


@pytest.mark.parametrize(
    "text",
    [
        "54.41,-24.06",
        "54.41, -24.06",
        "54.41 -24.06",
        " 54.41 ; −24.06 ",
        "54.41N 24.06W",
        "54.41° N, 24.06° W",
        "N54.41 W24.06",
        "54°24'36\"N 24°03'36\"W",
        "54° 24′ 36″ N, 24° 3′ 36″ W",
        "54 24 36 N 24 03 36 W",
        "54:24:36n 24:03:36w",
        "N 54 24.6, W 24 3.6",
        "54°24.6', -24°3.6'",
    ],
)
def test_degrees_of_every_form(text):
    assert degrees_in(text) == pytest.approx((54.41, -24.06), abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "the ridge", "Hill 512", "K2", "54.41", "1,2,3", "north east"]
)
def test_what_is_no_place_by_numbers(text):
    assert degrees_in(text) is None
    assert on_grid(text) is None


def test_minutes_beyond_sixty_are_refused():
    with pytest.raises(TerrainError, match="up to 60"):
        degrees_in("54 74 N 24 3 W")


@pytest.mark.parametrize(
    ("text", "east", "north", "crs"),
    [
        # the worked example of A Guide to Coordinate Systems in Great Britain, annex C (from
        # memory): 651409.903, 313177.270 is TG 51409 13177
        ("TG 51409 13177", 651409.5, 313177.5, "EPSG:27700"),
        ("tg5140913177", 651409.5, 313177.5, "EPSG:27700"),
        ("SV 12 34", 12500.0, 34500.0, "EPSG:27700"),
        # the general post office of Dublin is O 15904 34671 (from memory)
        ("O 15904 34671", 315904.5, 234671.5, "EPSG:29903"),
        ("33G 512345 6012345", 512345.0, 6012345.0, "EPSG:32733"),
        ("512345 6012345", 512345.0, 6012345.0, ""),
        ("512345.5, 6012345", 512345.5, 6012345.0, ""),
    ],
)
def test_metres_of_a_grid(text, east, north, crs):
    assert on_grid(text) == OnGrid(east, north, crs)


@pytest.mark.parametrize("text", ["61U 512345 6012345", "NY 234 5678"])
def test_a_reference_that_cannot_be_is_refused(text):
    with pytest.raises(TerrainError):
        on_grid(text)


def test_metres_need_a_grid():
    with pytest.raises(TerrainError, match="UTM with its zone"):
        place_on("512345 6012345", lambda: "EPSG:4326")


def test_a_tower_of_london_reference_is_in_london():
    # TQ 336 805, 51.508 N 0.076 W (from memory): the reference means a square of 100 m
    spot = place_on("TQ 336 805", lambda: None)
    assert (spot.lat_deg, spot.lon_deg) == pytest.approx((51.508, -0.076), abs=0.0015)


def test_a_command_takes_the_grid_of_its_raster(terrain, tmp_path):
    row, col = np.mgrid[:40, :40]
    written(tmp_path / "fell.tif", 100.0 + row + col, crs="EPSG:27700", corner_m=(322_500, 568_500))
    by_letters = terrain("skyline", tmp_path / "fell.tif", "--spot", "NY 23455 67895", "--step", 90)
    by_metres = terrain(
        "skyline", tmp_path / "fell.tif", "--spot", "323455.5 567895.5", "--step", 90
    )
    assert by_letters.code == by_metres.code == 0, by_letters.err
    assert by_letters.out.splitlines()[2:] == by_metres.out.splitlines()[2:]


def test_the_beginning_of_a_name_is_enough(terrain, isle):
    outcome = terrain("skyline", isle, "--spot", "the ri", "--step", 90)
    assert outcome.code == 0
    assert "note: the ri is taken for the ridge" in outcome.err
    outcome = terrain("skyline", isle, "--spot", "the", "--step", 90)
    assert outcome.code == 2
    assert "the ridge or the quay" in outcome.err


@pytest.mark.parametrize("ending", ["jpg", "jpeg", "webp"])
def test_pictures_in_dots_for_the_web(terrain, isle, tmp_path, ending):
    from PIL import Image

    file = tmp_path / f"tops.{ending}"
    assert terrain("summits", isle, "--save", file).code == 0
    with Image.open(file) as picture:
        assert picture.format == {"webp": "WEBP"}.get(ending, "JPEG")
        assert picture.width > 500


def test_version_and_short_help(terrain):
    outcome = terrain("--version")
    assert (outcome.code, outcome.out.split()[0]) == (0, "terrain")
    assert terrain("-h").out == terrain("--help").out
    assert "--hill" in terrain("vantages", "-h").out
