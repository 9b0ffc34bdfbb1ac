"""From where on a walk and a wait are worth a warning: what is as much as that, and just less."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.ground.dem import Dem
from terrain.ground.places import Spot
from terrain.plan.cautions import Cautions, Cold, cautions_for
from tests.conftest import MakeDem


@pytest.fixture(scope="module")
def flat(make_dem: MakeDem) -> Dem:
    return make_dem(np.zeros((9, 9)))


def warned(flat: Dem, **parts: Any) -> Cautions:
    """Of a walk over easy ground by day to a spot far above the mist, but for what is given."""
    walk: Any = SimpleNamespace(
        spot=Spot(lon_deg=-24.0, lat_deg=54.4),
        dark_s=parts.get("dark_s", 0.0),
        steepest=SimpleNamespace(slope_deg=parts.get("way_deg", 5.0)),
        steepest_ground=SimpleNamespace(ground_deg=parts.get("ground_deg", 5.0)),
    )
    view: Any = SimpleNamespace(
        freeboard_m=parts.get("freeboard_m", 100.0),
        clearance_m=parts.get("clearance_m", 50.0),
        visible=parts.get("visible", True),
        spot=walk.spot,
    )
    scene: Any = SimpleNamespace(dem=flat, mist=None)
    return cautions_for(scene, view, walk, parts.get("cold"))


def test_nothing_to_warn_of(flat: Dem) -> None:
    assert warned(flat) == Cautions()


@pytest.mark.parametrize(
    ("steep", "parts"),
    [
        (False, {"way_deg": 19.9}),
        (True, {"way_deg": 20.0}),
        (True, {"way_deg": -20.0}),
        (False, {"ground_deg": 29.9}),
        (True, {"ground_deg": 30.0}),
    ],
)
def test_a_way_from_20_degrees_and_ground_from_30_is_steep(
    flat: Dem, steep: bool, parts: dict[str, float]
) -> None:
    assert warned(flat, **parts) == Cautions(steep=steep)


@pytest.mark.parametrize(
    ("name", "just", "still"),
    [
        ("dark_s", 60.0, 59.9),
        ("freeboard_m", 29.9, 30.0),
        ("clearance_m", 4.9, 5.0),
    ],
)
def test_what_is_told_by_its_figure(flat: Dem, name: str, just: float, still: float) -> None:
    assert warned(flat, **{name: just}) == Cautions(**{name: just})
    assert warned(flat, **{name: still}) == Cautions()


def test_a_hill_that_is_hidden_has_no_clearance_to_tell(flat: Dem) -> None:
    assert warned(flat, clearance_m=-3.0, visible=False) == Cautions()


def test_it_is_cold_below_5_degrees(flat: Dem) -> None:
    cold, cool = (Cold(temperature_c=6.0, feels_c=c, wind_kmh=9.0) for c in (4.9, 5.0))
    assert warned(flat, cold=cold) == Cautions(cold=cold)
    assert warned(flat, cold=cool) == Cautions()
