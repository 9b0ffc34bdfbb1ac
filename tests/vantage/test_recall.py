"""Whether the quick sift leaves out what a full look calls good, and what the rows must show.

The twin of the sift is the full look at every cell that is fit to stand on; the twin of the rows is
`tests.twin`, which shares nothing with the rooms: its own ground, mist, sun and refraction.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from terrain.country import Country
from terrain.errors import NoAnswer
from terrain.ground.dem import Dem
from terrain.ground.geodesy import azimuth_and_distance, wrap_deg
from terrain.ground.places import Hill, Spot
from terrain.ground.raster.read import read_dem
from terrain.ground.relief.summits import hill_at
from terrain.mist.level import level_mist
from terrain.sun.sun_line import sun_line
from terrain.vantage.find import find_vantages
from terrain.vantage.limits import Limits
from terrain.vantage.question import Question
from terrain.vantage.search import answer_on, search_for
from terrain.view.backdrop import Backdrop
from terrain.view.backlight import check_backlight
from terrain.view.dates import backlit_dates
from terrain.view.look import look
from terrain.view.scene import Scene

EYE_M = 1.7
LOOKS = 120
# how much mist is seen is no part of the sift
LIMITS = Limits(mist_share=0.0)


@dataclass(frozen=True)
class Trial:
    """A hill over a mist on real ground, on one morning or evening."""

    dem: Dem
    hill: Hill
    day: dt.date
    mist_top_m: float
    evening: bool = False
    against: Backdrop | None = None

    @property
    def limits(self) -> Limits:
        return replace(LIMITS, against=self.against)

    @cached_property
    def country(self) -> Country:
        return Country(self.dem, mist=level_mist(self.dem, self.mist_top_m))

    @cached_property
    def sifted(self) -> pd.DataFrame:
        asked = Question(limits=self.limits, evening=self.evening)
        seas = search_for(self.country, self.hill, asked).seas
        latitudes = self.dem.grid.latitudes_deg
        line = sun_line(self.day, self.hill, latitudes, evening=self.evening)
        return seas.likely_on(seas.likely_places([line]), line)

    def drawn(self, sector_deg: float) -> pd.DataFrame:
        """Random cells that are fit to stand on, near the sector in which the sifted ones lie."""
        fit = self.country.freeboard_m >= LIMITS.freeboard_m
        fit &= self.country.slope_deg <= LIMITS.max_slope_deg
        row, col = np.nonzero(fit)
        lon, lat = self.dem.grid.lonlat(row, col)
        toward, away = azimuth_and_distance(lon, lat, self.hill.lon_deg, self.hill.lat_deg)
        middle = float(self.sifted["azimuth_deg"].median())
        near = LIMITS.holds_distance(away) & (np.abs(wrap_deg(toward - middle)) <= sector_deg)
        cells = pd.DataFrame({"row": row, "col": col, "lon_deg": lon, "lat_deg": lat})[near]
        return cells.sample(min(LOOKS, len(cells)), random_state=3)


def bowscale(folder: Path) -> Trial:
    around = Spot(lon_deg=-3.0352, lat_deg=54.6654)
    dem = read_dem(folder / "lakeland_50m.tif", around=around, reach_m=9_000.0)
    return Trial(dem, hill_at(dem, -3.0352, 54.6654), dt.date(2026, 10, 11), 250.0)


def fichtel(folder: Path) -> Trial:
    tiles = [folder / f"{tile}.hgt.zip" for tile in ("N49E011", "N50E011")]
    dem = read_dem(tiles, around=Spot(lon_deg=11.82, lat_deg=50.02), reach_m=9_000.0)
    return Trial(dem, hill_at(dem, 11.85333, 50.05167), dt.date(2026, 2, 22), 600.0)


def cat_bells(folder: Path) -> Trial:
    around = Spot(lon_deg=-3.1704, lat_deg=54.5684)
    dem = read_dem(folder / "lakeland_50m.tif", around=around, reach_m=9_000.0)
    return Trial(dem, hill_at(dem, -3.1704, 54.5684), dt.date(2026, 10, 13), 200.0, evening=True)


def walla_crag(folder: Path) -> Trial:
    """Seen from above, against mist from some places and against ground or sky from others."""
    around = Spot(lon_deg=-3.1175, lat_deg=54.6125)
    dem = read_dem(folder / "lakeland_50m.tif", around=around, reach_m=9_000.0)
    hill = hill_at(dem, -3.1175, 54.6125)
    return Trial(dem, hill, dt.date(2026, 9, 12), 300.0, against=Backdrop.MIST)


def fichtel_against_sky(folder: Path) -> Trial:
    return replace(fichtel(folder), against=Backdrop.SKY)


def cat_bells_against_ground(folder: Path) -> Trial:
    return replace(cat_bells(folder), against=Backdrop.GROUND)


FURTHER = fichtel_against_sky, cat_bells_against_ground
TRIALS = [
    *(bowscale, fichtel, cat_bells),
    *(pytest.param(each, marks=pytest.mark.slow) for each in FURTHER),
]


@pytest.fixture(scope="module", params=TRIALS)
def trial(request: pytest.FixtureRequest) -> Trial:
    return request.param(request.getfixturevalue("open_data"))


def test_the_sift_leaves_out_nothing_good(trial: Trial) -> None:
    """Of random cells that a full look calls good at least 98 of 100 are in it."""
    scene = Scene(trial.country, trial.hill)
    sifted = set(zip(trial.sifted["row"], trial.sifted["col"], strict=True))
    cells = trial.drawn(4.0)
    good = [
        (cell.row, cell.col) in sifted
        for cell in cells.itertuples()
        if answer_on(
            scene,
            Spot(lon_deg=cell.lon_deg, lat_deg=cell.lat_deg, eye_m=EYE_M),
            trial.day,
            trial.limits,
            evening=trial.evening,
        )
    ]
    assert len(good) >= 10
    assert np.mean(good) >= 0.98
    # and it is a sift
    drawn = [(cell.row, cell.col) in sifted for cell in cells.itertuples()]
    assert np.mean(drawn) < 0.8


def great_end(folder: Path) -> Trial:
    """A lower hill about a kilometre off, and fells over twenty kilometres beyond."""
    dem = read_dem(
        folder / "lakeland_50m.tif", around=Spot(lon_deg=-3.19, lat_deg=54.465), reach_m=30_000.0
    )
    hill = hill_at(dem, -3.179175, 54.466367, name="Allen Crags")
    return Trial(dem, hill, dt.date(2026, 9, 12), 600.0)


def test_a_lower_hill_against_far_ground_is_found(open_data: Path) -> None:
    """From Great End, 125 m higher: the summit makes no skyline, and the sun comes over it."""
    trial = great_end(open_data)
    limits = Limits(max_distance_m=1500.0)
    found = find_vantages(trial.country, trial.hill, day=trial.day, limits=limits)
    below = found[(found["altitude_deg"] < -3.0) & (found["backdrop"] != "sky")]
    assert len(below)
    row = below.iloc[0]
    assert row["mist_share"] >= limits.mist_share
    spot = Spot(lon_deg=row["lon_deg"], lat_deg=row["lat_deg"])
    answer = check_backlight(trial.country, spot, trial.hill, trial.day)
    assert not answer.view.on_skyline
    assert answer.contact.distance_m > 10_000.0
    assert answer.within(limits.tolerance_deg)
    year = backlit_dates(trial.country, spot, trial.hill, 2026, tolerance_deg=1.0)
    assert trial.day in set(year["day"])
    (listed,) = year[year["day"] == trial.day].itertuples()
    assert (listed.backdrop, listed.best_at) == (row["backdrop"], row["best_at"])


def test_no_look_is_used_up_on_another_backdrop(open_data: Path) -> None:
    """Of the places in the sift few show the summit against another backdrop than asked for."""
    trial = walla_crag(open_data)
    scene, places = Scene(trial.country, trial.hill), trial.sifted.sample(30, random_state=1)
    assert len(trial.sifted) < 0.7 * len(replace(trial, against=None).sifted)
    spots = [
        Spot(lon_deg=cell.lon_deg, lat_deg=cell.lat_deg, eye_m=EYE_M)
        for cell in places.itertuples()
    ]
    against = [look(scene, spot).backdrop == Backdrop.MIST for spot in spots]
    assert np.mean(against) >= 0.75
    # and where none can show it, none is looked at
    with pytest.raises(NoAnswer, match="sees its summit against mist"):
        _ = replace(bowscale(open_data), against=Backdrop.MIST).sifted
