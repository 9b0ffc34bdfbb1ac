"""The view of a spot as planes."""

from __future__ import annotations

import numpy as np
import pytest

import terrain
from terrain.desk.planes import NONE
from tests.desk.conftest import SPOT

FRAME = f"/seen.json?{SPOT}&from_deg=60&to_deg=120&low_deg=-20&high_deg=15&step_deg=0.05"


@pytest.fixture
def view(ask, plane):
    """What is said of a frame toward the hill, and its planes."""
    told = ask(FRAME)
    return told, plane(f"/seen/{told['id']}", 4, told["height"], told["width"])


def azimuths(told):
    return told["azimuth0_deg"] + told["step_deg"] * np.arange(told["width"])


def altitudes(told):
    return told["altitude_top_deg"] - told["step_deg"] * np.arange(told["height"])


def test_it_ends_at_the_skyline(view, table):
    told, (distance, *_) = view
    camera = terrain.Spot(lon_deg=told["spot"]["lon_deg"], lat_deg=told["spot"]["lat_deg"])
    line = terrain.skyline(table.country.dem, camera, azimuths_deg=azimuths(told))
    # the sea's horizon, which no raster holds, is not in the planes
    shown = line.altitude_deg > 0.5
    assert shown.sum() > 100
    highest = altitudes(told)[np.argmax(distance != NONE, axis=0)]
    assert np.abs(highest - line.altitude_deg)[shown].max() <= 0.05 + 1e-6


def test_distance_height_and_cell_are_of_the_ground_seen(ask, view, table):
    told, (distance, height, row, col) = view
    scale, dem = ask("/about.json")["heights"], table.country.dem
    ground = distance != NONE
    for other in (height, row, col):
        assert ((other != NONE) == ground).all()
    metres = 10.0 * (2.0 ** (distance / 256.0) - 1.0)
    cell_row, cell_col = dem.grid.cell_of(told["spot"]["lon_deg"], told["spot"]["lat_deg"])
    away = dem.cell_m * np.hypot(row - cell_row, col - cell_col)
    assert np.abs(metres - away)[ground].max() <= 1.5 * dem.cell_m
    heights = scale["low_m"] + scale["step_m"] * height
    beside = dem.heights_m[np.where(ground, row, 0), np.where(ground, col, 0)]
    assert np.median(np.abs(heights - beside)[ground]) < 5.0
    eye_m = told["spot"]["height_m"] + told["spot"]["eye_m"]
    up = np.degrees(np.arctan2(heights - eye_m, metres))
    far = ground & (metres > 500.0)
    assert np.abs(up - altitudes(told)[:, np.newaxis])[far].max() < 0.1


def test_all_round_it_is_coarse_and_whole(ask, plane):
    told = ask(f"/seen.json?{SPOT}&eye_m=3")
    assert told["width"] * told["step_deg"] == pytest.approx(360.0)
    assert told["spot"]["eye_m"] == 3.0
    distance = plane(f"/seen/{told['id']}", 4, told["height"], told["width"])[0]
    assert (distance[-1] != NONE).all()
    assert (distance[0] == NONE).all()


def test_the_same_view_is_made_once(ask):
    assert ask(FRAME)["id"] == ask(FRAME)["id"] != ask(f"{FRAME}&eye_m=2.5")["id"]


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/seen.json?lat_deg=54.4056", "lon_deg= was not given"),
        (f"/seen.json?{SPOT}&eye_m=-1", "eye_m=-1 is not a number from 0"),
        ("/seen.json?lat_deg=10&lon_deg=10", "no ground at 10.0000, 10.0000"),
        (f"/seen.json?{SPOT}&from_deg=10&to_deg=10", "goes over 0°"),
        (f"/seen.json?{SPOT}&from_deg=10&to_deg=50&low_deg=5&high_deg=5", "is not below"),
        ("/seen/987654", "the view 987654 is no longer kept"),
        ("/seen/x", "id=x is not a number"),
    ],
)
def test_what_cannot_be_seen_is_said_in_one_line(page, address, words):
    refused = page.get(address)
    assert refused.status_code == 400
    assert words in refused.json()["wrong"]
    assert "\n" not in refused.json()["wrong"]
