"""The sentences of a plan, from figures that are written down here."""

from __future__ import annotations

import datetime as dt
import math
from types import SimpleNamespace
from typing import Any

import pytest

from terrain.frame.figure import Step
from terrain.ground.places import Spot
from terrain.plan.cautions import Cautions, Cold
from terrain.plan.stages import StageKind, TimeDoubt
from terrain.plan.what_if import FallBack
from terrain.words.cautions import cautions
from terrain.words.plan import (
    fall_back_sun,
    fall_back_times,
    fall_back_told,
    fall_back_walk,
    hidden_ground,
    note,
    step_words,
)

SUNRISE = dt.datetime(2026, 3, 22, 6, 41, 7, 400_000, tzinfo=dt.UTC)
ELSEWHERE = Spot(lon_deg=-24.05, lat_deg=54.4)


def walk(**parts: Any) -> Any:
    """What the words read of a walk."""
    usual = {
        "there_s": 3000.0,
        "length_m": 3240.0,
        "ascent_m": 212.4,
        "off_path_m": 460.0,
        "dark_s": 0.0,
        "sets_out": SUNRISE - dt.timedelta(hours=2),
        "arrives": SUNRISE - dt.timedelta(hours=1),
    }
    return SimpleNamespace(**{**usual, **parts})


def plan(**parts: Any) -> Any:
    """What the words read of a plan."""
    contact = SimpleNamespace(semidiameter_deg=0.25, known_to_m=12_340.0, beyond_height_m=871.6)
    usual = {
        "walk": walk(),
        "backlight": SimpleNamespace(contact=contact),
        "cautions": Cautions(),
        "evening": False,
        "walk_back": None,
        "stage": lambda kind: None,
    }
    return SimpleNamespace(**{**usual, **parts})


def other(**parts: Any) -> FallBack:
    usual = {"mist_top_m": 230.0, "stays": False, "note": "the mist covers the spot"}
    return FallBack(**{**usual, "spot": ELSEWHERE, "appears": SUNRISE, "walk": walk(), **parts})


def test_where_the_sun_appears_at_a_fall_back() -> None:
    doubt = TimeDoubt(raster_s=30.0, position_s=0.0, refraction_s=40.0)
    left = other(doubt=doubt, offset_deg=-0.35, uncertainty_deg=0.046)
    assert fall_back_sun(plan(), left) == (
        "06:41 ± 50 s, 0.7 sun widths to the left of the summit (−0.35° ± 0.05°)"
    )
    right = other(offset_deg=0.35)
    assert fall_back_sun(plan(), right) == (
        "06:41:07, 0.7 sun widths to the right of the summit (+0.35°)"
    )
    assert fall_back_sun(plan(), other()) == "06:41:07"
    assert fall_back_sun(plan(), other(appears=None)) == ""


@pytest.mark.parametrize(
    ("later_s", "said"),
    [
        (0.0, ""),
        (59.0, ""),
        (-59.0, ""),
        (600.0, " (10 min later than planned)"),
        (-4800.0, " (1 h 20 min sooner than planned)"),
    ],
)
def test_when_to_set_out_for_a_fall_back(later_s: float, said: str) -> None:
    sets_out = walk().sets_out + dt.timedelta(seconds=later_s)
    moved = other(walk=walk(sets_out=sets_out))
    assert fall_back_times(plan(), moved) == (
        f"start walking at {sets_out + dt.timedelta(seconds=0.5):%H:%M}{said}, be in place at 05:41"
    )
    home = other(leaves=SUNRISE - dt.timedelta(hours=3))
    assert fall_back_times(plan(), home).startswith("leave at 03:41, start walking at 04:41, ")
    without = plan(walk=walk(sets_out=None))
    assert "than planned" not in fall_back_times(without, moved)
    assert fall_back_times(plan(), other(walk=None)) == ""
    assert fall_back_times(plan(), other(walk=walk(sets_out=None))) == ""


def test_the_walk_to_a_fall_back() -> None:
    assert fall_back_walk(other()) == "50 min; 3.2 km, 212 m up"
    dark = other(walk=walk(dark_s=60.0))
    assert fall_back_walk(dark) == "50 min, 1 min of it before civil dawn; 3.2 km, 212 m up"
    assert fall_back_walk(other(walk=walk(dark_s=59.0))) == "50 min; 3.2 km, 212 m up"
    assert fall_back_walk(other(walk=None)) == ""


def test_no_fall_back_and_one_that_stays() -> None:
    nowhere = other(spot=None, walk=None, appears=None)
    assert fall_back_told(plan(), nowhere) == (
        "Mist at 230 m: do not count on this spot; the mist covers the spot. No other place was "
        "found within reach of the same start."
    )
    assert fall_back_told(plan(), other(stays=True)).startswith("Mist at 230 m: stay; ")


def test_the_walk_in() -> None:
    stage: Any = SimpleNamespace(kind=StageKind.START_WALKING)
    assert note(plan(), stage) == "50 min, 3.2 km, 212 m up, 0.5 km of it off paths"


def test_hidden_ground_toward_the_sun() -> None:
    assert hidden_ground(plan()) == (
        "Toward the sun the ground is known for 12.3 km: hidden ground higher than 872 m beyond "
        "12.3 km would delay this."
    )
    for unknown in ("known_to_m", "beyond_height_m"):
        open_end = plan()
        setattr(open_end.backlight.contact, unknown, math.inf)
        assert hidden_ground(open_end) == ""


@pytest.mark.parametrize(
    ("distance_m", "rise_m", "said"),
    [
        (10.0, 3.4, "go 10 m toward 68 degrees, 3 m up"),
        (10.0, -3.4, "go 10 m toward 68 degrees, 3 m down"),
        (0.0, 0.0, "hold the camera 0.4 m above the ground"),
    ],
)
def test_a_step_of_the_camera(distance_m: float, rise_m: float, said: str) -> None:
    figure: Any = None
    spot = Spot(lon_deg=-24.0, lat_deg=54.4, eye_m=0.4)
    step = Step(spot=spot, azimuth_deg=67.5, distance_m=distance_m, rise_m=rise_m, figure=figure)
    assert step_words(step) == said


def test_what_to_warn_of() -> None:
    bit = SimpleNamespace(
        slope_deg=-31.4, ground_deg=38.2, after_m=1260.0, lat_deg=54.4, lon_deg=-24.05
    )
    found = Cautions(
        dark_s=1230.0,
        in_mist_m=740.0,
        steep=True,
        edge=(42.3, 140.0),
        freeboard_m=8.4,
        clearance_m=-1.2,
        cold=Cold(temperature_c=2.0, feels_c=-3.6, wind_kmh=25.4),
    )
    down = walk(steepest=bit, steepest_ground=bit)
    said = cautions(plan(cautions=found, walk=down))
    expected = (
        "20 minutes of the walk in are before civil dawn",
        "0.7 km of the walk in lie in the mist",
        "goes down at 31°, 1.3 km from the start (54.40000, -24.05000); the steepest ground "
        "crossed is 38°",
        "Ground of 42° lies within about",
        "stands only 8 m above the mist",
        "passes only 0 m over ground",
        "the air is about 2 °C and feels like −4 °C in a wind of 25 km/h",
    )
    for sentence, words in zip(said, expected, strict=False):
        assert words in sentence
    assert "to the south-east" in said[3]
    standing = cautions(plan())
    assert said[len(expected) :] == standing
    assert len(standing) == 4
    bit.slope_deg = 31.4
    assert "goes up at 31°" in cautions(plan(cautions=found, walk=down))[2]
    wide = Cautions(clearance_m=2.6)
    assert "passes only 3 m over ground" in cautions(plan(cautions=wide))[0]
